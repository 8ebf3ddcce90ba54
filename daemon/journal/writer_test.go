package journal

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	bolt "go.etcd.io/bbolt"
)

// commits is how many write transactions the file has seen.
func commits(t testing.TB, j *Journal) (n int) {
	t.Helper()
	if err := j.db.View(func(btx *bolt.Tx) error { n = btx.ID(); return nil }); err != nil {
		t.Fatal(err)
	}
	return n
}

// queueUp holds the writer in one update until all of fns are queued in
// order, lets it go and returns their errors. Whatever fns do shares a batch.
func queueUp(t testing.TB, j *Journal, fns ...func(*Tx) error) []error {
	t.Helper()
	running, release := make(chan struct{}), make(chan struct{})
	errs := make([]error, len(fns))
	var wg sync.WaitGroup
	wg.Go(func() {
		err := j.Update(context.Background(), func(*Tx) error { close(running); <-release; return nil })
		if err != nil {
			t.Error(err)
		}
	})
	<-running
	for i, fn := range fns {
		wg.Go(func() { errs[i] = j.Update(context.Background(), fn) })
		waitQueue(j, i+1)
	}
	close(release)
	wg.Wait()
	return errs
}

// waitQueue returns once n updates are queued.
func waitQueue(j *Journal, n int) {
	for {
		j.mu.Lock()
		have := len(j.queue)
		j.mu.Unlock()
		if have >= n {
			return
		}
		runtime.Gosched()
	}
}

func note(text string) func(*Tx) error {
	return func(tx *Tx) error {
		_, err := tx.Append(Event{Kind: Noted, At: day, Note: text})
		return err
	}
}

// notes lists the notes of the journal in order.
func notes(t testing.TB, j *Journal) (list []string) {
	t.Helper()
	view(t, j, func(tx *Tx) error {
		return tx.Events("", func(e Event) error { list = append(list, e.Note); return nil })
	})
	return list
}

func wantNotes(t *testing.T, j *Journal, want ...string) {
	t.Helper()
	if got := notes(t, j); fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("notes %v, want %v", got, want)
	}
}

func TestGroupCommit(t *testing.T) {
	j := openNew(t)
	const n = 50
	var fns []func(*Tx) error
	var want []string
	for i := range n {
		want = append(want, fmt.Sprint(i))
		fns = append(fns, note(want[i]))
	}
	before := commits(t, j)
	if err := errors.Join(queueUp(t, j, fns...)...); err != nil {
		t.Fatal(err)
	}
	if got := commits(t, j) - before; got != 1 {
		t.Errorf("%d queued updates took %d commits, want 1", n, got)
	}
	wantNotes(t, j, want...)
}

func TestManyGoroutines(t *testing.T) {
	j := openNew(t)
	const workers, each = 64, 10
	before := commits(t, j)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := range each {
				if err := j.Update(context.Background(), note(fmt.Sprintf("%d/%d", w, i))); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if got := commits(t, j) - before; got >= workers*each {
		t.Errorf("%d updates took %d commits", workers*each, got)
	}
	seen := map[string]bool{}
	for _, n := range notes(t, j) {
		seen[n] = true
	}
	if len(seen) != workers*each {
		t.Errorf("%d different notes, want %d", len(seen), workers*each)
	}
}

func TestFailingUpdates(t *testing.T) {
	boom := errors.New("boom")
	fails := func(*Tx) error { return boom }
	failsLate := func(tx *Tx) error { return errors.Join(note("lost")(tx), boom) }
	panics := func(tx *Tx) error { panic("oh no") }
	panicsLate := func(tx *Tx) error { _ = note("lost")(tx); panic("oh no") }
	refused := func(tx *Tx) error { return firstErr(tx.Append(Event{Kind: Removed, ID: "nobody", At: day})) }
	swallowed := func(tx *Tx) error {
		_ = refused(tx) // an append that was refused leaves the update good
		return note("kept")(tx)
	}
	for _, c := range []struct {
		name    string
		fn      func(*Tx) error
		want    error
		panics  bool
		commits int // of the batch a, fn, b
	}{
		{name: "before writing", fn: fails, want: boom, commits: 1},
		{name: "refused event", fn: refused, want: ErrInvalid, commits: 1},
		{name: "after writing", fn: failsLate, want: boom, commits: 2},
		{name: "panic before writing", fn: panics, panics: true, commits: 1},
		{name: "panic after writing", fn: panicsLate, panics: true, commits: 2},
		{name: "refusal swallowed", fn: swallowed, commits: 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := openNew(t)
			before := commits(t, j)
			errs := queueUp(t, j, note("a"), c.fn, note("b"))
			if errs[0] != nil || errs[2] != nil {
				t.Errorf("neighbors failed: %v", errs)
			}
			var pe *PanicError
			if errors.As(errs[1], &pe) != c.panics || !c.panics && !errors.Is(errs[1], c.want) {
				t.Errorf("got %v", errs[1])
			}
			if c.panics && (pe.Error() != "update panicked: oh no" || len(pe.Stack) == 0) {
				t.Errorf("panic error %q with a stack of %d bytes", pe, len(pe.Stack))
			}
			if got := commits(t, j) - before; got != c.commits {
				t.Errorf("%d commits, want %d", got, c.commits)
			}
			if c.name == "refusal swallowed" {
				wantNotes(t, j, "a", "kept", "b")
			} else {
				wantNotes(t, j, "a", "b")
			}
			if got := lastSeq(t, j); got != uint64(len(notes(t, j))) {
				t.Errorf("last event %d", got)
			}
		})
	}
}

