package notify

import (
	"context"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

func TestSMSTrial(t *testing.T) {
	for _, c := range []struct {
		name     string
		delivery carriertest.Delivery
		wait     time.Duration
		last     string // the last step
		words    []string
	}{
		{"delivered", carriertest.Delivery{Status: "delivered"}, time.Minute, "delivery", []string{"delivered"}},
		{"undelivered", carriertest.Delivery{Status: "undelivered", Code: 30034}, time.Minute, "delivery!",
			[]string{"It was not delivered. Carrier code 30034: the number is not registered", "Register the number"}},
		{"failed", carriertest.Delivery{Status: "failed", Code: 30006}, time.Minute, "delivery!",
			[]string{"a landline", "Look at the number you gave."}},
		{"no code", carriertest.Delivery{Status: "failed"}, time.Minute, "delivery!", []string{"gives no code"}},
		{"stays queued", carriertest.Delivery{}, 30 * time.Millisecond, "delivery", []string{"waiting at the carrier (queued) after 30ms", "look at the phone"}},
		{"no wait", carriertest.Delivery{}, 0, "delivery", []string{"waiting at the carrier (queued) after 0s"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			carrier := newCarrier(t)
			carrier.SetNumbers(testFrom)
			carrier.SetDelivery(c.delivery)
			s := &steps{}
			ok := newTestSMS(t, carrier.URL()).Trial(t.Context(), textMessage(), c.wait, s.tell)
			s.want(t, "sms", "account text "+c.last, c.words...)
			if ok == strings.HasSuffix(c.last, "!") {
				t.Errorf("%v, %s", ok, s.words())
			}
			all := carrier.Messages()
			if len(all) != 1 || all[0].To != testTo || s.got[1].Words != "taken, as "+all[0].SID {
				t.Errorf("%+v; %s", all, s.words())
			}
			if strings.Contains(s.words(), testToken) {
				t.Error("the token is told")
			}
		})
	}
}

// One that the next network took is not confirmed, and is no failure.
func TestSMSTrialSent(t *testing.T) {
	carrier := newCarrier(t)
	carrier.SetStatus("sent")
	s := &steps{}
	if !newTestSMS(t, carrier.URL()).Trial(t.Context(), textMessage(), 0, s.tell) {
		t.Error("it failed")
	}
	s.want(t, "sms", "account text delivery", "sent to the phone's network, not confirmed")
}

func TestSMSTrialFails(t *testing.T) {
	refuse := carriertest.Refuse
	for _, c := range []struct {
		name  string
		setup func(*carriertest.Server)
		steps string
		words []string
	}{
		{"token", func(s *carriertest.Server) { s.FailList(refuse(401, 20003)) }, "account!", []string{"the account or its token is wrong", "token: under sms:"}},
		{"no code", func(s *carriertest.Server) { s.FailList(carriertest.HTML(404, 100)) }, "account!", []string{"does not let us in (http-404)"}},
		{"carrier down", func(s *carriertest.Server) { s.FailList(carriertest.HTML(503, 100)) }, "account!", []string{"http-503. Try again in a few minutes."}},
		{"carrier gone", func(s *carriertest.Server) { s.FailList(carriertest.Cut()) }, "account!", []string{"the connection was lost. Try again"}},
		{"not ours", func(s *carriertest.Server) { s.SetNumbers("+12025550199") }, "account text!", []string{"the clinic's number can't send texts", "Look at from:"}},
		{"opted out", func(s *carriertest.Server) { s.OptOut(testTo) }, "account text!", []string{"the person sent STOP", "Text START"}},
		{"country", func(s *carriertest.Server) { s.Fail(refuse(400, 21408)) }, "account text!", []string{"Switch the country on"}},
		{"landline", func(s *carriertest.Server) { s.Fail(refuse(400, 21614)) }, "account text!", []string{"no mobile number", "Look at the number"}},
		{"cut", func(s *carriertest.Server) { s.Fail(carriertest.Cut()) }, "account text!", []string{"look at the phone before you try again"}},
		{"unlisted", func(s *carriertest.Server) { s.Fail(refuse(400, 29999)) }, "account text!", []string{"Carrier code 29999.", "Nobody can tell"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			carrier := newCarrier(t)
			c.setup(carrier)
			s := &steps{}
			if newTestSMS(t, carrier.URL()).Trial(t.Context(), textMessage(), 0, s.tell) {
				t.Error("it went well")
			}
			s.want(t, "sms", c.steps, c.words...)
			if n := carrier.Posts(); n > 1 {
				t.Errorf("sent %d times", n)
			}
		})
	}
	s := &steps{}
	sms := newTestSMS(t, "http://127.0.0.1:"+strconv.Itoa(closedPort(t)))
	sms.Trial(t.Context(), textMessage(), 0, s.tell)
	s.want(t, "sms", "account!", "The carrier cannot be reached: no connection.", "Look at this machine's connection")

	carrier := newCarrier(t)
	ctx, cancel := context.WithCancel(t.Context())
	carrier.OnAccept(func(carriertest.Message) { cancel() })
	carrier.Fail(carriertest.Hang().Accepted())
	s = &steps{}
	newTestSMS(t, carrier.URL()).Trial(ctx, textMessage(), 0, s.tell)
	s.want(t, "sms", "account text!", "Stopped while the text was handed over")

	s = &steps{}
	sms.Trial(ctx, textMessage(), 0, s.tell)
	s.want(t, "sms", "account!", "Stopped")
}

// Every code of the carrier's has a remedy.
func TestSMSTrialRemedies(t *testing.T) {
	for code, m := range carrierCodes {
		if smsRemedies[code] == "" && classRemedies[m.class] == "" {
			t.Errorf("%d: nothing to do", code)
		}
	}
	for code := range smsRemedies {
		if carrierCodes[code].words == "" {
			t.Errorf("a remedy for %d, which nobody knows", code)
		}
	}
}
