package demo_test

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"stepgate/daemon/demo"
	"stepgate/daemon/journal"
)

// escape is a color code, as a terminal takes it.
var escape = regexp.MustCompile("\x1b\\[[0-9;]*m")

func play(t *testing.T, o demo.Options) string {
	t.Helper()
	var out bytes.Buffer
	o.Out = &out
	if err := demo.Run(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// narrow checks that every line fits 80 columns. Lines about the folder are as
// wide as its name.
func narrow(t *testing.T, out, dir string) {
	t.Helper()
	for line := range strings.Lines(out) {
		if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > 80 && !strings.Contains(line, dir) {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}

// TestColor plays the demo for a terminal: beside its colors it is the very
// page that a pipe gets.
func TestColor(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "demo")
	plain := play(t, demo.Options{Dir: dir})
	colored := play(t, demo.Options{Dir: dir, Color: true})
	if strings.ContainsRune(plain, '\x1b') {
		t.Error("without color the page has escape codes")
	}
	if len(escape.FindAllString(colored, -1)) < 50 {
		t.Errorf("with color the page has %d escape codes", len(escape.FindAllString(colored, -1)))
	}
	bare := escape.ReplaceAllString(colored, "")
	if bare != plain {
		t.Error("with color the page says something else, or breaks its lines elsewhere")
	}
	narrow(t, bare, dir)
	if strings.Contains(plain, "go run") || !strings.Contains(plain, "\n  stepgate caseload "+dir+"\n") {
		t.Error("what to try next is not what was installed")
	}
}

// TestAll prints every message of every day: each that lies on the spool, and
// each reply.
func TestAll(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "demo")
	out := play(t, demo.Options{Dir: dir, All: true})
	narrow(t, out, dir)
	page := strings.Join(strings.Fields(out), " ")
	for _, x := range []struct {
		folder string
		sign   string
		least  int // replies and texts of eight weeks: more than four patients' daily ones
	}{{"out", "-> ", 4 * 56 * 2}, {"read", "<- ", 4 * 56}} {
		names, err := filepath.Glob(filepath.Join(dir, "data", "spool", "*", x.folder, "*.txt"))
		if err != nil || len(names) < x.least {
			t.Fatalf("%d files in %s, %v", len(names), x.folder, err)
		}
		shown := strings.Count(page, x.sign) - 1 // one tells what the sign means
		for _, name := range names {
			if filepath.Base(filepath.Dir(filepath.Dir(name))) == "clinician" {
				continue
			}
			b, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if text := strings.Join(strings.Fields(string(b)), " "); !strings.Contains(page, x.sign+text) {
				t.Errorf("not on the page: %s%s", x.sign, text)
			}
			shown--
		}
		if shown != 0 {
			t.Errorf("the page has %d more of %q than lie in the folders", shown, x.sign)
		}
	}
}

// TestFolders begins in a folder that is not there, goes on in one where an
// earlier demo was cut off, and leaves alone what it did not make.
func TestFolders(t *testing.T) {
	t.Parallel()
	canceled, cancel := context.WithCancel(t.Context())
	cancel()
	dir := filepath.Join(t.TempDir(), "deep", "demo")
	run := func() error { return demo.Run(canceled, demo.Options{Dir: dir, Out: &bytes.Buffer{}}) }
	for range 2 { // cut off on the first day, and again
		if err := run(); !errors.Is(err, context.Canceled) {
			t.Fatalf("a demo that is cut off: %v, want context.Canceled", err)
		}
	}
	for name, mode := range map[string]os.FileMode{"": 0o700, "stepgate.yaml": 0o600, "data": 0o700, "data/journal.db": 0o600} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Mode().Perm() != mode {
			t.Errorf("%q: %v, %v; want mode %v", name, info.Mode(), err, mode)
		}
	}
	var foreign demo.ForeignError
	mine := filepath.Join(filepath.Dir(dir), "mine.txt")
	if err := os.WriteFile(mine, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	dir = filepath.Dir(dir)
	if err := run(); !errors.As(err, &foreign) || foreign.Dir != dir {
		t.Errorf("a folder with something in it: %v, want a ForeignError", err)
	}
	if b, err := os.ReadFile(mine); err != nil || string(b) != "mine" {
		t.Errorf("the file in it: %q, %v", b, err)
	}
	dir = mine
	if err := run(); err == nil || errors.As(err, &foreign) {
		t.Errorf("a file in the folder's place: %v", err)
	}
}

// TestRunningFolder: a demo empties no folder in which a service runs, be it in
// real time or in quick time.
func TestRunningFolder(t *testing.T) {
	t.Parallel()
	canceled, cancel := context.WithCancel(t.Context())
	cancel()
	for _, data := range []string{"data", "data/quick"} {
		dir := filepath.Join(t.TempDir(), "demo")
		run := func() error { return demo.Run(canceled, demo.Options{Dir: dir, Out: &bytes.Buffer{}}) }
		if err := run(); !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
		if err := os.MkdirAll(filepath.Join(dir, data), 0o700); err != nil {
			t.Fatal(err)
		}
		j, err := journal.Open(filepath.Join(dir, data, "journal.db"), journal.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var running demo.RunningError
		if err := run(); !errors.As(err, &running) || !strings.Contains(err.Error(), "--dir") {
			t.Errorf("%s is in use: %v, want a RunningError", data, err)
		}
		live := demo.Live(canceled, demo.LiveOptions{Dir: dir, You: "p-01"})
		if !errors.As(live, &running) {
			t.Errorf("%s is in use, live: %v, want a RunningError", data, live)
		}
		if _, err := os.Stat(filepath.Join(dir, data, "journal.db")); err != nil {
			t.Errorf("the journal in use: %v", err)
		}
		if err := j.Close(); err != nil {
			t.Error(err)
		}
		if err := run(); !errors.Is(err, context.Canceled) {
			t.Errorf("after it ended: %v", err)
		}
	}
}
