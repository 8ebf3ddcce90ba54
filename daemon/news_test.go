package daemon

import (
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// reports has the carrier say what became of a patient's message of a date.
func (c *clinic) reports(id, date string, n notify.News) {
	c.t.Helper()
	n.ID = c.row(dailyKey(id, c.date(date))).CarrierID
	if err := c.s.Tell("sms")(c.t.Context(), n); err != nil {
		c.t.Fatal(err)
	}
}

var (
	arrived = notify.News{Delivered: true}
	missed  = notify.News{Code: "30003"}
	noPhone = notify.News{Code: "30006", BadContact: true}
)

func withMail(p *enrolled, address string) *enrolled {
	p.more = "    email: " + address + "\n"
	return p
}

// A dose that surely did not reach the phone counts as one the carrier never
// took, if it is today's.
func TestAnUndeliveredDoseMakesTheNextDayWait(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reports("p-01", "2026-10-05", arrived)
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.reports("p-01", "2026-10-06", missed)
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.NotSent)
	c.reports("p-01", "2026-10-06", missed) // late, and again
	c.reports("p-01", "2026-10-07", arrived)
	c.morning("2026-10-08")
	c.wantStands("p-01", "2026-10-08", 3, 2, rules.Tick)
	if n := len(c.events("p-01", journal.Delivery)); n != 3 {
		t.Errorf("%d pieces of news were kept, want 3", n)
	}
	c.wantAlerts()
}

// After two dates without a delivered text messages go by mail, and the clinic
// is told once. Answers by text still count.
func TestUndeliveredTextsGoByMail(t *testing.T) {
	c := newClinic(t, withMail(onSMS("p-01", phone1), "rosa@example.com"))
	for _, d := range []string{"2026-10-05", "2026-10-06"} {
		c.morning(d)
		c.reports("p-01", d, missed)
	}
	c.tick()
	c.wantAlerts("by mail")
	c.morning("2026-10-07")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	if got := c.texts("email", "rosa@example.com"); len(got) != 1 || !strings.Contains(got[0], "Wed Oct 7") {
		t.Fatalf("mails %q", got)
	}
	c.reply("p-01", "P5")
	c.morning("2026-10-08")
	if d := c.last("p-01"); d.State != rules.InHeld {
		t.Fatalf("an answer by text does not count: %s", d.State)
	}
	c.reports("p-01", "2026-10-06", missed)
	c.wantAlerts("by mail")
	c.enter("p-01", "confirm contact: 2026-10-08")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Fri Oct 9")
}

// There is no way around a STOP.
func TestStopIsNotGoneAroundByMail(t *testing.T) {
	c := newClinic(t, withMail(onSMS("p-01", phone1), "rosa@example.com"))
	for _, d := range []string{"2026-10-05", "2026-10-06"} {
		c.morning(d)
		c.reports("p-01", d, missed)
	}
	c.reply("p-01", "STOP")
	c.mornings("p-01", "2026-10-07", "2026-10-09", "")
	if got := c.texts("email", "rosa@example.com"); len(got) != 0 {
		t.Fatalf("mails after STOP: %q", got)
	}
	c.replyFrom("email", "rosa@example.com", "START")
	c.morning("2026-10-10")
	if got := c.texts("email", "rosa@example.com"); len(got) == 0 || !strings.Contains(got[len(got)-1], "Sat Oct 10") {
		t.Fatalf("mails after START: %q", got)
	}
}

// Without another way the clinic is told, once, and texts go on: the phone may
// be off.
func TestUndeliveredTextsWithoutMail(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	for _, d := range []string{"2026-10-05", "2026-10-06", "2026-10-07", "2026-10-08"} {
		c.morning(d)
		c.reports("p-01", d, missed)
	}
	c.tick()
	c.wantAlerts("30003")
	if n := len(c.daily("p-01")); n != 4 {
		t.Errorf("%d texts went out", n)
	}
}

// One date that arrived ends the count.
func TestADeliveredTextEndsTheCount(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.reports("p-01", "2026-10-05", missed)
	c.morning("2026-10-06")
	c.reports("p-01", "2026-10-06", arrived)
	c.morning("2026-10-07")
	c.reports("p-01", "2026-10-07", missed)
	c.tick()
	c.wantAlerts()
}

// News may say more than that a text was lost: the number is none, the person
// said STOP to the carrier, our own number is in trouble.
func TestWhatNewsMaySay(t *testing.T) {
	t.Run("no phone", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.morning("2026-10-05")
		c.reports("p-01", "2026-10-05", noPhone)
		c.tick()
		c.wantAlerts("cannot be reached")
		c.morning("2026-10-06")
		c.wantStands("p-01", "2026-10-06", 1, 1, rules.Suspended)
	})
	t.Run("no phone but mail", func(t *testing.T) {
		c := newClinic(t, withMail(onSMS("p-01", phone1), "rosa@example.com"))
		c.morning("2026-10-05")
		c.reports("p-01", "2026-10-05", noPhone)
		c.morning("2026-10-06")
		c.wantAlerts("by mail")
		if got := c.texts("email", "rosa@example.com"); len(got) != 1 {
			t.Fatalf("mails %q", got)
		}
	})
	t.Run("opted out", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.morning("2026-10-05")
		c.reports("p-01", "2026-10-05", notify.News{Code: "21610", OptedOut: true})
		c.morning("2026-10-06")
		c.wantAlerts("stopped the texts")
		c.wantDaily("p-01", "Mon Oct 5")
	})
	t.Run("trouble", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		c.morning("2026-10-05")
		c.reports("p-01", "2026-10-05", notify.News{Code: "30034", Trouble: true})
		c.tick()
		c.wantAlerts("30034")
		if c.logged("sender.stopped") != 1 {
			t.Error("the lane is open")
		}
	})
	t.Run("not ours", func(t *testing.T) {
		c := newClinic(t, onSMS("p-01", phone1))
		if err := c.s.Tell("sms")(t.Context(), notify.News{ID: "SM1"}); err != nil {
			t.Fatal(err)
		}
	})
}

// The carrier is asked about what it said nothing of, and no longer than three
// days.
func TestTheCarrierIsAskedForNews(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.lookUp()
	if c.sms.asked != 0 {
		t.Fatal("asked with nothing on the way")
	}
	c.morning("2026-10-05")
	c.sms.reports = []notify.News{{ID: c.row(dailyKey("p-01", c.date("2026-10-05"))).CarrierID, Delivered: true}}
	c.ticks("2026-10-05 09:30", time.Minute)
	if c.sms.asked != 1 {
		t.Fatalf("asked %d times", c.sms.asked)
	}
	c.wantNews("p-01", "2026-10-05", journal.Delivered)
	c.sms.reports = nil
	c.mornings("p-01", "2026-10-06", "2026-10-09", "")
	c.ticks("2026-10-09 09:30", time.Minute)
	c.wantNews("p-01", "2026-10-06", journal.NoNews)
	c.wantNews("p-01", "2026-10-09", "")
	c.wantAlerts("no answer to 3 messages")
}

func (c *clinic) wantNews(id, date, want string) {
	c.t.Helper()
	if got := c.row(dailyKey(id, c.date(date))).News; got != want {
		c.t.Fatalf("news of %s: %q, want %q", date, got, want)
	}
}
