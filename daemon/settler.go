package daemon

import (
	"context"
	"errors"
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
	var left []ended // could not be written so far
	for {
		var retry <-chan time.Time
		if len(left) > 0 {
			retry = time.After(t.again)
		}
		lot := left
		select {
		case e, ok := <-t.in:
			if !ok {
				t.write(left)
				return
			}
			lot = t.gathered(append(lot, e))
		case <-retry:
		}
		left = t.write(lot)
		for range len(lot) - len(left) {
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
	case len(lot) == 1 && ofItself(err):
		t.failed(lot[0], err)
		return nil
	case !ofItself(err):
		t.failed(ended{}, err)
		if errors.Is(err, journal.ErrUnsure) {
			return nil // they are there
		}
		return lot
	}
	for i := range lot {
		left = append(left, t.write(lot[i:i+1])...)
	}
	return left
}

// ofItself tells whether an update failed by what it was to write, not by the
// disk: trying it again would be in vain.
func ofItself(err error) bool {
	panicked := new(journal.PanicError)
	return errors.Is(err, journal.ErrInvalid) || errors.Is(err, journal.ErrDamaged) || errors.As(err, &panicked)
}

// handLot marks the messages of a lot in one commit and sends each by a worker
// of its own. They are claimed, admitted and have their slots. What can't be
// marked stays in the outbox for the next tick.
func (s *Service) handLot(ctx context.Context, x *sender, l *lane, lot []string) {
	rows, err := s.handOverAll(ctx, lot)
	if err != nil && len(lot) > 1 && ofItself(err) { // find the one that fails
		for i := range lot {
			s.handLot(ctx, x, l, lot[i:i+1])
		}
		return
	}
	if err != nil {
		s.o.Log.Error("out.failed", append(s.about(lot[0]), "messages", len(lot), "error", safeError(err))...)
	}
	goes := make(map[string]bool, len(rows))
	for _, row := range rows {
		goes[row.Key] = true
		l.marked(row.Key)
		x.working.Go(func() { s.sendMarked(ctx, x, l, row) })
	}
	for _, key := range lot {
		if !goes[key] {
			x.settler.drop()
			l.free(key)
		}
	}
	if err == nil && l.roomy() {
		s.kick()
	}
}

// sendMarked sends one message, and leaves its outcome to the settler.
func (s *Service) sendMarked(ctx context.Context, x *sender, l *lane, row *journal.Row) {
	res, known, err := s.carry(ctx, row)
	switch {
	case err != nil: // nothing was sent: the next start looks, and finds nothing
		s.outFailed(ended{row: row}, err)
		x.settler.drop()
	case !known:
		x.settler.drop()
	default:
		x.settler.in <- s.ended(ctx, row, res)
	}
	l.free(row.Key)
	if err == nil && l.roomy() {
		s.kick()
	}
}
