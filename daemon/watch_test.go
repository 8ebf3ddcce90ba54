package daemon

import (
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/config"
)

// underWatch is a clinic's folder that is watched. Each reading that the watch asks
// for is made, and what it found is sent on readings.
type underWatch struct {
	t        *testing.T
	dir      string
	w        *watch
	logs     *logs
	asked    chan struct{}
	readings chan map[string]string
}

// testPace is as patient as tests are; nothing is looked at without a sign.
var testPace = pace{quiet: 150 * time.Millisecond, most: 2 * time.Second, anyway: time.Hour}

func watching(t *testing.T, p pace) *underWatch {
	t.Helper()
	x := &underWatch{t: t, dir: t.TempDir(), logs: &logs{}, asked: make(chan struct{}, 1), readings: make(chan map[string]string, 100)}
	x.write("stepgate.yaml", "settings")
	x.write("enrollments.yaml", "patients")
	x.write("programs/steady.yaml", "a program")
	x.start(p)
	return x
}

func (x *underWatch) start(p pace) {
	load := func() (*config.Clinic, config.Problems) { return nil, nil }
	x.w = newWatch(x.dir, slog.New(slog.NewTextHandler(x.logs, nil)), x.asked, load)
	x.w.pace = p
	x.w.read()
	stop := x.w.start(x.t.Context())
	ctx, cancel := context.WithCancel(x.t.Context())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-x.w.out:
				x.w.read()
				x.readings <- config.Hashes(x.dir)
			case <-ctx.Done():
				return
			}
		}
	}()
	x.t.Cleanup(func() { stop(); cancel(); <-done })
}

func (x *underWatch) path(name string) string { return filepath.Join(x.dir, filepath.FromSlash(name)) }

func (x *underWatch) must(err error) {
	x.t.Helper()
	if err != nil {
		x.t.Fatal(err)
	}
}

// write writes a file in place.
func (x *underWatch) write(name, text string) {
	x.t.Helper()
	x.must(os.MkdirAll(filepath.Dir(x.path(name)), 0o755))
	x.must(os.WriteFile(x.path(name), []byte(text), 0o644))
}

// aside writes a file beside another and renames it over that one.
func (x *underWatch) aside(name, beside, text string) {
	x.t.Helper()
	x.write(beside, text)
	x.must(os.Rename(x.path(beside), x.path(name)))
}

// next is what the next reading found.
func (x *underWatch) next() map[string]string {
	x.t.Helper()
	select {
	case r := <-x.readings:
		return r
	case <-time.After(20 * time.Second):
		x.t.Fatalf("nothing was read; the log:\n%s", x.logs)
		return nil
	}
}

// wantNext wants the next reading to find a file with this text, or not at all.
func (x *underWatch) wantNext(name, text string) {
	x.t.Helper()
	r := x.next()
	want := config.NewFile(name, []byte(text)).Hash
	if text == "" {
		want = ""
	}
	if r[name] != want {
		x.t.Errorf("%s was not read as it was saved", name)
	}
}

// wantQuiet wants no reading that nobody had reason for: the next one finds a
// change made only now.
func (x *underWatch) wantQuiet() {
	x.t.Helper()
	x.write("programs/barrier.yaml", "so far")
	x.wantNext("programs/barrier.yaml", "so far")
	if n := len(x.readings); n > 0 {
		x.t.Errorf("%d readings too many", n)
	}
}

// TestWaysOfSaving: however a file is saved, it is read once, as it is at the
// end.
func TestWaysOfSaving(t *testing.T) {
	const file = "enrollments.yaml"
	for name, save := range map[string]func(x *underWatch){
		"in place": func(x *underWatch) { x.write(file, "new") },
		"in place, in pieces": func(x *underWatch) {
			f, err := os.OpenFile(x.path(file), os.O_WRONLY|os.O_TRUNC, 0)
			x.must(err)
			for _, piece := range []string{"n", "e", "w"} {
				_, err = f.WriteString(piece)
				x.must(err)
				x.must(f.Sync())
			}
			x.must(f.Close())
		},
		"aside and renamed over": func(x *underWatch) { x.aside(file, ".enrollments.yaml.tmp", "new") },
		"twice aside": func(x *underWatch) {
			x.aside(file, "4913", "old")
			x.aside(file, "4913", "new")
		},
		"moved to a copy and written": func(x *underWatch) {
			x.must(os.Rename(x.path(file), x.path(file+"~")))
			x.write(file, "new")
		},
		"removed and created": func(x *underWatch) {
			x.must(os.Remove(x.path(file)))
			x.write(file, "new")
		},
		"removed and created much later": func(x *underWatch) {
			x.must(os.Remove(x.path(file)))
			time.AfterFunc(4*testPace.quiet, func() { x.write(file, "new") })
		},
		"emptied and written much later": func(x *underWatch) {
			x.write(file, "")
			time.AfterFunc(4*testPace.quiet, func() { x.write(file, "new") })
		},
		"hard link swapped": func(x *underWatch) {
			x.write("aside", "new")
			x.must(os.Remove(x.path(file)))
			x.must(os.Link(x.path("aside"), x.path(file)))
		},
		"several files in a row": func(x *underWatch) {
			for _, name := range []string{"stepgate.yaml", "programs/steady.yaml", "programs/more.yaml", file} {
				x.write(name, "new")
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := watching(t, testPace)
			for range 2 { // and again, the same way
				x.write(file, "before")
				x.wantNext(file, "before")
				save(x)
				x.wantNext(file, "new")
			}
			x.wantQuiet()
		})
	}
}

