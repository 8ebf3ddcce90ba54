package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"debug/elf"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

const (
	testVersion = "9.8.7-rc.1"
	testDate    = "2026-10-05T07:08:09Z"
)

// made is a release of a copy of this source, made once for all tests.
var made struct {
	once sync.Once
	dir  string
	r    release
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if made.dir != "" {
		os.RemoveAll(made.dir)
	}
	os.Exit(code)
}

func testRelease(t *testing.T, source, out string) release {
	t.Helper()
	at, err := time.Parse(time.RFC3339, testDate)
	if err != nil {
		t.Fatal(err)
	}
	return release{source: source, out: out, version: testVersion, maintainer: "Jo Tester <jo@example.org>", arches: []string{"amd64", "arm64"}, at: at}
}

// theRelease is that release; its files are not to be changed.
func theRelease(t *testing.T) release {
	t.Helper()
	made.once.Do(func() {
		if made.dir, made.err = os.MkdirTemp("", "stepgate-release-"); made.err != nil {
			return
		}
		made.r = testRelease(t, filepath.Join(made.dir, "source"), filepath.Join(made.dir, "out"))
		copySource(t, "../..", made.r.source)
		made.err = made.r.make(context.Background())
	})
	if made.err != nil {
		t.Fatal(made.err)
	}
	return made.r
}

// one is the one file of a release with such a name.
func (r release) one(t *testing.T, pattern string) string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(r.out, pattern))
	if err != nil || len(found) != 1 {
		t.Fatalf("%s: %v, %v; want one file", pattern, found, err)
	}
	return found[0]
}

// TestWhatIsMade: a release is these files and no others, with their checksums.
func TestWhatIsMade(t *testing.T) {
	t.Parallel()
	r := theRelease(t)
	want := []string{"SHA256SUMS"}
	for _, arch := range r.arches {
		name := "stepgate-" + testVersion + "-linux-" + arch
		want = append(want, name, name+".cdx.json", name+".third-party.txt", "stepgate_9.8.7~rc.1-1_"+arch+".deb")
	}
	slices.Sort(want)
	entries, err := os.ReadDir(r.out)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	var sums strings.Builder
	for _, e := range entries {
		got = append(got, e.Name())
		if e.Name() != "SHA256SUMS" {
			fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(read(t, filepath.Join(r.out, e.Name()))), e.Name())
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("made:\n%q\nwant:\n%q", got, want)
	}
	if body := string(read(t, filepath.Join(r.out, "SHA256SUMS"))); body != sums.String() {
		t.Errorf("SHA256SUMS:\n%s\nwant:\n%s", body, sums.String())
	}
}

func read(t *testing.T, path string) []byte {
	t.Helper()
	body, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return body
}

// TestProgram: it needs no library, holds no path of this machine, and knows
// its version.
func TestProgram(t *testing.T) {
	t.Parallel()
	r := theRelease(t)
	for arch, machine := range map[string]elf.Machine{"amd64": elf.EM_X86_64, "arm64": elf.EM_AARCH64} {
		path := r.one(t, "stepgate-*-linux-"+arch)
		f, err := elf.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		libraries, err := f.ImportedLibraries()
		if err != nil || len(libraries) > 0 || f.Section(".interp") != nil || f.Section(".symtab") != nil || f.Machine != machine {
			t.Errorf("%s: libraries %v, interpreter %v, symbols %v, machine %v, %v", path, libraries, f.Section(".interp"), f.Section(".symtab"), f.Machine, err)
		}
		f.Close()
		body := read(t, path)
		for _, place := range []string{r.source, r.out} {
			if bytes.Contains(body, []byte(place)) {
				t.Errorf("%s has the path %s in it", path, place)
			}
		}
		if arch != hostArch(t) {
			continue
		}
		out, err := exec.Command(path, "version", "--json").Output()
		var v struct{ Version, Go, System string }
		if err := json.Unmarshal(out, &v); err != nil {
			t.Fatal(err)
		}
		if err != nil || v.Version != testVersion || !strings.HasPrefix(v.Go, "go1.") || v.System != "linux/"+arch {
			t.Errorf("version --json: %s, %v", out, err)
		}
	}
}

func hostArch(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "env", "GOHOSTARCH").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(out))
}

// TestSameBytes makes the release again from a copy of the source in another
// place: every file is the same. STEPGATE_CACHE=own has the second compiled
// from nothing; else what the Go tool keeps is used, and only linking and
// packing are done twice, for the machine that this is.
func TestSameBytes(t *testing.T) {
	t.Parallel()
	first := theRelease(t)
	again := testRelease(t, filepath.Join(t.TempDir(), "another place"), t.TempDir())
	copySource(t, first.source, again.source)
	if os.Getenv("STEPGATE_CACHE") == "own" {
		again.cache = t.TempDir()
	} else {
		again.arches = []string{hostArch(t)}
	}
	t.Logf("STEPGATE_CACHE=%s", os.Getenv("STEPGATE_CACHE"))
	if err := again.make(context.Background()); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(again.out)
	if err != nil || len(entries) != 4*len(again.arches)+1 {
		t.Fatalf("%v, %v; want 4 files an architecture, and their sums", entries, err)
	}
	for _, e := range entries {
		if e.Name() == "SHA256SUMS" {
			continue // of other files, or of these
		}
		a, b := read(t, filepath.Join(first.out, e.Name())), read(t, filepath.Join(again.out, e.Name()))
		if !bytes.Equal(a, b) {
			t.Errorf("%s: made twice, it differs", e.Name())
		}
	}
}

// copySource copies the source, and with it what is known of its commit.
func copySource(t *testing.T, from, to string) {
	t.Helper()
	err := filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		target := filepath.Join(to, rel)
		switch {
		case d.IsDir():
			return os.MkdirAll(target, 0o755)
		case !d.Type().IsRegular():
			return nil
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		body, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(target, body, info.Mode().Perm())
	})
	if err != nil {
		t.Fatal(err)
	}
}
