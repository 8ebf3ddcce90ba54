package daemon

import (
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

const phone1 = "+12125550111"

func TestARejectedMessageMakesTheNextDayWait(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.sms.next(refuses)
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.wantRow("p-01", "2026-10-06", journal.Rejected)
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")

	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.NotSent)
	c.wantDaily("p-01", "Mon Oct 5", "Wed Oct 7")
	c.reply("p-01", "D")
	c.morning("2026-10-08")
	c.wantStands("p-01", "2026-10-08", 3, 3, rules.Tick)
}

// The first text says who writes and how to stop; until one was taken, the
// next is still the first.
func TestTheFirstTextStaysTheFirstUntilOneArrives(t *testing.T) {
	first := func(c *clinic) bool {
		all := c.sent("p-01")
		return len(all) == 1 && strings.Contains(all[0], "This is Harbor Foot Clinic") && strings.Contains(all[0], "STOP")
	}
	t.Run("rejected", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.sms.next(refuses)
		c.morning("2026-10-05")
		c.morning("2026-10-06")
		if !first(c) {
			t.Fatalf("%q", c.sent("p-01"))
		}
	})
	t.Run("tried all day", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.sms.next(busy, busy, busy)
		c.morning("2026-10-05")
		c.at("2026-10-05 12:00")
		c.tick()
		c.at("2026-10-05 20:59")
		c.tick()
		c.morning("2026-10-06")
		if !first(c) {
			t.Fatalf("%q", c.sent("p-01"))
		}
	})
	t.Run("lost with the process", func(t *testing.T) {
		c := newClinic(t, onSpool("p-01"))
		c.diesIn("spool", false)
		c.morningOfDeath("2026-10-05")
		c.at("2026-10-06 08:00")
		c.start()
		c.morning("2026-10-06")
		if !first(c) {
			t.Fatalf("%q", c.sent("p-01"))
		}
	})
}

func TestABusyCarrierIsTriedAgainTheSameDay(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.next(busy, busy)
	c.morning("2026-10-05")
	c.wantDaily("p-01")
	c.wantRow("p-01", "2026-10-05", journal.Pending)
	c.tick()
	if c.sms.tries != 1 {
		t.Fatalf("tried %d times in one minute", c.sms.tries)
	}
	c.ticks("2026-10-05 10:00", time.Minute)
	c.wantDaily("p-01", "Mon Oct 5")
	if c.sms.tries != 3 {
		t.Fatalf("tried %d times, want 3", c.sms.tries)
	}
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.wantAlerts()
}

func TestACarrierBusyPastTheHoursIsGivenUp(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	late := busy
	late.res.After = 3 * time.Hour // as the carrier asks for
	c.sms.next(late, late, late, late)
	c.at("2026-10-06 09:00")
	c.ticks("2026-10-07 08:59", 10*time.Minute)
	c.wantRow("p-01", "2026-10-06", journal.Rejected)
	if c.sms.tries != 5 { // one on the 5th, then 9, 12, 15 and 18 o'clock
		t.Fatalf("tried %d times", c.sms.tries)
	}
	c.tick()
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.NotSent)
	c.wantDaily("p-01", "Mon Oct 5", "Wed Oct 7")
}

// Down while a second try is due, and back after hours.
func TestASecondTryNeverLeavesItsDay(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.next(busy)
	c.morning("2026-10-05")
	c.at("2026-10-06 08:30")
	c.tick()
	c.wantRow("p-01", "2026-10-05", journal.Expired)
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.NotSent)
	c.wantDaily("p-01", "Tue Oct 6")
}

// What comes in between two tries counts against the message of the day.
func TestWhatComesInBetweenTwoTries(t *testing.T) {
	for name, in := range map[string]struct {
		reply, entry string
		out          bool // the message goes out all the same
	}{
		"a low score":     {reply: "P1", out: true},
		"pain":            {reply: "P5"},
		"a step back":     {reply: "P7"},
		"a pause":         {reply: "P9"},
		"a danger word":   {reply: "I can't feel my toes, foot is numb"},
		"a blister":       {reply: "B"},
		"stop":            {reply: "STOP"},
		"away":            {reply: "A 3", out: true}, // away begins tomorrow
		"a hold":          {entry: "hold: 2026-10-05"},
		"a discharge":     {entry: "discharge: 2026-10-05"},
		"wrong number":    {reply: "wrong number"},
		"a cap":           {entry: "cap: 1, on: 2026-10-05", out: true}, // the step it is at
		"a question":      {reply: "H", out: true},
		"nothing at all ": {out: true},
	} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSMS("p-01", phone1))
			c.sms.next(busy)
			c.morning("2026-10-05")
			c.at("2026-10-05 09:01")
			if in.reply != "" {
				c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: in.reply})
			}
			if in.entry != "" {
				c.enter("p-01", in.entry)
			}
			c.ticks("2026-10-05 12:00", 10*time.Minute)
			if got := len(c.daily("p-01")) == 1; got != in.out {
				t.Fatalf("sent %t, want %t: %q", got, in.out, c.sent("p-01"))
			}
		})
	}
}

