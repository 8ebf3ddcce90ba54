package daemon

import (
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/notify"
	"stepgate/notify/carriertest"
)

func TestTrialAddress(t *testing.T) {
	for given, want := range map[string]config.Address{
		"you@example.com":                       {Channel: "email", To: "you@example.com"},
		"you+test@example.com":                  {Channel: "email", To: "you+test@example.com"},
		"+1 (503) 555-0199":                     {Channel: "sms", To: "+15035550199"},
		"+1.503.555.0199":                       {Channel: "sms", To: "+15035550199"},
		"503 555 0199":                          {},
		"+1 503 555 CALL":                       {},
		"You <you@example.com>":                 {},
		"you@":                                  {},
		"you@example.com\r\nBcc: x@example.com": {},
		"rosa":                                  {},
	} {
		got, err := TrialAddress(given)
		if got != want || (err == nil) != (want.To != "") {
			t.Errorf("%q: %+v, %v", given, got, err)
		}
	}
}

// tried runs a trial and gives what it told.
func tried(t *testing.T, c *config.Clinic, to config.Address) (bool, []notify.TrialStep) {
	t.Helper()
	var steps []notify.TrialStep
	ok := Trial{To: to, Wait: time.Minute, Tell: func(s notify.TrialStep) { steps = append(steps, s) }}.Run(t.Context(), c)
	return ok, steps
}

// What the files alone forbid is one step, and nothing is sent: the servers
// named here do not exist.
func TestTrialRefused(t *testing.T) {
	sms := &config.SMS{Account: "AC1", Token: config.NewSecret("t1"), API: "http://127.0.0.1:1", Numbers: []config.SMSNumber{{Number: "+15035550100"}}}
	email := &config.Email{Host: "mail.invalid", From: "plans@example.org"}
	rosa := &config.Enrollment{Address: config.Address{Channel: "sms", To: "+15035550120"}, Fallback: config.Address{Channel: "email", To: "rosa@example.com"}}
	rosa.ID = "p-01"
	roll := config.NewRoll([]*config.Enrollment{rosa})
	for name, c := range map[string]struct {
		clinic config.Clinic
		to     config.Address
		words  string
	}{
		"no sms":            {config.Clinic{Email: email}, config.Address{Channel: "sms", To: "+15035550199"}, "no sms: block"},
		"no email":          {config.Clinic{SMS: sms}, config.Address{Channel: "email", To: "you@example.com"}, "no email: block"},
		"patient":           {config.Clinic{SMS: sms, Enrollments: roll}, rosa.Address, "enrollment p-01"},
		"patient's address": {config.Clinic{Email: email, Enrollments: roll}, config.Address{Channel: "email", To: "Rosa@Example.com"}, "not to a patient"},
		"settings": {config.Clinic{Email: &config.Email{Host: "mail.invalid", From: "plans"}}, config.Address{Channel: "email", To: "you@example.com"},
			"The settings under email: can't be used"},
	} {
		ok, steps := tried(t, &c.clinic, c.to)
		if ok || len(steps) != 1 || steps[0].Name != "settings" || steps[0].OK || !strings.Contains(steps[0].Words, c.words) {
			t.Errorf("%s: %v %+v", name, ok, steps)
		}
	}
}

// The text says what it is, is not kept for long, and no news of it is posted
// to a service that does not know it.
func TestTrialText(t *testing.T) {
	carrier := carriertest.New("AC1", "t1")
	t.Cleanup(carrier.Close)
	carrier.SetDelivery(carriertest.Delivery{Status: "delivered"})
	c := &config.Clinic{Name: "Harbor \u201cFoot\u201d Clinic", SMS: &config.SMS{Account: "AC1", Token: config.NewSecret("t1"), API: carrier.URL(),
		Public: "https://texts.example.org/in", Numbers: []config.SMSNumber{{Number: "+15035550100"}, {Number: "+15035550101"}}}}
	ok, steps := tried(t, c, config.Address{Channel: "sms", To: "+15035550199"})
	if !ok || len(steps) != 3 || steps[2].Name != "sms.delivery" {
		t.Fatalf("%v %+v", ok, steps)
	}
	all := carrier.Messages()
	if len(all) != 1 {
		t.Fatalf("%d texts", len(all))
	}
	m := all[0]
	if want := `This is a test from Harbor "Foot" Clinic, to see that texts arrive. It holds no patient data and needs no answer.`; m.Body != want || m.From != "+15035550100" {
		t.Errorf("%q from %s", m.Body, m.From)
	}
	if m.Form.Has("StatusCallback") || m.Form.Get("ValidityPeriod") != "119" && m.Form.Get("ValidityPeriod") != "120" {
		t.Errorf("form %v", m.Form)
	}
}