// TestNothingChanged: what leaves the clinic's files as they are has nothing
// read.
func TestNothingChanged(t *testing.T) {
	x := watching(t, testPace)
	x.write("stepgate.yaml", "settings")
	x.aside("enrollments.yaml", "tmp", "patients")
	x.write("programs/steady.cases.yaml", "cases")
	x.write("programs/.steady.yaml.swp", "swap")
	x.write("data/journal.db", "journal")
	x.must(os.Chtimes(x.path("stepgate.yaml"), time.Now(), time.Now()))
	x.must(os.Chmod(x.path("stepgate.yaml"), 0o600))
	x.wantQuiet()
	x.write("stepgate.yaml", "other") // there and back, before anybody looks
	x.write("stepgate.yaml", "settings")
	x.must(os.Remove(x.path("programs/barrier.yaml")))
	x.wantNext("programs/barrier.yaml", "")
	x.asked <- struct{}{} // by a signal, whatever changed
	x.wantNext("stepgate.yaml", "settings")
	x.wantQuiet()
}

// TestFoldersFollowed: folders that come, go and take each other's place.
func TestFoldersFollowed(t *testing.T) {
	x := watching(t, testPace)
	x.write("enrollments/north.yaml", "one")
	x.wantNext("enrollments/north.yaml", "one")
	x.write("enrollments/north.yaml", "two")
	x.wantNext("enrollments/north.yaml", "two")

	x.must(os.Rename(x.path("programs"), x.path("programs.old")))
	x.write("programs/steady.yaml", "a better program")
	x.wantNext("programs/steady.yaml", "a better program")
	x.aside("programs/steady.yaml", "programs/x", "the best")
	x.wantNext("programs/steady.yaml", "the best")

	begun := time.Now()
	x.must(os.RemoveAll(x.path("enrollments")))
	x.wantNext("enrollments/north.yaml", "")
	if took := time.Since(begun); took < testPace.most { // it may have been somebody saving
		t.Errorf("a file that went was taken for gone after %v", took)
	}
	x.write("enrollments/south.yaml", "three")
	x.wantNext("enrollments/south.yaml", "three")
	x.write("enrollments/south.yaml", "four")
	x.wantNext("enrollments/south.yaml", "four")
	if x.logs.String() != "" {
		t.Errorf("the log:\n%s", x.logs)
	}
}

// TestFilesElsewhere: what the system does not tell is found by looking.
func TestFilesElsewhere(t *testing.T) {
	p := testPace
	p.anyway = p.quiet
	x := watching(t, p)
	elsewhere := filepath.Join(t.TempDir(), "patients.yaml")
	x.must(os.WriteFile(elsewhere, []byte("one"), 0o644))
	x.must(os.Remove(x.path("enrollments.yaml")))
	x.must(os.Symlink(elsewhere, x.path("enrollments.yaml")))
	x.wantNext("enrollments.yaml", "one")
	x.must(os.WriteFile(elsewhere, []byte("two"), 0o644))
	x.wantNext("enrollments.yaml", "two")
	x.wantQuiet()
}

// TestUnwatchable: a folder that can't be underWatch is said once, a signal still
// has it read, and it is underWatch once it can be.
func TestUnwatchable(t *testing.T) {
	p := testPace
	p.anyway = 20 * time.Millisecond
	x := &underWatch{t: t, dir: filepath.Join(t.TempDir(), "later"), logs: &logs{}, asked: make(chan struct{}, 1), readings: make(chan map[string]string, 100)}
	x.start(p)
	for range 3 {
		x.asked <- struct{}{}
		if r := x.next(); len(r) > 0 {
			t.Errorf("read where there is nothing: %v", r)
		}
	}
	x.write("stepgate.yaml", "settings")
	x.wantNext("stepgate.yaml", "settings")
	x.wantQuiet()
	if got := x.logs.String(); strings.Count(got, "watch.failed") != 1 || !strings.Contains(got, "no such file or directory") {
		t.Errorf("the log:\n%s", got)
	}
}
