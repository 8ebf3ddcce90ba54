package daemon

import (
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Each of these comes in after the day was decided and before its message was
// handed over. The message is taken back, and the date is decided again.

// decidedTwice is a story up to the decision of its second date.
func decidedTwice(t *testing.T, patients ...*enrolled) *clinic {
	t.Helper()
	c := newClinic(t, patients...)
	c.morning("2026-10-05")
	c.at("2026-10-06 09:00")
	c.decide()
	c.wantRow("p-01", "2026-10-06", journal.Pending)
	return c
}

// takenBack checks that the decided message went, and none of it arrived.
func (c *clinic) takenBack(why string) {
	c.t.Helper()
	c.send()
	c.wantDaily("p-01", "Mon Oct 5")
	c.wantRow("p-01", "2026-10-06", journal.TakenBack)
	events := c.events("p-01", journal.Withdrawn)
	if len(events) != 1 || events[0].Why != why {
		c.t.Fatalf("withdrawn: %+v, want once, because %q", events, why)
	}
	c.tick()
}

func TestAReportBeforeHandOverDecidesTheDateAgain(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.drop("box-p-01", "", "P5\n")
	c.s.Collect(t.Context())
	c.takenBack("something came in first")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.PainHeld)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	if n := len(c.decisions("p-01")); n != 3 {
		t.Fatalf("%d decisions, want the first date's and two of the second", n)
	}
}

func TestStopBeforeHandOver(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.drop("box-p-01", "", "STOP\n")
	c.s.Collect(t.Context())
	c.takenBack("opted out")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.OptedOut)
	c.wantDaily("p-01", "Mon Oct 5")
}

func TestAPauseBeforeHandOver(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.drop("box-p-01", "", "my foot is numb\n")
	c.s.Collect(t.Context())
	c.takenBack("something came in first")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.Paused)
	c.wantDaily("p-01", "Mon Oct 5")
}

func TestAHoldBeforeHandOver(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.enter("p-01", "hold: 2026-10-06")
	c.takenBack("something came in first")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.ClinicHeld)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
}

func TestADischargeBeforeHandOver(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.enter("p-01", "discharge: 2026-10-06")
	c.takenBack("something came in first")
	c.wantDaily("p-01", "Mon Oct 5")
	c.mornings("p-01", "2026-10-07", "2026-10-09", "")
	c.wantDaily("p-01", "Mon Oct 5")
	if p := c.person("p-01"); !p.Due.IsZero() || p.State.Decided != c.date("2026-10-05") {
		t.Fatalf("still due %s, decided %s", p.Due, p.State.Decided)
	}
}

func TestAChangedContactBeforeHandOver(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.patient("p-01").to = "other-box"
	c.mustReload()
	c.send()
	c.tick()
	if got := len(c.texts("spool", "box-p-01")); got != 1 {
		t.Fatalf("%d messages at the old contact, want that of the first date", got)
	}
	c.wantDaily("p-01", "Tue Oct 6")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
}

func TestAPatientTakenOutBeforeHandOver(t *testing.T) {
	gone := onSpool("p-01")
	c := decidedTwice(t, gone, onSpool("p-02"))
	c.patients = c.patients[1:]
	c.mustReload()
	c.takenBackWhileGone(gone)

	// Put back the same day: the date is decided after all.
	c.patients = append(c.patients, gone)
	c.mustReload()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
}

func (c *clinic) takenBackWhileGone(gone *enrolled) {
	c.t.Helper()
	c.send()
	c.tick()
	if got := c.texts(gone.channel, gone.to); len(got) != 1 {
		c.t.Fatalf("a patient gone from the files got %q", got)
	}
	c.wantRow(gone.id, "2026-10-06", journal.TakenBack)
}

// The sender may be slow: gone and back again while the message still waits.
func TestAPatientTakenOutAndPutBackWhileTheMessageWaits(t *testing.T) {
	gone := onSpool("p-01")
	c := decidedTwice(t, gone, onSpool("p-02"))
	c.patients = c.patients[1:]
	c.mustReload()
	c.patients = append(c.patients, gone)
	c.mustReload()
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.morning("2026-10-07")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Wed Oct 7")
}

// A message that waits for its sender while the clock goes on is never handed
// over late: its hours end, and the date counts as not sent.
func TestAMessageNobodySentExpires(t *testing.T) {
	c := decidedTwice(t, onSpool("p-01"))
	c.at("2026-10-06 21:00")
	c.send()
	c.wantRow("p-01", "2026-10-06", journal.Expired)
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.NotSent)
	c.wantDaily("p-01", "Mon Oct 5", "Wed Oct 7")
}
