package notify

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
	"unicode/utf8"
)

// drop puts an answer into the spool with a file time of an hour ago plus
// offset.
func drop(t *testing.T, dir, contact, name, text string, offset time.Duration) time.Time {
	t.Helper()
	in := filepath.Join(dir, contact, "in")
	if err := os.MkdirAll(in, 0o700); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(in, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	at := time.Now().Add(offset - time.Hour).Truncate(time.Microsecond)
	if err := os.Chtimes(path, at, at); err != nil {
		t.Fatal(err)
	}
	return at.UTC()
}

// takeAll keeps what it is given.
type takeAll struct{ got []Incoming }

func (a *takeAll) take(_ context.Context, in Incoming) error {
	a.got = append(a.got, in)
	return nil
}

func (a *takeAll) texts() []string {
	var s []string
	for _, in := range a.got {
		s = append(s, in.From+":"+in.Text)
	}
	return s
}

func TestSpoolCollect(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	at := drop(t, dir, "pat", "b.txt", "P5\n", 0)
	drop(t, dir, "sam", "a.txt", "done\r\n", time.Second)
	drop(t, dir, "pat", "a.txt", "\ufeffP2\nsorry\n", 2*time.Second)
	drop(t, dir, "pat", "0.txt", "caf\xe9\n", 2*time.Second+time.Millisecond)
	drop(t, dir, "pat", "tie-b", "2nd\n", time.Minute)
	drop(t, dir, "pat", "tie-a", "1st\n", time.Minute)
	var a takeAll
	// Equal times to the microsecond, for the order by name.
	same := time.Now().Add(-time.Minute)
	for _, n := range []string{"tie-a", "tie-b"} {
		if err := os.Chtimes(filepath.Join(dir, "pat", "in", n), same, same); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Collect(t.Context(), a.take); err != nil {
		t.Fatal(err)
	}
	want := []string{"pat:P5", "sam:done", "pat:P2\nsorry", "pat:caf\ufffd", "pat:1st", "pat:2nd"}
	if got := a.texts(); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if !a.got[0].At.Equal(at) {
		t.Errorf("at %v, want %v", a.got[0].At, at)
	}
	if got := files(t, dir, "pat", "in"); len(got) != 0 {
		t.Errorf("left %q", got)
	}
	if got := files(t, dir, "pat", "read"); len(got) != 5 {
		t.Errorf("read %q", got)
	}
	a.got = nil
	if err := s.Collect(t.Context(), a.take); err != nil || a.got != nil {
		t.Errorf("again: %v, %v", a.got, err)
	}
}

func TestSpoolCollectIgnores(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	for _, name := range []string{".hidden", "a.txt.tmp", "a.part", "a.txt~"} {
		drop(t, dir, "pat", name, "P9\n", 0)
	}
	drop(t, dir, ".secret", "a.txt", "P9\n", 0)
	in := filepath.Join(dir, "pat", "in")
	outside := filepath.Join(t.TempDir(), "outside.txt")
	for _, err := range []error{
		os.WriteFile(outside, []byte("P9\n"), 0o600),
		os.Symlink(outside, filepath.Join(in, "link.txt")),
		os.Symlink(in, filepath.Join(dir, "link")),
		os.Mkdir(filepath.Join(dir, "kim"), 0o700),
		os.Symlink(in, filepath.Join(dir, "kim", "in")),
		os.Mkdir(filepath.Join(in, "folder.txt"), 0o700),
		syscall.Mkfifo(filepath.Join(in, "pipe.txt"), 0o600),
		os.WriteFile(filepath.Join(dir, "stray.txt"), []byte("P9\n"), 0o600),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	before := files(t, in)
	var a takeAll
	if err := s.Collect(t.Context(), a.take); err != nil || a.got != nil {
		t.Errorf("took %v, %v", a.texts(), err)
	}
	if after := files(t, in); !slices.Equal(before, after) {
		t.Errorf("moved: %q, then %q", before, after)
	}
}

func TestSpoolCollectStampsWithAGivenClock(t *testing.T) {
	dir := t.TempDir()
	at := time.Date(2031, 3, 4, 9, 0, 0, 0, time.UTC)
	s := NewSpool(dir, SpoolOptions{Now: func() time.Time { return at }})
	drop(t, dir, "pat", "a.txt", "P5\n", 0)
	var a takeAll
	if err := s.Collect(t.Context(), a.take); err != nil || len(a.got) != 1 || !a.got[0].At.Equal(at) {
		t.Errorf("got %+v, %v", a.got, err)
	}
}

func TestSpoolHalfWritten(t *testing.T) {
	dir := t.TempDir()
	var logs bytes.Buffer
	s := NewSpool(dir, SpoolOptions{Settle: time.Minute, Log: slog.New(slog.NewJSONHandler(&logs, nil))})
	drop(t, dir, "pat", "half.txt", "P", time.Hour)
	drop(t, dir, "pat", "whole.txt", "done\n", time.Hour+time.Second)
	drop(t, dir, "kim", "empty.txt", "", time.Hour)
	var a takeAll
	if err := s.Collect(t.Context(), a.take); !errors.Is(err, ErrHalfWritten) {
		t.Errorf("got %v, want half written", err)
	}
	if got := a.texts(); !slices.Equal(got, []string{"pat:done"}) {
		t.Errorf("took %q", got)
	}
	if got := files(t, dir, "pat", "in"); !slices.Equal(got, []string{"half.txt"}) {
		t.Errorf("left %q", got)
	}
	if l := logs.String(); strings.Count(l, "spool.half_written") != 2 || strings.Contains(l, "pat") || strings.Contains(l, "half.txt") {
		t.Errorf("log %s", l)
	}
	// Written to its end, and another settled as it stands.
	drop(t, dir, "pat", "half.txt", "P5\n", time.Hour)
	drop(t, dir, "kim", "empty.txt", "", 0)
	drop(t, dir, "kim", "settled.txt", "P6", time.Second)
	drop(t, dir, "kim", "future.txt", "P7", 48*time.Hour)
	a.got = nil
	if err := s.Collect(t.Context(), a.take); err != nil {
		t.Errorf("got %v", err)
	}
	if got := a.texts(); !slices.Equal(got, []string{"kim:", "kim:P6", "pat:P5", "kim:P7"}) {
		t.Errorf("took %q", got)
	}
}

func TestSpoolRefusesLarge(t *testing.T) {
	dir := t.TempDir()
	var logs bytes.Buffer
	s := NewSpool(dir, SpoolOptions{Log: slog.New(slog.NewJSONHandler(&logs, nil))})
	drop(t, dir, "pat", "large.txt", strings.Repeat("a", maxAnswer)+"\n", 0)
	drop(t, dir, "pat", "just.txt", strings.Repeat("a", maxAnswer-1)+"\n", 0)
	var a takeAll
	if err := s.Collect(t.Context(), a.take); err != nil {
		t.Error(err)
	}
	if len(a.got) != 1 || len(a.got[0].Text) != maxAnswer-1 {
		t.Errorf("took %d", len(a.got))
	}
	if got := files(t, dir, "pat", "refused"); !slices.Equal(got, []string{"large.txt"}) {
		t.Errorf("refused %q", got)
	}
	if l := logs.String(); !strings.Contains(l, `"spool.refused"`) || strings.Contains(l, "pat") || strings.Contains(l, "large") {
		t.Errorf("log %s", l)
	}
}

// A message that was committed but not moved comes again under the same ID;
// the same name and words at another time are another message.
func TestSpoolIDs(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	var a takeAll
	collect := func() string {
		t.Helper()
		a.got = nil
		if err := s.Collect(t.Context(), a.take); err != nil || len(a.got) != 1 {
			t.Fatalf("took %+v, %v", a.got, err)
		}
		return a.got[0].ID
	}
	at := drop(t, dir, "pat", "a.txt", "P5\n", 0)
	first := collect()
	moved := filepath.Join(dir, "pat", "read", "a.txt")
	if err := os.Rename(moved, filepath.Join(dir, "pat", "in", "a.txt")); err != nil {
		t.Fatal(err)
	}
	if again := collect(); again != first {
		t.Errorf("after a crash: %s, then %s", first, again)
	}
	ids := map[string]bool{first: true}
	for name, d := range map[string]struct {
		contact, name, text string
		offset              time.Duration
	}{
		"next day":      {"pat", "a.txt", "P5\n", 24 * time.Hour},
		"other contact": {"sam", "a.txt", "P5\n", 0},
		"other name":    {"pat", "b.txt", "P5\n", 0},
		"other words":   {"pat", "a.txt", "P6\n", 0},
	} {
		drop(t, dir, d.contact, d.name, d.text, d.offset)
		if d.offset == 0 {
			path := filepath.Join(dir, d.contact, "in", d.name)
			if err := os.Chtimes(path, at, at); err != nil {
				t.Fatal(err)
			}
		}
		id := collect()
		if ids[id] {
			t.Errorf("%s: the same ID", name)
		}
		ids[id] = true
	}
	// Four files of pat's were taken; none was written over.
	if got := files(t, dir, "pat", "read"); len(got) != 4 {
		t.Errorf("read %q", got)
	}
}

func TestSpoolTakeFails(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	drop(t, dir, "pat", "a.txt", "P5\n", 0)
	drop(t, dir, "pat", "b.txt", "P6\n", time.Second)
	calls := 0
	err := s.Collect(t.Context(), func(context.Context, Incoming) error { calls++; return errTake })
	if !errors.Is(err, errTake) || calls != 1 {
		t.Errorf("%v after %d calls", err, calls)
	}
	var a takeAll
	if err := s.Collect(t.Context(), a.take); err != nil {
		t.Error(err)
	}
	if got := a.texts(); !slices.Equal(got, []string{"pat:P5", "pat:P6"}) {
		t.Errorf("then took %q", got)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	drop(t, dir, "pat", "c.txt", "P1\n", 0)
	if err := s.Collect(ctx, a.take); !errors.Is(err, context.Canceled) {
		t.Errorf("canceled: %v", err)
	}
}

// A file put in the place of one that is being taken is not lost: it stays,
// Collect does not claim to have heard everything, and the next one reads it.
func TestSpoolChangedMeanwhile(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	drop(t, dir, "pat", "a.txt", "P2\n", 0)
	var a takeAll
	err := s.Collect(t.Context(), func(ctx context.Context, in Incoming) error {
		drop(t, dir, "pat", "a.txt", "P9\n", time.Second)
		return a.take(ctx, in)
	})
	if !errors.Is(err, errChanged) || strings.Contains(err.Error(), "pat") {
		t.Errorf("got %v", err)
	}
	if err := s.Collect(t.Context(), a.take); err != nil {
		t.Error(err)
	}
	if got := a.texts(); !slices.Equal(got, []string{"pat:P2", "pat:P9"}) {
		t.Errorf("took %q", got)
	}
}

// A folder that can't be read is not heard; the others are all the same, and
// the error names nobody.
func TestSpoolCollectTrouble(t *testing.T) {
	dir := t.TempDir()
	s := NewSpool(dir, SpoolOptions{})
	drop(t, dir, "pat", "a.txt", "P5\n", 0)
	drop(t, dir, "sam", "a.txt", "P6\n", time.Second)
	// A file where read/ should be: what was taken can't be moved away.
	if err := os.WriteFile(filepath.Join(dir, "pat", "read"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	var a takeAll
	err := s.Collect(t.Context(), a.take)
	if err == nil || strings.Contains(err.Error(), "pat") || strings.Contains(err.Error(), dir) {
		t.Errorf("got %v", err)
	}
	if got := a.texts(); !slices.Equal(got, []string{"pat:P5", "sam:P6"}) {
		t.Errorf("took %q", got)
	}
	plain := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(plain, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := NewSpool(plain, SpoolOptions{}).Collect(t.Context(), a.take); err == nil || strings.Contains(err.Error(), plain) {
		t.Errorf("a file as spool: %v", err)
	}
}

// Between listing and reading, a file may be written to, or something else be
// put in its place: it is not read, and a pipe does not stop the reading.
func TestSpoolReadsWhatItListed(t *testing.T) {
	outside := filepath.Join(t.TempDir(), "outside.txt")
	if err := os.WriteFile(outside, []byte("P9\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(path string) error{
		"written to": func(path string) error { return os.WriteFile(path, []byte("P2\nP9\n"), 0o600) },
		"replaced by a link": func(path string) error {
			return errors.Join(os.Remove(path), os.Symlink(outside, path))
		},
		"replaced by a pipe": func(path string) error {
			return errors.Join(os.Remove(path), syscall.Mkfifo(path, 0o600))
		},
	} {
		dir := t.TempDir()
		drop(t, dir, "pat", "a.txt", "P2\n", 0)
		path := filepath.Join(dir, "pat", "in", "a.txt")
		info, err := os.Lstat(path)
		if err != nil {
			t.Fatal(err)
		}
		if body, err := readRegular(path, info); err != nil || string(body) != "P2\n" {
			t.Errorf("before: %q, %v", body, err)
		}
		if err := change(path); err != nil {
			t.Fatal(err)
		}
		if body, err := readRegular(path, info); err == nil {
			t.Errorf("%s: read %q", name, body)
		}
	}
}

// Whatever lies in a spool file: it is taken once as good text, refused, or
// waited for, and never taken twice.
func FuzzSpoolFile(f *testing.F) {
	for _, s := range []string{"D P2\n", "D P2", "", "\n", "\ufeffP5\n", "caf\xe9\n", "a\r\nb\r\n", "\x00\x01\n", "P\u200b5\n", strings.Repeat("x", 5000) + "\n"} {
		f.Add([]byte(s), "a.txt")
	}
	f.Add([]byte("D\n"), ".hidden")
	f.Add([]byte("D\n"), "a.tmp")
	f.Fuzz(func(t *testing.T, body []byte, name string) {
		if name == "" || len(name) > 100 || name == "." || name == ".." || strings.ContainsAny(name, "/\x00") {
			return
		}
		dir := t.TempDir()
		drop(t, dir, "pat", name, string(body), 0)
		var a takeAll
		s := NewSpool(dir, SpoolOptions{Settle: time.Minute, NoSync: true})
		first := s.Collect(t.Context(), a.take)
		n := len(a.got)
		if second := s.Collect(t.Context(), a.take); n > 1 || len(a.got) != n || first == nil && second != nil {
			t.Fatalf("%q: taken %d times, then %d (%v, %v)", body, n, len(a.got)-n, first, second)
		}
		for _, in := range a.got {
			if !utf8.ValidString(in.Text) || in.From != "pat" || in.ID == "" {
				t.Fatalf("%q was taken as %+v", body, in)
			}
		}
	})
}
