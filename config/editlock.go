package config

import (
	"errors"
	"os"
	"syscall"
	"time"
)

// lockWait is how long a write waits for others in the same folder; each takes
// milliseconds.
const lockWait = 10 * time.Second

// errBusy says that the folder stayed locked.
var errBusy = errors.New("another program is writing there and does not end; try again")

// lockFolder makes this the only program that looks at a file of a folder and
// then puts another in its place, until unlock. The folder itself is locked, so
// no file of ours is left in it. Where the disk knows no such locks, as some
// shares do not, the write goes on without.
func lockFolder(dir string) (unlock func(), err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, plainError(err)
	}
	for began := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		err := syscall.Flock(int(d.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case errors.Is(err, syscall.EINTR):
			continue
		case !errors.Is(err, syscall.EWOULDBLOCK): // ours, or no locks here
			return func() { _ = d.Close() }, nil
		case time.Since(began) > lockWait:
			return nil, errors.Join(errBusy, d.Close())
		}
	}
}
