package daemon

import (
	"testing"
	"time"

	"stepgate/notify"
)

// A text that the carrier was too busy for waits a minute, then twice as long
// each time, to sixteen at most, give or take a fifth.
func TestWaitsDoubleFromAMinute(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	soon := busy
	soon.res.After = time.Second // what the carrier asks for is the least
	c.sms.next(soon, busy, busy, busy, busy, says{res: notify.Result{Status: notify.Retry, Code: "429", After: time.Hour}})
	c.at("2026-10-05 09:00")
	c.tick()
	for i, want := range []time.Duration{1, 2, 4, 8, 16, 60} {
		want *= time.Minute
		row := c.row(dailyKey("p-01", c.date("2026-10-05")))
		got := row.NotBefore.Sub(c.set.Now())
		if row.Tries != i+1 || got < want-want/5 || got > want+want/5 {
			t.Fatalf("after %d tries the next comes in %s, want %s", row.Tries, got, want)
		}
		c.set.Set(row.NotBefore)
		c.send()
	}
	c.wantDaily("p-01", "Mon Oct 5")
}
