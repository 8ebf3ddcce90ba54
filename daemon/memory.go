package daemon

import (
	"os"
	"runtime/debug"
)

// SpareMemory lets the collector run at half the usual growth where very many are
// enrolled. They lie in memory for good, about 600 bytes each, and the usual room
// for garbage is as much again: a million would take more than the 1 GiB they may.
// It costs about a twentieth of one core while much is decided, and nothing while
// nothing is. Whoever sets GOGC knows better.
func SpareMemory(patients int) {
	if _, set := os.LookupEnv("GOGC"); set {
		return
	}
	percent := 100
	if patients >= 100_000 {
		percent = 50
	}
	debug.SetGCPercent(percent)
}
