package daemon

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"sync"
	"time"
)

// manyPatients is from how many on a morning makes so much garbage that it is worth
// some memory to collect it seldom.
const manyPatients = 100_000

// What the collector does where very many are enrolled, or much is going on. A
// million are held in a tenth of roomForWork, and a few thousand in a few megabytes:
// at the usual growth it would run for every few megabytes of garbage. A report over
// 100,000 patients holds some 200 MB for a moment.
const (
	usualGrowth = 100       // in percent of what is held
	moreGrowth  = 400       // the same
	roomForWork = 400 << 20 // in bytes beside what is held
)

// From how many messages within how long much is going on. Ours.
const (
	busyFrom = 1000
	busyFor  = time.Minute
)

// collector is how the garbage collector of this process runs, whatever services run
// in it. Whoever sets GOGC or GOMEMLIMIT knows better.
var collector = newCollecting(debug.SetGCPercent)

type collecting struct {
	grow func(percent int) int

	mu    sync.Mutex
	many  bool      // very many are enrolled
	busy  bool      // much is going on
	n     int       // messages since
	since time.Time // when it was not busy
}

func newCollecting(grow func(int) int) *collecting {
	for _, name := range []string{"GOGC", "GOMEMLIMIT"} {
		if _, set := os.LookupEnv(name); set {
			grow = func(int) int { return 0 }
		}
	}
	return &collecting{grow: grow}
}

// set says what is so now.
func (c *collecting) set(many, busy bool) {
	if was := c.many || c.busy; was != (many || busy) {
		percent := usualGrowth
		if !was {
			percent = moreGrowth
		}
		c.grow(percent)
	}
	c.many, c.busy = many, busy
}

// enrolled says whether very many are enrolled.
func (c *collecting) enrolled(many bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.set(many, c.busy)
}

// did says that so many messages were worked on. While there are many the collector
// has more room; it is taken away again once there are few.
func (c *collecting) did(n int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.busy && time.Since(c.since) > busyFor {
		c.n, c.since = 0, time.Now()
	}
	if c.n += n; c.busy || c.n < busyFrom {
		return
	}
	c.set(c.many, true)
	time.AfterFunc(busyFor, c.still)
	c.n = 0
}

// still looks whether much is going on still.
func (c *collecting) still() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.n >= busyFrom {
		time.AfterFunc(busyFor, c.still)
	} else {
		c.set(c.many, false)
		if !c.many {
			go debug.FreeOSMemory() // of a service that does nothing, others have more use for it
		}
	}
	c.n, c.since = 0, time.Now()
}

// BoundMemory gives a clinic of very many room for its work, and bounds what a burst
// of it takes to roomForWork more than is held now: it is called once the clinic is
// in force and the one before let go of.
func BoundMemory(patients int) {
	unboundMemory()
	debug.FreeOSMemory() // what reading the files and the templates took
	if patients < manyPatients {
		return
	}
	collector.enrolled(true)
	if _, set := os.LookupEnv("GOMEMLIMIT"); set {
		return
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	debug.SetMemoryLimit(int64(m.HeapAlloc) + roomForWork)
}

// unboundMemory lifts the bound and takes the room away, for while two clinics are
// held.
func unboundMemory() {
	if _, set := os.LookupEnv("GOMEMLIMIT"); !set {
		debug.SetMemoryLimit(math.MaxInt64)
	}
	collector.enrolled(false)
}
