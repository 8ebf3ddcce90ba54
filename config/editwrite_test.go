package config

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"stepgate/rules"
)

// editIn makes an edit of a folder's enrollments.
func editIn(t *testing.T, dir string) *Edit {
	t.Helper()
	e, err := AddEntries(dir, "ada-1", []rules.Entry{heldEntry})
	must(t, err)
	return e
}

// only fails if a folder holds anything but the clinic's files.
func only(t *testing.T, dir string, names ...string) {
	t.Helper()
	found, err := os.ReadDir(dir)
	must(t, err)
	var got []string
	for _, f := range found {
		got = append(got, f.Name())
	}
	if strings.Join(got, " ") != strings.Join(names, " ") {
		t.Errorf("the folder holds %v, want %v", got, names)
	}
}

// TestWriteEdit: the file is replaced as a whole, with its mode and owner.
func TestWriteEdit(t *testing.T) {
	dir := clinicFolder(t, base())
	e := editIn(t, dir)
	must(t, os.Chmod(e.Path, 0o664))
	if os.Getuid() == 0 {
		must(t, os.Chown(e.Path, 1234, 5678))
	}
	before, err := os.Stat(e.Path)
	must(t, err)
	must(t, e.Write())
	after, err := os.Stat(e.Path)
	must(t, err)
	was, is := before.Sys().(*syscall.Stat_t), after.Sys().(*syscall.Stat_t)
	if after.Mode() != before.Mode() || is.Uid != was.Uid || is.Gid != was.Gid || is.Ino == was.Ino {
		t.Errorf("mode %v, owner %d:%d, want %v, %d:%d and another file", after.Mode(), is.Uid, is.Gid, before.Mode(), was.Uid, was.Gid)
	}
	text, err := os.ReadFile(e.Path)
	must(t, err)
	if string(text) != string(e.After) {
		t.Error("the file does not hold the edit")
	}
	only(t, dir, enrollmentsFile, programFolder, settingsFile)
	if err := e.Write(); !errors.Is(err, ErrChanged) {
		t.Errorf("written a second time: %v", err)
	}
}

// TestWriteThroughLink: a link stays a link, and what it leads to is edited.
func TestWriteThroughLink(t *testing.T) {
	dir, shared := clinicFolder(t, base()), t.TempDir()
	path, target := filepath.Join(dir, enrollmentsFile), filepath.Join(shared, "patients.txt")
	must(t, os.Rename(path, target))
	must(t, os.Symlink(target, path))
	e := editIn(t, dir)
	must(t, e.Write())
	if to, err := os.Readlink(path); err != nil || to != target {
		t.Errorf("the link leads to %q, %v", to, err)
	}
	text, err := os.ReadFile(target)
	must(t, err)
	if string(text) != string(e.After) {
		t.Error("the linked file does not hold the edit")
	}
	only(t, shared, "patients.txt")
}

// TestWriteRefused: a file that changed, went or may not be written is left
// alone, and nothing is left beside it.
func TestWriteRefused(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(path string) error
		want  string
	}{
		"changed":         {func(path string) error { return os.WriteFile(path, []byte("enrollments: []\n"), 0o640) }, ErrChanged.Error()},
		"gone":            {os.Remove, "it does not exist"},
		"write-protected": {func(path string) error { return os.Chmod(path, 0o444) }, "not writable: it is write-protected"},
		"a folder": {func(path string) error {
			return errors.Join(os.Remove(path), os.Mkdir(path, 0o755))
		}, "not writable: it is not a plain file"},
	} {
		dir := clinicFolder(t, base())
		e := editIn(t, dir)
		must(t, c.spoil(e.Path))
		was, _ := os.ReadFile(e.Path)
		err := e.Write()
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), dir) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
		if now, _ := os.ReadFile(e.Path); string(now) != string(was) {
			t.Errorf("%s: the file was written", name)
		}
		names := []string{enrollmentsFile, programFolder, settingsFile}
		if name == "gone" {
			names = names[1:]
		}
		only(t, dir, names...)
	}
}
