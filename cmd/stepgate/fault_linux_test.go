package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"golang.org/x/sys/unix"

	"stepgate/daemon"
)

// limitFiles lets a process write no file beyond so many bytes, which is a full
// disk to it; what is there already can be read.
func limitFiles(t *testing.T, p *process, bytes uint64) {
	t.Helper()
	if err := unix.Prlimit(p.cmd.Process.Pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: bytes, Max: unix.RLIM_INFINITY}, nil); err != nil {
		t.Fatal(err)
	}
}

// drop puts a reply on the spool, whole at once.
func drop(t *testing.T, dir, contact, name, text string) {
	t.Helper()
	in := filepath.Join(dir, "data", "spool", contact, "in")
	if err := os.MkdirAll(in, 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, in, name+".part", text)
	if err := os.Rename(filepath.Join(in, name+".part"), filepath.Join(in, name)); err != nil {
		t.Fatal(err)
	}
}

// health asks for a folder's health in both ways, and wants an exit code.
func health(t *testing.T, code int, dir string) (words string, h daemon.Health) {
	t.Helper()
	words = wantRun(t, code, nil, "health", dir).out
	if err := json.Unmarshal([]byte(wantRun(t, code, nil, "health", dir, "--json").out), &h); err != nil || h.OK != (code == exitGood) {
		t.Fatalf("health --json: %+v, %v", h, err)
	}
	return words, h
}

// TestFullDisk fills the disk under a running service. The reply that comes in
// meanwhile stays where it is, and is taken once there is room: nobody has to
// do more than make some.
func TestFullDisk(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, nil, dir)
	waitUntil(t, "the first tick", func() bool {
		return !strings.Contains(wantRun(t, exitGood, nil, "health", dir).out, "none yet")
	})
	limitFiles(t, svc, 4096)
	drop(t, dir, "rosa", "one.txt", "D P1\n")
	svc.waitLog(`msg=in.failed channel=spool error="disk full"`)
	words, h := health(t, exitNotWell, dir)
	if !strings.Contains(words, "! incoming messages of spool cannot be read") || len(h.Problems) == 0 {
		t.Errorf("health:\n%s", words)
	}
	limitFiles(t, svc, unix.RLIM_INFINITY)
	svc.waitLog("msg=in.taken id=rosa-01 channel=spool")
	waitUntil(t, "health to be good again", func() bool { return strings.Contains(runToEnd(t, nil, "health", dir).out, "The service is well.") })
	health(t, exitGood, dir)
	svc.stop()
	heard := 0
	for _, e := range journalOf(t, dir, "data", "journal.db") {
		if e.In != nil {
			heard++
		}
	}
	if heard != 1 {
		t.Errorf("the reply was heard %d times", heard)
	}
	words, _ = health(t, exitNotWell, dir)
	if !strings.Contains(words, "no service runs for "+dir) || !strings.Contains(words, "stepgate serve "+dir) {
		t.Errorf("health of a stopped service:\n%s", words)
	}
}

// TestReadOnlyData starts a service on a data folder it may not write to. It
// says so and ends, and works once it may.
func TestReadOnlyData(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	serve(t, nil, dir).stop()
	data := filepath.Join(dir, "data")
	for path, mode := range map[string]os.FileMode{filepath.Join(data, "journal.db"): 0o400, data: 0o500} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	ended := make(chan result)
	go func() {
		defer close(ended)
		// Root may write anywhere: what runs from this thread on is not let to. The
		// thread ends with its goroutine.
		runtime.LockOSThread()
		if os.Geteuid() == 0 {
			if err := unix.Prctl(unix.PR_CAPBSET_DROP, unix.CAP_DAC_OVERRIDE, 0, 0, 0); err != nil {
				t.Error(err)
			}
		}
		ended <- runToEnd(t, nil, "serve", dir)
	}()
	got := <-ended
	if got.code != exitNotWell || !strings.Contains(got.log, "may not be written to") || !strings.Contains(got.log, data) {
		t.Errorf("exit code %d, and it says %q", got.code, got.log)
	}
	for path, mode := range map[string]os.FileMode{data: 0o700, filepath.Join(data, "journal.db"): 0o600} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
	}
	serve(t, nil, dir).stop()
	journalOf(t, dir, "data", "journal.db")
}
