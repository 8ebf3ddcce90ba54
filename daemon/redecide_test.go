package daemon

import (
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
)

func (c *clinic) redecided() *Redecided {
	c.t.Helper()
	var out *Redecided
	c.view(func(tx *journal.Tx) (err error) { out, err = redecide(tx, c.dir, false); return err })
	return out
}

// Every date is decided again as it was: over reports, entries, edits of the
// program, an opt-out and a carrier that could not be read.
func TestDecidedAgainTheSame(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1), onSpool("p-02"))
	c.mornings("p-01", "2026-10-05", "2026-10-08", "D5")
	c.enter("p-02", "hold: 2026-10-08")
	c.programs["steady"] = strings.NewReplacer("reps: 6", "reps: 5", "on: 2026-10-01", "on: 2026-10-08").Replace(programYAML)
	c.mustReload()
	c.mornings("p-01", "2026-10-09", "2026-10-11", "D1")
	c.sms.failing = errUnreadable
	c.at("2026-10-12 09:30")
	c.ticks("2026-10-12 09:45", 5*time.Minute)
	c.sms.failing = nil
	c.reply("p-01", "STOP")
	c.mornings("p-01", "2026-10-13", "2026-10-14", "")
	got := c.redecided()
	if n := len(c.decisions("p-01")) + len(c.decisions("p-02")); got.Same != n || n < 18 || len(got.Differ)+got.Unknown+got.Other > 0 {
		t.Errorf("%+v, want %d the same", got, n)
	}
}

// A date that the record has otherwise is found.
func TestDecidedOtherwise(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "D1")
	dec, st := c.last("p-01"), c.state("p-01")
	dec.Date++
	dec.P, st.P, st.Decided = 40, 40, dec.Date
	err := c.j.Update(t.Context(), func(tx *journal.Tx) error {
		_, err := tx.Append(journal.Event{Kind: journal.Decided, ID: "p-01", At: c.clock.Now(), Decision: &dec, State: &st})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := c.redecided(); len(got.Differ) != 1 || got.Differ[0] != "p-01 2026-10-07" {
		t.Errorf("%+v", got)
	}
	c.die() // this journal does not end the test well, as it should not
}
