package daemon

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"stepgate/notify"
)

// counting is a receiver that counts how often it is read.
type counting struct{ n atomic.Int32 }

func (k *counting) Collect(context.Context, notify.Take) error {
	k.n.Add(1)
	return nil
}

// Messages are read as often as the files ask for, however often that is.
func TestPollAsOftenAsAsked(t *testing.T) {
	for _, every := range []time.Duration{time.Second, 3 * time.Second, time.Minute} {
		synctest.Test(t, func(t *testing.T) {
			c := bareClinic(t, RealClock{}, onSpool("p-01"))
			c.open()
			sms, read := c.s.o.Channels["sms"], &counting{}
			sms.Receive, sms.Every = read, every
			c.s.o.Channels["sms"] = sms
			ctx, stop := context.WithCancel(t.Context())
			done := make(chan error)
			go func() { done <- c.s.Run(ctx, RunOptions{Load: c.load}) }()
			time.Sleep(10*time.Minute + time.Second/2)
			stop()
			if err := <-done; err != nil {
				t.Fatal(err)
			}
			// Each tick, once a minute, may put one reading off by less than a turn.
			want := int(10 * time.Minute / every)
			if got := int(read.n.Load()); got < want-10 || got > want+11 {
				t.Errorf("read %d times in 10 minutes at one every %s, want about %d", got, every, want)
			}
		})
	}
}

// Whoever waited for a channel to be read is decided as soon as it was, and not
// at the next minute.
func TestHeardAgainIsDecidedAtOnce(t *testing.T) {
	prepare := func(c *clinic, o *RunOptions) {
		o.Poll = 5 * time.Second
		c.sms.failing = errUnreadable
	}
	inBubble(t, []*enrolled{onSMS("p-01", phone1)}, prepare, func(x *running) {
		time.Sleep(tillNine + 2*time.Second)
		synctest.Wait()
		x.wantDaily("p-01")
		x.sms.mu.Lock()
		x.sms.failing = nil
		x.sms.mu.Unlock()
		time.Sleep(9 * time.Second)
		synctest.Wait()
		x.wantDaily("p-01", "Sat Jan 1")
	})
}
