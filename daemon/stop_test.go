package daemon

import (
	"strings"
	"testing"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

func TestStopAndStart(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "STOP")
	c.wantAnswers("p-01", "you will get no more texts")
	c.wantAlerts("stopped the texts")
	c.mornings("p-01", "2026-10-06", "2026-10-07", "D") // nor answers
	c.wantStands("p-01", "2026-10-07", 1, 1, rules.OptedOut)
	if n := len(c.answers("p-01")); n != 1 {
		t.Fatalf("%d answers after STOP", n-1)
	}
	c.restart()
	c.morning("2026-10-08")
	c.wantDaily("p-01", "Mon Oct 5")
	c.reply("p-01", "START")
	c.wantAnswers("p-01", "you will get no more texts", "you will get our texts again")
	c.wantAlerts("stopped the texts", "wants the texts again")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5", "Fri Oct 9")
	c.wantStands("p-01", "2026-10-09", 2, 2, rules.Tick)
}

// A carrier that answers STOP itself is not joined.
func TestStopWhereTheCarrierConfirms(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reply("p-01", "Stop")
	c.wantAnswers("p-01")
	c.wantAlerts("stopped the texts")
	c.morning("2026-10-06")
	c.reply("p-01", "unstop")
	c.wantAnswers("p-01")
	c.morning("2026-10-07")
	c.wantDaily("p-01", "Mon Oct 5", "Wed Oct 7")
}

// A stop in words that the carrier does not know is confirmed from here, and so
// is the start that ends it, though the carrier knows that word.
func TestStopInOtherWordsWhereTheCarrierConfirms(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reply("p-01", "please opt out")
	c.wantAnswers("p-01", "you will get no more texts")
	c.reply("p-01", "START")
	c.wantAnswers("p-01", "you will get no more texts", "you will get our texts again")
}

// The opt-out belongs to the contact, whatever enrollment it has.
func TestStopOutlastsAnotherEnrollment(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reply("p-01", "STOP")
	c.enter("p-01", "discharge: 2026-10-05")
	again := onSMS("p-09", phone1)
	again.from = "2026-10-06"
	c.patients = append(c.patients, again)
	c.mustReload()
	c.restart()
	c.mornings("p-09", "2026-10-06", "2026-10-07", "")
	c.wantDaily("p-09", "Mon Oct 5") // the first enrollment's, on the same phone
	c.wantStands("p-09", "2026-10-07", 1, 1, rules.OptedOut)
	c.reply("p-09", "START")
	c.morning("2026-10-08")
	c.wantDaily("p-09", "Mon Oct 5", "Thu Oct 8")
	if n := len(c.events("p-01", journal.Intended)); n != 1 { // its first day
		t.Fatalf("%d messages about the discharged enrollment", n)
	}
}

// Nothing that waits goes out any more once STOP is committed, an answer no
// more than a message.
func TestStopTakesBackWhatWaits(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.next(busy, busy)
	c.morning("2026-10-05")
	c.at("2026-10-05 09:00")
	c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: "H"})
	c.send() // busy: the answer waits too
	c.take("sms", notify.Incoming{ID: "IN2", From: phone1, Text: "STOP"})
	c.at("2026-10-05 10:00")
	c.tick()
	if got := c.sent("p-01"); len(got) != 0 {
		t.Fatalf("after STOP: %q", got)
	}
	c.wantRow("p-01", "2026-10-05", journal.TakenBack)
}

// A danger word from somebody no message may or should go to still reaches
// the clinic, which is told whether an answer went out.
func TestADangerWordFromSomebodyWithoutMessages(t *testing.T) {
	for name, tt := range map[string]struct {
		before, entry string
		answered      bool
	}{
		"opted out":    {before: "STOP"},
		"paused":       {before: "P9", answered: true},
		"away":         {before: "A 5", answered: true},
		"discharged":   {entry: "discharge: 2026-10-05", answered: true},
		"wrong number": {before: "wrong number", answered: true},
	} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSMS("p-01", phone1))
			c.morning("2026-10-05")
			if tt.before != "" {
				c.reply("p-01", tt.before)
			}
			if tt.entry != "" {
				c.enter("p-01", tt.entry)
			}
			c.morning("2026-10-06")
			alerts, answers := len(c.alerts()), len(c.answers("p-01"))
			c.reply("p-01", "I am short of breath and have chest pain")
			var found string
			for _, a := range c.alerts() {
				if strings.Contains(a, "danger word") {
					found = a
				}
			}
			if found == "" || len(c.alerts()) == alerts {
				t.Fatalf("no alert of it: %q", c.alerts())
			}
			if muted := strings.Contains(found, "No answer could go out"); muted == tt.answered {
				t.Errorf("the alert says otherwise:\n%s", found)
			}
			got := c.answers("p-01")
			if tt.answered != (len(got) == answers+1) {
				t.Fatalf("answers: %q", got)
			}
			if tt.answered && !strings.Contains(got[len(got)-1], "Call 911 now") {
				t.Errorf("the answer:\n%s", got[len(got)-1])
			}
			c.morning("2026-10-07")
			c.wantDaily("p-01", "Mon Oct 5")
		})
	}
}
