package journal

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"
)

// backupTo writes a copy aside.
func backupTo(t testing.TB, j *Journal, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(j.Backup(t.Context(), f), f.Close()); err != nil {
		t.Fatal(err)
	}
}

// Copies made while updates go on are each the journal at one moment.
func TestBackup(t *testing.T) {
	dir := t.TempDir()
	j := filled(t, filepath.Join(dir, "journal.db"))
	ctx, stop := context.WithCancel(t.Context())
	var busy sync.WaitGroup
	for range 2 {
		busy.Go(func() {
			for ctx.Err() == nil {
				if err := j.Update(t.Context(), note(strings.Repeat("x", 5000))); err != nil {
					t.Error(err)
				}
			}
		})
	}
	last := 0
	for i := range 10 {
		path := filepath.Join(dir, string(rune('a'+i)))
		least := lastSeq(t, j)
		backupTo(t, j, path)
		rep, err := VerifyFile(path)
		if err != nil || rep.Events < int(least) || rep.Events < last || rep.Format != formatVersion {
			t.Errorf("copy %d: %+v, %v, want %d events or more", i, rep, err, least)
		}
		last = rep.Events
	}
	stop()
	busy.Wait()
	if k := open(t, filepath.Join(dir, "j")); lastSeq(t, k) != uint64(last) {
		t.Errorf("the copy opens with %d events, want %d", lastSeq(t, k), last)
	}
}

func TestBackupFails(t *testing.T) {
	j := filled(t, filepath.Join(t.TempDir(), "journal.db"))
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Backup(t.Context(), full); err == nil {
		t.Error("a full disk went unnoticed")
	}
	done, cancel := context.WithCancel(t.Context())
	cancel()
	if err := j.Backup(done, full); !errors.Is(err, context.Canceled) {
		t.Errorf("canceled: %v", err)
	}
	if err := errors.Join(full.Close(), j.Close()); err != nil {
		t.Fatal(err)
	}
	if err := j.Backup(t.Context(), full); !errors.Is(err, ErrClosed) {
		t.Errorf("closed: %v", err)
	}
}

// A file that is cut short anywhere, or has bytes changed, is told of as such;
// bytes that nothing refers to may change.
func TestVerifyFileDamaged(t *testing.T) {
	dir := t.TempDir()
	good, bad := filepath.Join(dir, "good.db"), filepath.Join(dir, "bad.db")
	backupTo(t, lottiesJournal(t, filepath.Join(dir, "journal.db")), good)
	data, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := VerifyFile(good); err != nil {
		t.Fatal(err)
	}
	for size := 0; size < len(data); size += 1 + len(data)/97 {
		if err := os.WriteFile(bad, data[:size], 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := VerifyFile(bad); !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrFormat) {
			t.Errorf("cut to %d of %d bytes: %v", size, len(data), err)
		}
		if _, _, err := Compact(bad); err == nil {
			t.Errorf("compacted what is cut to %d bytes", size)
		}
		if j, err := Open(bad, Options{}); err == nil && size > 0 {
			t.Errorf("opened what is cut to %d bytes: %v", size, j.Close())
		} else if err == nil {
			_ = j.Close()
		}
	}
	// Every page header and first entries, and a byte here and there.
	told := 0
	for i := 0; i < len(data); i++ {
		if i%os.Getpagesize() >= 48 && i%89 != 0 {
			continue
		}
		spoiled := append([]byte{}, data...)
		spoiled[i] ^= 0x41
		if err := os.WriteFile(bad, spoiled, 0o600); err != nil {
			t.Fatal(err)
		}
		rep, err := VerifyFile(bad)
		if err != nil {
			told++
		} else if rep.Events == 0 {
			t.Errorf("byte %d: an empty report", i)
		}
	}
	if told < 100 {
		t.Errorf("of all changed bytes %d were told", told)
	}
}

