package daemon

import (
	"context"
	"errors"
	"syscall"
	"time"

	"stepgate/daemon/journal"
)

// mostUnsettled is the most messages that are at the carrier, or were, without
// an outcome on disk: each costs a look-up if the process is killed.
const mostUnsettled = 1000

// settleAgain is how long after outcomes could not be written it is tried again.
const settleAgain = 5 * time.Second

// settler writes outcomes down, several in one commit, so that no worker waits
// for the disk.
type settler struct {
	settle func([]ended) error
	failed func(ended, error)
	in     chan ended
	open   chan struct{} // one for each message that is marked and has no outcome on disk
	done   chan struct{}
	again  time.Duration
}

func (s *Service) startSettler() *settler {
	t := newSettler(s.settleAll, s.outFailed)
	go t.run()
	return t
}

func newSettler(settle func([]ended) error, failed func(ended, error)) *settler {
	return &settler{settle: settle, failed: failed, in: make(chan ended, mostUnsettled),
		open: make(chan struct{}, mostUnsettled), done: make(chan struct{}), again: settleAgain}
}

// outFailed logs an outcome that could not be written; of no message: any.
func (s *Service) outFailed(e ended, err error) {
	if e.row == nil {
		s.o.Log.Error("journal.failed", "doing", "outcomes", "error", safeError(err))
		return
	}
	s.o.Log.Error("out.failed", append(whose(e.row.Enrollment), "kind", e.row.Kind, "error", safeError(err))...)
}

// admit tells whether one more message may be marked.
func (t *settler) admit() bool {
	select {
	case t.open <- struct{}{}:
		return true
	default:
		return false
	}
}

// drop ends what admit began: the message was not marked, or what became of it
// is for the next start to find out.
func (t *settler) drop() { <-t.open }

// stop writes down what is left. Nobody may settle any more.
func (t *settler) stop() {
	close(t.in)
	<-t.done
}

func (t *settler) run() {
	defer close(t.done)
	var left []ended           // not on disk so far
	var again <-chan time.Time // set while the disk fails
	for {
		select {
		case e, ok := <-t.in:
			if !ok {
				t.write(left)
				return
			}
			if left = append(left, e); again != nil {
				continue
			}
			left = t.gathered(left)
		case <-again:
		}
		n := len(left)
		left, again = t.write(left), nil
		if len(left) > 0 {
			again = time.After(t.again)
		}
		for range n - len(left) {
			t.drop()
		}
	}
}

// gathered takes what comes in within a breath, so that a steady trickle does
// not cost a commit each.
func (t *settler) gathered(lot []ended) []ended {
	breathed := time.NewTimer(breath)
	defer breathed.Stop()
	for len(lot) < mostUnsettled/4 {
		select {
		case e, ok := <-t.in:
			if !ok {
				return lot
			}
			lot = append(lot, e)
		case <-breathed.C:
			return lot
		}
	}
	return lot
}

// write commits outcomes and returns those to be tried again: all of them while
// the disk fails. Where one doesn't fit the others are not held up by it.
func (t *settler) write(lot []ended) (left []ended) {
	if len(lot) == 0 {
		return nil
	}
	err := t.settle(lot)
	switch {
	case err == nil:
		return nil
	case diskFails(err):
		t.failed(ended{}, err)
		if errors.Is(err, journal.ErrUnsure) {
			return nil // they are there
		}
		return lot
	case len(lot) == 1:
		t.failed(lot[0], err)
		return nil
	}
	for i := range lot {
		left = append(left, t.write(lot[i:i+1])...)
	}
	return left
}

// diskFails tells whether an update failed by the disk, or had no turn: it may
// be tried again. Whatever else fails an update is in what it was to write, and
// would fail it for ever.
func diskFails(err error) bool {
	errno := syscall.Errno(0)
	return errors.As(err, &errno) || errors.Is(err, journal.ErrUnsure) || errors.Is(err, journal.ErrClosed) ||
		errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)
}
