package daemon

import (
	"strings"
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// phoneIn writes a report taken by phone into the files and has them read.
func (c *clinic) phoneIn(id, entry string) {
	c.t.Helper()
	p := c.patient(id)
	p.entries = append(p.entries, entry)
	c.mustReload()
}

// TestReportByPhoneHolds: a phoned score holds as a text would, is answered by
// nobody, and stands in the journal as a report with who took it.
func TestReportByPhoneHolds(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "D P1")
	c.morning("2026-10-07")
	c.phoneIn("p-01", "report: 2026-10-07, said: P5 D")
	c.mustReload() // read again it counts no second time
	c.send()
	c.morning("2026-10-08")
	c.wantStands("p-01", "2026-10-08", 3, 3, rules.PainHeld)
	if why := c.last("p-01").Why; why.Score == nil || *why.Score != 5 {
		t.Errorf("why: %+v", why)
	}
	c.phoneIn("p-01", "report: 2026-10-08, said: P2")
	c.morning("2026-10-09")
	c.phoneIn("p-01", "report: 2026-10-09, said: P1 D")
	c.morning("2026-10-10")
	c.wantStands("p-01", "2026-10-10", 4, 4, rules.Tick)
	c.wantAnswers("p-01", "1 noted", "1 noted")
	c.wantAlerts()
	heard := 0
	c.view(func(tx *journal.Tx) error {
		return tx.Events("p-01", func(e journal.Event) error {
			if e.In != nil && e.In.Channel == phoneChannel {
				if heard++; e.Entry == nil || e.Entry.By != "J. Marlowe DPM" || !e.In.Reading.Report() || e.In.Day == 0 {
					t.Errorf("heard by phone: %+v, entry %+v", e.In, e.Entry)
				}
			}
			return nil
		})
	})
	if heard != 3 {
		t.Errorf("heard %d reports by phone, want 3", heard)
	}
}

// TestDangerWordByPhonePauses: it pauses and alerts at once, and acknowledges
// no alert; the words reach the clinician.
func TestDangerWordByPhonePauses(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.phoneIn("p-01", "report: 2026-10-05, said: chest pain since noon")
	c.send()
	alerts := c.alerts()
	if len(alerts) != 1 || !strings.Contains(alerts[0], "chest pain since noon") || !strings.Contains(alerts[0], "Taken by phone by J. Marlowe DPM.") {
		t.Fatalf("alerts: %q", alerts)
	}
	c.phoneIn("p-01", "report: 2026-10-05, said: P2")
	c.view(func(tx *journal.Tx) error {
		open := 0
		err := tx.OpenAlerts(func(*journal.AlertRow) error { open++; return nil })
		if open != 1 {
			t.Errorf("%d alerts are open, want the one nobody has looked at", open)
		}
		return err
	})
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.Paused)
	c.wantDaily("p-01", "Mon Oct 5")
	c.wantAnswers("p-01")
}

// TestStopByPhone: it ends the messages, and only the patient's own START
// begins them again, which is answered from here.
func TestStopByPhone(t *testing.T) {
	c := newClinic(t, onSMS("p-01", "+12125550120"))
	c.morning("2026-10-05")
	c.phoneIn("p-01", "report: 2026-10-05, said: STOP")
	c.morning("2026-10-06")
	c.phoneIn("p-01", "report: 2026-10-06, said: START")
	c.morning("2026-10-07")
	c.wantDaily("p-01", "Mon Oct 5")
	c.reply("p-01", "START")
	c.morning("2026-10-08")
	c.wantDaily("p-01", "Mon Oct 5", "Thu Oct 8")
	if got := c.answers("p-01"); len(got) != 1 {
		t.Errorf("answers: %q, want one to START", got)
	}
}

// TestReportByPhoneBeforeTheMessage: one that is written before the message
// went out withdraws it, and the date is decided again.
func TestReportByPhoneBeforeTheMessage(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "D P1")
	c.at("2026-10-07 09:00")
	c.decide()
	c.phoneIn("p-01", "report: 2026-10-07, said: P5")
	c.send()
	c.tick()
	c.send()
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.PainHeld)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Wed Oct 7")
}

// TestImpactReadsAReport: an edited copy with a report by phone shows what it
// does to the next message.
func TestImpactReadsAReport(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "D P1")
	was := c.s.Clinic()
	p := c.patient("p-01")
	p.entries = append(p.entries, "report: 2026-10-06, said: severe chest pain")
	c.write()
	edited, problems := c.load()
	if edited == nil {
		t.Fatal(problems)
	}
	c.view(func(tx *journal.Tx) error {
		changes, err := impact(tx, was, edited, c.s.o.Words, c.clock.Now())
		if err == nil && (len(changes) != 1 || changes[0].Before == "" || changes[0].After != "") {
			t.Errorf("changes: %+v", changes)
		}
		return err
	})
}
