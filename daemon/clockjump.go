package daemon

import (
	"context"
	"time"

	"stepgate/daemon/journal"
)

// steady is a clock that can also tell how much time went by however it was set
// meanwhile.
type steady interface{ Steady() time.Duration }

var processBegan = time.Now()

// Steady is the machine's monotonic time. It stands still while the machine
// sleeps.
func (RealClock) Steady() time.Duration { return time.Since(processBegan) }

// jump is how far a clock has to be off to be worth a line: ours to choose.
const jump = time.Minute

// behind is how far the clock may be behind the last event: ours to choose.
const behind = 10 * time.Minute

// noteJump logs that the clock was set, or that the machine slept, since the
// last tick. Nothing else has to be done: a date is decided once, whatever the
// clock says later, and dates that were passed over are not made up for.
func (s *Service) noteJump(ctx context.Context) {
	clock, ok := s.o.Clock.(steady)
	if !ok {
		return
	}
	now, went := s.o.Clock.Now().Round(0), clock.Steady()
	s.mu.Lock()
	by := now.Sub(s.wall) - (went - s.went)
	first := s.wall.IsZero()
	s.wall, s.went = now, went
	s.mu.Unlock()
	if !first && by.Abs() > jump {
		s.o.Log.WarnContext(ctx, "clock.jumped", "by", by.Round(time.Second).String())
	}
	var last time.Time
	if err := s.o.Journal.View(func(tx *journal.Tx) error { last = tx.LastAt(); return nil }); err != nil {
		return // the tick itself tells
	}
	if lag := last.Sub(now); lag > behind {
		s.trouble("clock", "the machine's clock is "+lag.Round(time.Minute).String()+" behind what it was; set it, or messages wait until it is there again")
		return
	}
	s.untrouble("clock")
}