func firstErr[T any](_ T, err error) error { return err }

// Numbers, chain and times go on rightly after a rollback, and somebody new
// in an update that was undone is still new.
func TestAfterRollback(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p1", day))
	boom := errors.New("boom")
	err := j.Update(context.Background(), func(tx *Tx) error {
		late := enroll("p2", day)
		late.At = day.AddDate(1, 0, 0)
		if seq, err := tx.Append(late); err != nil || seq != 2 || tx.LastSeq() != 2 {
			t.Errorf("append: %d, %v", seq, err)
		}
		return boom
	})
	if !errors.Is(err, boom) {
		t.Fatal(err)
	}
	view(t, j, func(tx *Tx) error {
		if tx.LastSeq() != 1 || !tx.LastAt().Equal(day) {
			t.Errorf("after rollback: event %d at %v", tx.LastSeq(), tx.LastAt())
		}
		if p, err := tx.Person("p2"); p != nil || err != nil {
			t.Errorf("undone enrollment is there: %v, %v", p, err)
		}
		return nil
	})
	mustAdd(t, j, enroll("p2", day))
	if rep := checkWhole(t, j); rep.Events != 2 || rep.Subjects != 3 {
		t.Errorf("report %+v", rep)
	}
}

// An update that writes nothing costs no commit.
func TestReadingUpdate(t *testing.T) {
	j := openNew(t)
	before := commits(t, j)
	if err := j.Update(context.Background(), func(tx *Tx) error { tx.LastSeq(); return nil }); err != nil {
		t.Fatal(err)
	}
	if got := commits(t, j) - before; got != 0 {
		t.Errorf("%d commits", got)
	}
}

func TestCancelled(t *testing.T) {
	j := openNew(t)
	ctx, cancel := context.WithCancel(context.Background())
	errc := make(chan error, 1)
	ran := false
	errs := queueUp(t, j, note("a"), func(tx *Tx) error {
		// Runs on the writer while the third update below is not queued yet.
		go func() { errc <- j.Update(ctx, func(*Tx) error { ran = true; return nil }) }()
		waitQueue(j, 1)
		cancel()
		return <-errc
	}, note("b"))
	if !errors.Is(errs[1], context.Canceled) || errs[0] != nil || errs[2] != nil {
		t.Errorf("errors %v", errs)
	}
	if err := j.Update(ctx, func(*Tx) error { ran = true; return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("update with a context that is over: %v", err)
	}
	wantNotes(t, j, "a", "b")
	if ran {
		t.Error("a cancelled update ran")
	}
}

// A context that ends while the update runs does not hide its outcome.
func TestCancelledTooLate(t *testing.T) {
	j := openNew(t)
	ctx, cancel := context.WithCancel(context.Background())
	err := j.Update(ctx, func(tx *Tx) error { cancel(); return note("a")(tx) })
	if err != nil {
		t.Errorf("got %v", err)
	}
	wantNotes(t, j, "a")
}

// t.FailNow inside an update ends the goroutine it runs on; nobody must hang.
func TestGoexit(t *testing.T) {
	j := openNew(t)
	err := j.Update(context.Background(), func(tx *Tx) error {
		_ = note("lost")(tx)
		runtime.Goexit()
		return nil
	})
	if !errors.Is(err, errEnded) {
		t.Errorf("got %v", err)
	}
	if err := j.Update(context.Background(), note("a")); err != nil {
		t.Fatal(err)
	}
	wantNotes(t, j, "a")
}

func TestCloseWaits(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	j, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	closed := make(chan error, 1)
	errs := queueUp(t, j, note("a"), note("b"), func(tx *Tx) error {
		go func() { closed <- j.Close() }()
		return note("c")(tx)
	})
	if err := errors.Join(append(errs, <-closed)...); err != nil {
		t.Fatal(err)
	}
	wantNotes(t, open(t, path), "a", "b", "c")
}
