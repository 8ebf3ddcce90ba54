package daemon

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
)

// manyPatients is from how many on a morning makes so much garbage that it is worth
// some memory to collect it seldom.
const manyPatients = 100_000

// What the collector does where very many are enrolled. A million are held in a
// tenth of roomForWork: at the usual growth it would run for every few megabytes of
// garbage, and with so much more memory it takes a fiftieth of the time. A report
// over 100,000 patients holds some 200 MB for a moment.
const (
	growthOfMany = 400       // in percent of what is held, up to the bound
	roomForWork  = 400 << 20 // in bytes beside what is held
)

// BoundMemory gives a clinic of very many room for its work, and bounds what a burst
// of it takes to roomForWork more than is held now: it is called once the clinic is
// in force and the one before let go of. Whoever sets GOGC or GOMEMLIMIT knows
// better.
func BoundMemory(patients int) {
	unboundMemory()
	debug.FreeOSMemory() // what reading the files and the templates took
	if patients < manyPatients {
		return
	}
	if _, set := os.LookupEnv("GOMEMLIMIT"); set {
		return // which may be near
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	debug.SetMemoryLimit(int64(m.HeapAlloc) + roomForWork)
	if _, set := os.LookupEnv("GOGC"); !set {
		debug.SetGCPercent(growthOfMany)
	}
}

// unboundMemory lifts the bound and takes the room away, for while two clinics are
// held.
func unboundMemory() {
	if _, set := os.LookupEnv("GOMEMLIMIT"); !set {
		debug.SetMemoryLimit(math.MaxInt64)
	}
	if _, set := os.LookupEnv("GOGC"); !set {
		debug.SetGCPercent(100)
	}
}
