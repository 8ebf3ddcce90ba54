package daemon

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// byMail has the alerts go by mail.
func byMail(t *testing.T, patients ...*enrolled) *clinic {
	t.Helper()
	set := &SetClock{}
	c := bareClinic(t, set, patients...)
	c.set = set
	c.settings = strings.Replace(c.settings, "alerts: {spool: clinician-box}", "alerts: {email: clinician@example.com}", 1)
	c.at("2026-10-05 07:00")
	c.open()
	return c
}

func (c *clinic) mails() []string {
	c.t.Helper()
	return c.texts("email", "clinician@example.com")
}

func TestAlertsOutlastADeadMailServer(t *testing.T) {
	c := byMail(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.email.next(slices.Repeat([]says{busy}, 30)...)
	c.reply("p-01", "P9")
	c.ticks("2026-10-05 12:00", time.Minute)
	if len(c.mails()) != 0 {
		t.Fatal("the server was not down")
	}
	if n := c.email.tries; n < 5 || n > 20 { // a minute, doubled up to sixteen
		t.Fatalf("tried %d times in three hours", n)
	}
	c.restart()
	c.ticks("2026-10-07 12:00", 10*time.Minute) // at night too
	got := c.mails()
	if len(got) != 2 || !strings.Contains(got[0], "pain 9 of 10") || !strings.Contains(got[1], "nobody has answered it") {
		t.Fatalf("mails: %q", got)
	}
}

// An alert that may have been lost is sent again: told twice is better than
// not told.
func TestAnAlertThatMayBeLostIsSentAgain(t *testing.T) {
	c := byMail(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.email.next(cutOff, cutOff)
	c.reply("p-01", "P9")
	c.ticks("2026-10-05 10:00", time.Minute)
	if got := c.mails(); len(got) != 1 {
		t.Fatalf("%d mails", len(got))
	}
}

func TestOneAlertACause(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-07", "") // three unanswered messages
	c.morning("2026-10-08")
	c.wantAlerts("no answer to 3 messages")
	c.tick()
	c.restart()
	c.tick()
	c.mornings("p-01", "2026-10-09", "2026-10-12", "")
	c.wantAlerts("no answer to 3 messages")
	c.reply("p-01", "D P1") // and a new silence is a new cause
	c.mornings("p-01", "2026-10-13", "2026-10-17", "")
	c.wantAlerts("no answer to 3 messages", "no answer to 3 messages")
}

// A date that is decided twice tells what it has to tell once.
func TestADateDecidedTwiceAlertsOnce(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-07", "")
	c.at("2026-10-08 09:00")
	c.decide()
	c.enter("p-01", "hold: 2026-10-08") // takes the message back
	c.tick()
	c.tick()
	if n := len(c.decisions("p-01")); n != 5 {
		t.Fatalf("%d decisions", n)
	}
	c.wantAlerts("no answer to 3 messages")
}

func TestAHoldOfSevenDaysIsTold(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-14", "P4")
	c.wantAlerts("held for 7 days")
}

func TestEveryCallForHelpIsTold(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "C")
	c.at("2026-10-05 10:00")
	c.reply("p-01", "please call me")
	c.wantAlerts("asks for a call", "asks for a call")
}

// Anybody may see a text on a phone: it names the patient by id alone.
func TestAnAlertByTextSaysLittle(t *testing.T) {
	set := &SetClock{}
	c := bareClinic(t, set, onSpool("p-01"))
	c.set = set
	c.settings = strings.Replace(c.settings, "alerts: {spool: clinician-box}", `alerts: {sms: "+12125550177"}`, 1)
	c.at("2026-10-05 07:00")
	c.open()
	c.morning("2026-10-05")
	c.reply("p-01", "P9 Quillon here, my heel is killing me")
	got := c.texts("sms", "+12125550177")
	if len(got) != 1 || got[0] != "Stepgate, Oct 5: p-01 pause. Look at the caseload." {
		t.Fatalf("texts: %q", got)
	}
}
