package daemon

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
)

// manyPatients is from how many on they are most of the memory that is held: about
// 600 bytes each, for good.
const manyPatients = 100_000

// SpareMemory lets the collector run at half the usual growth where very many are
// enrolled: the usual room for garbage is as much again as what is held, and a
// million would take more than the 1 GiB they may. It costs about a twentieth of
// one core while much is decided, and nothing while nothing is. Whoever sets GOGC
// knows better.
func SpareMemory(patients int) {
	if _, set := os.LookupEnv("GOGC"); set {
		return
	}
	percent := 100
	if patients >= manyPatients {
		percent = 50
	}
	debug.SetGCPercent(percent)
}

// roomAtLeast is what work may take beside what is held, in bytes: a report over
// 100,000 patients takes some 200 MB for a moment.
const roomAtLeast = 400 << 20

// BoundMemory bounds what a clinic of very many takes, a burst of work included, to
// three quarters more than is held now, or to roomAtLeast: it is called once the
// clinic is in force and the one before let go of. A million hold some 540 MB, and
// stay under 1 GiB. Whoever sets GOMEMLIMIT knows better.
func BoundMemory(patients int) {
	unboundMemory()
	debug.FreeOSMemory() // what reading the files and the templates took
	if _, set := os.LookupEnv("GOMEMLIMIT"); set || patients < manyPatients {
		return
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	held := int64(m.HeapAlloc)
	debug.SetMemoryLimit(held + max(held/4*3, roomAtLeast))
}

// unboundMemory lifts the bound, for while two clinics are held.
func unboundMemory() {
	if _, set := os.LookupEnv("GOMEMLIMIT"); !set {
		debug.SetMemoryLimit(math.MaxInt64)
	}
}
