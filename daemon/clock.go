package daemon

import (
	"sync"
	"time"
)

// Clock tells the time. Everything the service does with time goes through
// it, so that the same engine can live on a made-up calendar.
type Clock interface{ Now() time.Time }

// RealClock is the machine's clock.
type RealClock struct{}

// Now returns the current time.
func (RealClock) Now() time.Time { return time.Now() }

// QuickClock runs faster than the machine's: one day takes Day.
type QuickClock struct {
	began time.Time     // real
	from  time.Time     // made up
	day   time.Duration // real time a made-up day takes
}

// NewQuickClock starts a clock at the made-up time from.
func NewQuickClock(from time.Time, day time.Duration) *QuickClock {
	return &QuickClock{began: time.Now(), from: from, day: day}
}

// Now returns the made-up time.
func (c *QuickClock) Now() time.Time {
	real := time.Since(c.began)
	return c.from.Add(time.Duration(float64(real) * float64(24*time.Hour) / float64(c.day)))
}

// SetClock stands still until it is set: for the demo and for rehearsals.
type SetClock struct {
	mu  sync.Mutex
	now time.Time
}

// Now returns the time last set.
func (c *SetClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// Set puts the clock.
func (c *SetClock) Set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}