// Verifying touches nothing, and an old file stays old.
func TestVerifyFileReadsOnly(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	copyTo(t, goldenDir+"v1.db", path)
	if err := os.Chmod(path, 0o400); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rep, err := VerifyFile(path)
	if want := (Report{Format: 1, Events: 21, Subjects: 4, Files: 1}); err != nil || rep != want {
		t.Errorf("report %+v, %v, want %+v", rep, err, want)
	}
	if after, err := os.ReadFile(path); err != nil || string(after) != string(before) {
		t.Errorf("verifying changed the file: %v", err)
	}
	if _, err := VerifyFile(path + "x"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
	j := openNew(t)
	if _, err := VerifyFile(j.path); !errors.Is(err, ErrLocked) {
		t.Errorf("a file in use: %v", err)
	}
}

func TestCompact(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "journal.db")
	j := filled(t, path)
	for range 20 { // much is written over: many pages are freed
		if err := j.Rebuild(); err != nil {
			t.Fatal(err)
		}
		mustAdd(t, j, Event{Kind: Noted, Note: strings.Repeat("x", 30000)})
	}
	if _, _, err := Compact(path); !errors.Is(err, ErrLocked) {
		t.Fatalf("compact while in use: %v", err)
	}
	var was, is string
	view(t, j, func(tx *Tx) (err error) { was, err = dump(tx); return err })
	rep := checkWhole(t, j)
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link.db")
	err := errors.Join(os.Symlink(path, link), os.WriteFile(path+".compact", []byte("of a killed one"), 0o644))
	if err != nil {
		t.Fatal(err)
	}
	before, after, err := Compact(link)
	if err != nil || after >= before {
		t.Fatalf("%d to %d bytes, %v", before, after, err)
	}
	info, err := os.Lstat(path)
	if err != nil || info.Mode() != 0o600 || info.Size() != after {
		t.Errorf("file %v, %v", info, err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 2 {
		t.Errorf("folder holds %v, %v", left, err)
	}
	k := open(t, path)
	view(t, k, func(tx *Tx) (err error) { is, err = dump(tx); return err })
	if got := checkWhole(t, k); got != rep || was != is {
		t.Errorf("report %+v, want %+v; dumps the same: %v", got, rep, was == is)
	}
	mustAdd(t, k, Event{Kind: Noted, Note: "goes on"})
	if _, _, err := Compact(path + "x"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
}

// A damaged journal is not compacted: the old file stays.
func TestCompactRefusesDamage(t *testing.T) {
	j := filled(t, filepath.Join(t.TempDir(), "journal.db"))
	path := filepath.Join(t.TempDir(), "copy.db")
	backupTo(t, j, path)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := strings.Index(string(data), `{"state":{"rev":1`) // of a person
	if at < 0 {
		t.Fatal("nobody found in the file")
	}
	data[at+16] = '7'
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Compact(path); !errors.Is(err, ErrDamaged) {
		t.Errorf("compact: %v", err)
	}
	if now, err := os.ReadFile(path); err != nil || string(now) != string(data) {
		t.Errorf("the damaged file was touched: %v", err)
	}
}

// A file that takes the name while the lock of another is waited for is the one
// that is opened in the end.
func TestOpenReplaced(t *testing.T) {
	dir := t.TempDir()
	path, other := filepath.Join(dir, "journal.db"), filepath.Join(dir, "other.db")
	j := filled(t, path)
	backupTo(t, j, other)
	mustAdd(t, j, Event{Kind: Noted, Note: "in the old file only"})
	tried := make(chan bool, 9)
	type opened struct {
		db  *bolt.DB
		err error
	}
	got := make(chan opened)
	go func() {
		db, _, err := openBolt(path, &bolt.Options{Timeout: time.Minute, OpenFile: func(name string, flag int, mode os.FileMode) (*os.File, error) {
			defer func() { tried <- true }()
			return os.OpenFile(name, flag, mode)
		}})
		got <- opened{db, err}
	}()
	<-tried
	if err := errors.Join(os.Rename(other, path), j.Close()); err != nil {
		t.Fatal(err)
	}
	o := <-got
	if o.err != nil {
		t.Fatal(o.err)
	}
	was, err := headBytes(o.db)
	if h, err2 := parseHead(was); errors.Join(err, err2, o.db.Close()) != nil || h.seq != 8 {
		t.Errorf("opened a file with %d events, %v, want 8", h.seq, err)
	}
}

// Who waits for the lock while the file is put in place gets the new file, not
// the old one that has no name any more.
func TestOpenBesideCompact(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	if err := filled(t, path).Close(); err != nil {
		t.Fatal(err)
	}
	for i := range 20 {
		var wg sync.WaitGroup
		wg.Go(func() {
			if _, _, err := Compact(path); err != nil && !errors.Is(err, ErrLocked) {
				t.Error(err)
			}
		})
		j, err := Open(path, Options{Timeout: 30 * time.Second})
		if err != nil {
			t.Fatal(err)
		}
		mustAdd(t, j, Event{Kind: Noted, Note: "kept"})
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		wg.Wait()
		j = open(t, path)
		if seq := lastSeq(t, j); seq != uint64(9+i) {
			t.Fatalf("round %d: %d events, want %d", i, seq, 9+i)
		}
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
}
