package daemon

import (
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// A release that was written ahead, as the end of a hold, answers for nothing
// that came after: the alert of a danger sign stays open.
func TestAReleaseWrittenAheadAnswersNoAlert(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-05", "D1")
	c.enter("p-01", "hold: 2026-10-05")
	c.enter("p-01", "release: 2026-10-08, of hold: 2026-10-05")
	c.mornings("p-01", "2026-10-06", "2026-10-06", "D1")
	c.morning("2026-10-07")
	c.reply("p-01", "my toes went dead and numb")
	c.morning("2026-10-08")
	c.view(func(tx *journal.Tx) error {
		p, err := tx.Person("p-01")
		if err != nil || p.State.Pause == nil || p.State.Held != nil {
			t.Errorf("the pause %+v, the hold %+v, %v", p.State.Pause, p.State.Held, err)
		}
		open := 0
		err = tx.Alerts(func(a *journal.AlertRow) error {
			if a.Notice == string(rules.NoticeRedFlag) && a.Acked.IsZero() {
				open++
			}
			return nil
		})
		if open != 1 {
			t.Errorf("%d alerts of a danger sign are open", open)
		}
		return err
	})
}

// What the rules did not take in is not in the patient's days either.
func TestDaysHoldWhatCounted(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "K") // nobody asked for a look at the skin
	day := func() (d journal.Day) {
		c.view(func(tx *journal.Tx) error {
			days, err := tx.Days("p-01", 0, 0)
			if len(days) > 0 {
				d = days[len(days)-1]
			}
			return err
		})
		return d
	}
	if d := day(); d.Reports != 0 || d.SkinOK {
		t.Errorf("after K: %+v", d)
	}
	c.reply("p-01", "wrong number")
	c.reply("p-01", "P9 D")
	if d := day(); d.Reports != 0 || d.Score != -1 || d.Halves != 0 {
		t.Errorf("of a stranger: %+v", d)
	}
}

// A message that was tried, and withdrawn before it was tried again, never
// arrived; its day says so.
func TestADayWhoseMessageWasWithdrawnAfterATry(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.next(busy)
	c.morning("2026-10-05")
	c.reply("p-01", "P9")
	c.at("2026-10-05 09:10")
	c.tick()
	c.send()
	c.view(func(tx *journal.Tx) error {
		days, err := tx.Days("p-01", 0, 0)
		if len(days) != 1 || days[0].Fate != "withdrawn" {
			t.Errorf("%+v", days)
		}
		return err
	})
}
