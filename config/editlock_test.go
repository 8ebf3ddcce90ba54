package config

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"stepgate/rules"
)

// TestWritesAtOnce: of edits written at once, as by the service and a command,
// each that is said to be written is in the file.
func TestWritesAtOnce(t *testing.T) {
	dir := clinicFolder(t, base())
	const writers, each = 4, 20
	var all sync.WaitGroup
	for w := range writers {
		all.Go(func() {
			for i := range each {
				n := heldEntry
				n.Why = fmt.Sprintf("mark %d of %d.", i, w)
				for {
					e, err := AddEntries(dir, "ada-1", []rules.Entry{n})
					if err == nil {
						err = e.Write()
					}
					if err == nil {
						break
					}
					if !errors.Is(err, ErrChanged) {
						t.Error(err)
						return
					}
				}
			}
		})
	}
	all.Wait()
	text, err := os.ReadFile(filepath.Join(dir, enrollmentsFile))
	must(t, err)
	if got := strings.Count(string(text), "why: mark "); got != writers*each {
		t.Errorf("%d entries were written, %d are there", writers*each, got)
	}
	only(t, dir, enrollmentsFile, programFolder, settingsFile)
}

// TestWriteWaits: a write waits until the folder is free.
func TestWriteWaits(t *testing.T) {
	dir := clinicFolder(t, base())
	e := editIn(t, dir)
	unlock, err := lockFolder(dir)
	must(t, err)
	done := make(chan error, 1)
	go func() { done <- e.Write() }()
	select {
	case err := <-done:
		t.Errorf("it did not wait: %v", err)
	case <-time.After(50 * time.Millisecond):
	}
	unlock()
	select {
	case err := <-done:
		must(t, err)
	case <-time.After(lockWait):
		t.Error("it still waits")
	}
}

// TestNewFilesArePrivate: a new file of enrollments is as private as its
// neighbor, and a new clinic's folder is its owner's alone, whatever the umask.
func TestNewFilesArePrivate(t *testing.T) {
	mode := func(path ...string) os.FileMode {
		info, err := os.Stat(filepath.Join(path...))
		must(t, err)
		return info.Mode().Perm()
	}
	for _, like := range []os.FileMode{0o600, 0o640} {
		x := enrollingIn(t, base())
		must(t, os.Chmod(filepath.Join(x.Clinic.Dir, enrollmentsFile), like))
		e, err := x.Edit([]Newcomer{rosa()}, "enrollments/wed.yaml")
		must(t, err)
		must(t, e.Write())
		folder := map[os.FileMode]os.FileMode{0o600: 0o700, 0o640: 0o750}[like]
		if got := mode(e.Path); got != like || mode(filepath.Dir(e.Path)) != folder {
			t.Errorf("beside %v the file is %v in a folder of %v", like, got, mode(filepath.Dir(e.Path)))
		}
	}
	o := opening(t, starterPrograms(t)[0])
	_, err := o.Make()
	must(t, err)
	for name, want := range map[string]os.FileMode{".": 0o700, enrollmentsFile: 0o600, settingsFile: 0o600, programFolder: 0o700} {
		if got := mode(o.Dir, name); got != want {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
	}
}
