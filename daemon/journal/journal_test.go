package journal

import (
	"context"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"

	"stepgate/rules"
)

// day is when the tests' events happen.
var day = time.Date(2026, 10, 5, 14, 0, 0, 0, time.UTC)

// open opens a journal at path and checks it at the test's end.
func open(t testing.TB, path string) *Journal {
	t.Helper()
	j, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := j.Verify(); !errors.Is(err, ErrClosed) {
			checkWhole(t, j)
		}
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	return j
}

func openNew(t testing.TB) *Journal {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "journal.db"))
}

// checkWhole runs bbolt's own check and Verify.
func checkWhole(t testing.TB, j *Journal) Report {
	t.Helper()
	boltCheck(t, j)
	rep, err := j.Verify()
	if err != nil {
		t.Error(err)
	}
	return rep
}

func boltCheck(t interface{ Errorf(string, ...any) }, j *Journal) {
	// Inside an update, because the check is not safe beside writers.
	err := j.db.Update(func(btx *bolt.Tx) error {
		for err := range btx.Check() {
			t.Errorf("bbolt: %v", err)
		}
		return errRollback
	})
	if !errors.Is(err, errRollback) {
		t.Errorf("bbolt: %v", err)
	}
}

// add appends events in one update.
func add(j *Journal, events ...Event) error {
	return j.Update(context.Background(), func(tx *Tx) error {
		for _, e := range events {
			if e.At.IsZero() {
				e.At = day
			}
			if _, err := tx.Append(e); err != nil {
				return err
			}
		}
		return nil
	})
}

func mustAdd(t testing.TB, j *Journal, events ...Event) {
	t.Helper()
	if err := add(j, events...); err != nil {
		t.Fatal(err)
	}
}

// view runs fn in a view and fails the test with its error.
func view(t testing.TB, j *Journal, fn func(*Tx) error) {
	t.Helper()
	if err := j.View(fn); err != nil {
		t.Fatal(err)
	}
}

func lastSeq(t testing.TB, j *Journal) (seq uint64) {
	t.Helper()
	view(t, j, func(tx *Tx) error { seq = tx.LastSeq(); return nil })
	return seq
}

// poke changes the file behind the journal's back.
func poke(t testing.TB, j *Journal, fn func(b func(bucketID) *bolt.Bucket) error) {
	t.Helper()
	err := j.db.Update(func(btx *bolt.Tx) error {
		return fn(func(id bucketID) *bolt.Bucket { return btx.Bucket(bucketNames[id]) })
	})
	if err != nil {
		t.Fatal(err)
	}
}

func enroll(id string, due time.Time) Event {
	return Event{Kind: Enrolled, ID: id, State: &rules.State{Rev: 1, Program: "steady-arches"}, Due: &due}
}

func daily(id, key string) Event {
	return Event{Kind: Intended, ID: id, Out: &Out{
		Key: key, Kind: "daily", Channel: "spool", To: "robin", Text: "Mon Oct 5: 2 times a day.", Made: day,
		Rev: 1, Next: &rules.State{Rev: 2, Program: "steady-arches", P: 1, W: 1}, NextDue: day.Add(24 * time.Hour),
		Decision: &rules.Decision{Day: 1, P: 1, W: 1, Send: true},
	}}
}

func TestReopen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	j := open(t, path)
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("mode of a new journal: %v, %v; want 0600", info.Mode(), err)
	}
	view(t, j, func(tx *Tx) error {
		if tx.LastSeq() != 0 || !tx.LastAt().IsZero() {
			t.Errorf("empty journal has event %d at %v", tx.LastSeq(), tx.LastAt())
		}
		return nil
	})
	var hash []byte
	mustAdd(t, j, enroll("p1", day), daily("p1", "daily/p1/2026-10-05"))
	view(t, j, func(tx *Tx) error { hash = tx.ContactHash("+12025550142"); return nil })
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}

	j = open(t, path)
	mustAdd(t, j, Event{Kind: HandedOut, ID: "p1", Key: "daily/p1/2026-10-05", At: day.Add(time.Minute)})
	view(t, j, func(tx *Tx) error {
		p, err := tx.Person("p1")
		if err != nil || p == nil || p.State.P != 1 || !p.Since.Equal(day) || !p.Due.Equal(day.Add(24*time.Hour)) {
			t.Errorf("person after reopen: %+v, %v", p, err)
		}
		if tx.LastSeq() != 3 || !tx.LastAt().Equal(day.Add(time.Minute)) {
			t.Errorf("newest event: %d at %v", tx.LastSeq(), tx.LastAt())
		}
		if got := tx.ContactHash("+12025550142"); string(got) != string(hash) || len(got) != 32 {
			t.Error("contact hash changed with reopening")
		}
		if string(tx.ContactHash("+12025550143")) == string(hash) {
			t.Error("two contacts have one hash")
		}
		return nil
	})
}

func TestLocked(t *testing.T) {
	j := openNew(t)
	start := time.Now()
	_, err := Open(j.path, Options{Timeout: 100 * time.Millisecond})
	if !errors.Is(err, ErrLocked) {
		t.Fatalf("second open: %v, want ErrLocked", err)
	}
	if took := time.Since(start); took > 5*time.Second {
		t.Errorf("waited %v for a lock with a timeout of 100ms", took)
	}
}

func TestRefusedFiles(t *testing.T) {
	dir := t.TempDir()
	newer := filepath.Join(dir, "newer.db")
	j, err := Open(newer, Options{})
	if err != nil {
		t.Fatal(err)
	}
	poke(t, j, func(b func(bucketID) *bolt.Bucket) error {
		return b(inMeta).Put(keyFormat, binary.BigEndian.AppendUint32(nil, formatVersion+1))
	})
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}

	foreign := filepath.Join(dir, "foreign.db")
	db, err := bolt.Open(foreign, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(func(btx *bolt.Tx) error {
		_, err := btx.CreateBucket([]byte("widgets"))
		return err
	})
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}

	garbage := filepath.Join(dir, "garbage.db")
	if err := os.WriteFile(garbage, make([]byte, 1<<16), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		path string
		want error
	}{
		{newer, ErrFormat}, {foreign, ErrFormat}, {garbage, ErrDamaged},
		{filepath.Join(dir, "missing", "journal.db"), os.ErrNotExist},
	} {
		if _, err := Open(c.path, Options{}); !errors.Is(err, c.want) {
			t.Errorf("open %s: %v, want %v", filepath.Base(c.path), err, c.want)
		}
	}
}

// A process killed between making the file and laying it out leaves a bbolt
// file without buckets.
func TestHalfMadeFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	db, err := bolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	mustAdd(t, open(t, path), enroll("p1", day))
}

func TestClosed(t *testing.T) {
	j := openNew(t)
	checkWhole(t, j)
	for range 2 {
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := add(j, enroll("p1", day)); !errors.Is(err, ErrClosed) {
		t.Errorf("update after close: %v", err)
	}
	if err := j.View(func(*Tx) error { return nil }); !errors.Is(err, ErrClosed) {
		t.Errorf("view after close: %v", err)
	}
	if err := j.Rebuild(); !errors.Is(err, ErrClosed) {
		t.Errorf("rebuild after close: %v", err)
	}
}

func TestViewCannotWrite(t *testing.T) {
	j := openNew(t)
	view(t, j, func(tx *Tx) error {
		if _, err := tx.Append(enroll("p1", day)); err == nil {
			t.Error("a view appended")
		}
		if _, err := tx.PutFile([]byte("clinic: x")); err == nil {
			t.Error("a view kept a file")
		}
		return nil
	})
}
