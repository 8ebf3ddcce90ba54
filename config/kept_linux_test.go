package config

import (
	"bytes"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A disk with no room for the new one leaves the old one, and nothing beside it.
func TestAFullDiskKeepsWhatThereWas(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir, Least: 1}
	put(t, dir, "data/.there", "")
	readsAlike(t, r, 0, 3)
	was, err := os.ReadFile(keptAt(dir))
	if err != nil {
		t.Fatal(err)
	}
	put(t, dir, "enrollments/b.yaml", strings.ReplaceAll(keptPatients("b"), "Marisolb", "Renatab"))
	c, _, _ := r.Load()

	// The size a file may have stands in for the room on the disk: the same call
	// fails, after as many bytes.
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	var usual syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &usual); err != nil {
		t.Fatal(err)
	}
	small := syscall.Rlimit{Cur: uint64(len(was)) - 10, Max: usual.Max}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &small); err != nil {
		t.Fatal(err)
	}
	err = r.Keep(c)
	if back := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &usual); back != nil {
		t.Fatal(back)
	}
	if err == nil || !strings.Contains(err.Error(), "file too large") {
		t.Errorf("kept without room: %v", err)
	}
	if now, err := os.ReadFile(keptAt(dir)); err != nil || !bytes.Equal(now, was) {
		t.Errorf("the old one is not what it was: %v", err)
	}
	if _, err := os.Lstat(filepath.Join(dir, "data", keptNew)); err == nil {
		t.Error("half of the new one lies about")
	}
	readsAlike(t, r, 2, 1)
	readsAlike(t, r, 3, 0)
}