func TestACapBetweenTwoTries(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.mornings("p-01", "2026-10-05", "2026-10-11", "D P1")
	c.sms.next(busy)
	c.morning("2026-10-12") // the first day of step 2
	c.enter("p-01", "cap: 1, on: 2026-10-12")
	c.ticks("2026-10-12 12:00", 10*time.Minute)
	c.wantStands("p-01", "2026-10-12", 8, 8, rules.Tick)
	if days := c.daily("p-01"); days[len(days)-1] != "Sun Oct 11" {
		t.Fatalf("sent %q", days)
	}
	c.morning("2026-10-13")
	c.wantStands("p-01", "2026-10-13", 7, 8, rules.NotSent)
}

func TestAnUnknownOutcomeIsNeverSentAgain(t *testing.T) {
	for name, answer := range map[string]says{"arrived": cutAfter, "did not": cutOff} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSMS("p-01", phone1))
			c.morning("2026-10-05")
			c.sms.settle = func(notify.Message) notify.Result {
				return notify.Result{Status: notify.Unknown, Code: "listing"}
			}
			c.sms.next(answer)
			c.morning("2026-10-06")
			c.ticks("2026-10-06 20:00", 30*time.Minute)
			c.restart()
			c.tick()
			c.wantAlerts() // it is still looked for
			c.ticks("2026-10-06 21:05", time.Minute)
			if c.sms.tries != 2 {
				t.Fatalf("tried %d times, want once a day", c.sms.tries)
			}
			c.wantRow("p-01", "2026-10-06", journal.Unknown)
			c.wantAlerts("a message may not have gone out")
			c.morning("2026-10-07")
			c.wantStands("p-01", "2026-10-07", 2, 2, rules.NotSent)
		})
	}
}

// What the carrier's own list shows is adopted.
func TestAnUnknownOutcomeThatIsFoundWasSent(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.next(cutAfter)
	c.morning("2026-10-05")
	c.wantRow("p-01", "2026-10-05", journal.Sent)
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.wantAlerts()
}

func TestABadContactIsSuspendedUntilConfirmed(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.sms.next(noSuch)
	c.morning("2026-10-06")
	c.wantAlerts("cannot be reached")
	if !strings.Contains(c.alerts()[0], "confirm contact: 2026-10-06") {
		t.Fatalf("the alert does not say what to write:\n%s", c.alerts()[0])
	}
	c.mornings("p-01", "2026-10-07", "2026-10-08", "")
	c.wantStands("p-01", "2026-10-08", 2, 2, rules.Suspended)
	if c.sms.tries != 2 {
		t.Fatalf("tried %d times", c.sms.tries)
	}
	c.enter("p-01", "confirm contact: 2026-10-08")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5", "Fri Oct 9")
	c.wantAlerts("cannot be reached")
}

func TestTheCarrierSaysOptedOut(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.next(optedOff)
	c.morning("2026-10-05")
	c.wantAlerts("stopped the texts")
	c.mornings("p-01", "2026-10-06", "2026-10-08", "")
	c.wantStands("p-01", "2026-10-08", 1, 1, rules.OptedOut)
	c.wantDaily("p-01")
	c.reply("p-01", "START")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Fri Oct 9")
}

func TestAMessageForAChannelThatIsGoneIsNotSent(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	delete(c.channels, "sms")
	c.at("2026-10-05 09:10")
	c.tick()
	c.wantRow("p-01", "2026-10-05", journal.Expired)
	c.morning("2026-10-06")
	c.at("2026-10-06 09:10")
	c.tick()
	if d := c.last("p-01"); d.P != 1 || d.Date != c.date("2026-10-06") {
		t.Fatalf("went on to P %d on %s", d.P, d.Date)
	}
}
