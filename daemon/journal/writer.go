package journal

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"syscall"

	bolt "go.etcd.io/bbolt"
)

// maxBatch bounds one commit, and with it what has to run again when one of
// its updates fails.
const maxBatch = 1024

// errRollback undoes a transaction; it never leaves this file.
var errRollback = errors.New("roll back")

// PanicError is what an update's panic is turned into.
type PanicError struct {
	Value any
	Stack []byte
}

func (e *PanicError) Error() string { return fmt.Sprintf("update panicked: %v", e.Value) }

// Who holds a job.
const (
	jobQueued int32 = iota
	jobTaken        // by the writer: it will run and be answered
	jobLeft         // by its caller: it will not run
)

// job is one update in the queue.
type job struct {
	ctx      context.Context
	fn       func(*Tx) error
	state    atomic.Int32
	done     chan error // holds the answer
	answered bool       // the writer's
	err      error      // the writer's: of the latest run
}

func (jb *job) answer(err error) {
	if !jb.answered {
		jb.answered = true
		jb.done <- err
	}
}

// Update runs fn in a transaction and returns once it is on disk, or returns
// an error with nothing of it written, but for [ErrUnsure]. Updates that wait at the same time
// share one commit, in the order they came.
//
// fn may run more than once: when a neighbor in the same commit fails after
// writing, all of them are undone and run again, each alone. So fn must set
// whatever it returns through variables from scratch each time, must not do
// anything outside the transaction, and must not call Update, View or Close.
// A panic in fn comes back as a [*PanicError]. If ctx ends before fn starts,
// fn does not run; once it has started, Update waits for the outcome.
func (j *Journal) Update(ctx context.Context, fn func(*Tx) error) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("update: %w", err)
	}
	jb := &job{ctx: ctx, fn: fn, done: make(chan error, 1)}
	j.mu.Lock()
	if j.closing {
		j.mu.Unlock()
		return fmt.Errorf("update: %w", ErrClosed)
	}
	j.queue = append(j.queue, jb)
	j.mu.Unlock()
	j.more.Signal()
	select {
	case err := <-jb.done:
		return err
	case <-ctx.Done():
		if jb.state.CompareAndSwap(jobQueued, jobLeft) {
			return fmt.Errorf("update: %w", ctx.Err())
		}
		return <-jb.done
	}
}

// write is the writer: it alone runs updates, until the journal closes.
func (j *Journal) write() {
	closed := false
	defer func() {
		if !closed { // an update ended this goroutine (t.FailNow, say)
			go j.write()
		}
	}()
	for {
		runtime.Gosched() // lets those whose commit just ended queue their next update
		batch := j.take()
		if batch == nil {
			closed = true
			close(j.stopped)
			return
		}
		j.run(batch)
	}
}

// take waits for updates and takes what is queued, without waiting for more.
// It returns nil once the journal closes and the queue is empty.
func (j *Journal) take() []*job {
	j.mu.Lock()
	defer j.mu.Unlock()
	for len(j.queue) == 0 {
		if j.closing {
			return nil
		}
		j.more.Wait()
	}
	n := min(len(j.queue), maxBatch)
	batch := j.queue[:n:n]
	if j.queue = j.queue[n:]; len(j.queue) == 0 {
		j.queue = nil // lets the array of a busy hour go
	}
	return batch
}

// run runs one batch and answers every job of it.
func (j *Journal) run(batch []*job) {
	live := batch[:0]
	for _, jb := range batch {
		if !jb.state.CompareAndSwap(jobQueued, jobTaken) {
			continue
		}
		if err := jb.ctx.Err(); err != nil {
			jb.answer(fmt.Errorf("update: %w", err))
			continue
		}
		live = append(live, jb)
	}
	// Only an update that ends this goroutine leaves anyone unanswered; its
	// transaction is undone by then.
	defer func() {
		for _, jb := range live {
			jb.answer(errEnded)
		}
	}()
	if len(live) == 0 || j.commit(live) {
		return
	}
	for _, jb := range live {
		j.commit([]*job{jb})
	}
}

// commit runs jobs in one transaction and answers them. It returns false,
// with nothing written and nobody answered, if one of several failed after
// writing.
func (j *Journal) commit(jobs []*job) bool {
	wrote, spoiled := false, false
	var to head // of what is written, if it has events
	err := j.db.Update(func(btx *bolt.Tx) error {
		c := newCore(btx)
		for _, jb := range jobs {
			tx := &Tx{c: c, writable: true}
			jb.err = call(tx, jb.fn)
			if jb.err != nil && tx.wrote {
				spoiled = true
				return errRollback
			}
			wrote = wrote || tx.wrote
		}
		if !wrote {
			return errRollback // nothing to commit: saves the fsync
		}
		if c.dirty {
			to = c.head
		}
		return c.flush()
	})
	if spoiled && len(jobs) > 1 {
		return false
	}
	if errors.Is(err, errRollback) {
		err = nil
	}
	if err != nil {
		err = j.whyNot(err)
	}
	if err != nil && j.stands(to) {
		err = fmt.Errorf("%w: %w", ErrUnsure, err)
	}
	for _, jb := range jobs {
		if jb.err == nil && err != nil {
			jb.err = fmt.Errorf("commit: %w", err)
		}
		jb.answer(jb.err)
	}
	return true
}

// whyNot adds to the error of a commit why the file can't grow, if that is so:
// bbolt keeps only the words of a failed resize. It asks by growing the file by
// a page and taking that away again; nobody else writes to it.
func (j *Journal) whyNot(err error) error {
	if errno := syscall.Errno(0); errors.As(err, &errno) {
		return err
	}
	info, serr := j.file.Stat()
	if serr != nil {
		return err
	}
	grow := j.file.Truncate(info.Size() + int64(os.Getpagesize()))
	if grow != nil {
		return errors.Join(err, grow)
	}
	return errors.Join(err, j.file.Truncate(info.Size()))
}

// stands tells whether a commit that failed is there all the same: its last
// page was written, and only the sync after it failed.
func (j *Journal) stands(to head) bool {
	var is head
	err := j.View(func(tx *Tx) (err error) { is, err = tx.c.readHead(); return err })
	return err == nil && to.seq != 0 && is == to
}

// call runs one update, turning a panic into an error.
func call(tx *Tx, fn func(*Tx) error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = &PanicError{Value: r, Stack: debug.Stack()}
		}
	}()
	if err := fn(tx); err != nil {
		return err
	}
	return tx.broken // a write that failed halfway, whatever fn made of it
}
