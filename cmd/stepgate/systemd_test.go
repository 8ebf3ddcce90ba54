package main

import (
	"bytes"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// manager is what a service manager hears on its socket.
type manager struct {
	t    *testing.T
	conn *net.UnixConn
}

// newManager listens as systemd does, on a short path.
func newManager(t *testing.T) (*manager, string) {
	t.Helper()
	dir, err := os.MkdirTemp("", "sg")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	path := filepath.Join(dir, "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	return &manager{t, conn}, path
}

// wait takes what is told until a message begins so.
func (m *manager) wait(prefix string) string {
	m.t.Helper()
	if err := m.conn.SetReadDeadline(time.Now().Add(patience)); err != nil {
		m.t.Fatal(err)
	}
	buf := make([]byte, 4096)
	for {
		n, err := m.conn.Read(buf)
		if err != nil {
			m.t.Fatalf("waiting for %s: %v", prefix, err)
		}
		if got := string(buf[:n]); strings.HasPrefix(got, prefix) {
			return got
		}
	}
}

// TestServiceManager: systemd is told that the service works, is alive, reads
// the files again and how that went, and stops.
func TestServiceManager(t *testing.T) {
	t.Parallel()
	m, path := newManager(t)
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, []string{"NOTIFY_SOCKET=" + path, "WATCHDOG_USEC=150000"}, dir)
	if got := m.wait("READY=1"); !strings.Contains(got, "STATUS=2 enrollments") {
		t.Errorf("ready: %q", got)
	}
	for range 3 {
		m.wait("WATCHDOG=1")
	}
	edit(t, dir, "programs/settling-in.yaml", "{do: toe-pull, reps: 5,", "{do: toe-pull, reps: many,")
	if got := m.wait("RELOADING=1"); !strings.Contains(got, "MONOTONIC_USEC=") {
		t.Errorf("reloading: %q", got)
	}
	if got := m.wait("READY=1"); !strings.Contains(got, "STATUS=the files were refused") {
		t.Errorf("after a bad edit: %q", got)
	}
	edit(t, dir, "programs/settling-in.yaml", "reps: many,", "reps: 5,")
	m.wait("RELOADING=1")
	if got := m.wait("READY=1"); !strings.Contains(got, "STATUS=2 enrollments") {
		t.Errorf("after a good one: %q", got)
	}
	svc.signal(syscall.SIGTERM)
	m.wait("STOPPING=1")
	svc.wantEnd(exitGood)
	if log := svc.log.String(); strings.Contains(log, "manager.") || strings.Contains(log, "watchdog.") {
		t.Errorf("the log:\n%s", log)
	}
}

// TestManagerGone: a manager that can't be told is no reason to stop.
func TestManagerGone(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, []string{"NOTIFY_SOCKET=" + filepath.Join(dir, "none"), "WATCHDOG_USEC=30000"}, dir)
	svc.waitLog("msg=manager.unreached")
	svc.stop()
	if n := strings.Count(svc.log.String(), "manager.unreached"); n != 1 {
		t.Errorf("it was said %d times", n)
	}
}

// TestSavedUnasked: files that are saved come into force by themselves, in real
// and in quick time, and bad ones are complained about once.
func TestSavedUnasked(t *testing.T) {
	t.Parallel()
	for _, more := range [][]string{nil, {"--quick", "24h"}} {
		dir := copied(t, "../../testdata/clinic")
		svc := serve(t, nil, append([]string{dir}, more...)...)
		accepted := func(n int) func(string) bool {
			return func(log string) bool { return strings.Count(log, "msg=files.accepted") == n }
		}
		svc.wait(svc.log, "the files", accepted(1))
		edit(t, dir, "programs/settling-in.yaml", "{do: toe-pull, reps: 5,", "{do: toe-pull, reps: 4,")
		svc.wait(svc.log, "the edit", accepted(2))
		edit(t, dir, "programs/settling-in.yaml", "reps: 4,", "reps: many,")
		svc.waitLog("msg=files.refused")
		write(t, dir, "notes.txt", "nothing of the clinic's")
		edit(t, dir, "programs/settling-in.yaml", "reps: many,", "reps: 5,")
		svc.wait(svc.log, "the next edit", accepted(3))
		if n := strings.Count(svc.log.String(), "msg=files.refused"); n != 1 {
			t.Errorf("%v: one bad edit was refused %d times", more, n)
		}
		svc.stop()
	}
}

// TestJournalLines: a line has its priority and no time of its own.
func TestJournalLines(t *testing.T) {
	var out bytes.Buffer
	log := slog.New(newJournalHandler(&out)).With("id", "rosa-01")
	log.Info("day.decided", "time", "09:00")
	log.WithGroup("g").Warn("out.retry", "time", "10:00")
	log.Error("tick.failed")
	log.Debug("nothing")
	want := "<6>level=INFO msg=day.decided id=rosa-01 time=09:00\n<4>level=WARN msg=out.retry id=rosa-01 g.time=10:00\n<3>level=ERROR msg=tick.failed id=rosa-01\n"
	if got := out.String(); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

// TestLogsToTheJournal: JOURNAL_STREAM counts where it is this process's own
// standard error.
func TestLogsToTheJournal(t *testing.T) {
	t.Parallel()
	for _, ours := range []bool{true, false} {
		dir := copied(t, "../../testdata/clinic")
		path := filepath.Join(t.TempDir(), "log")
		f, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		var st syscall.Stat_t
		if err := syscall.Fstat(int(f.Fd()), &st); err != nil {
			t.Fatal(err)
		}
		if !ours {
			st.Ino++
		}
		cmd := exec.Command("stepgate", "serve", dir)
		cmd.Env = append(os.Environ(), fmt.Sprintf("JOURNAL_STREAM=%d:%d", st.Dev, st.Ino))
		cmd.Stderr = f
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = cmd.Process.Kill() })
		waitUntil(t, "serve.begun", func() bool { return strings.Contains(read(t, path), "msg=serve.begun") })
		if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
			t.Fatal(err)
		}
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
		_ = f.Close()
		for line := range strings.Lines(read(t, path)) {
			if begins := map[bool]string{true: "<6>level=INFO msg=", false: "time="}[ours]; !strings.HasPrefix(line, begins) {
				t.Errorf("in the journal: %v: %s", ours, line)
			}
		}
	}
}

// TestUnitCommand prints a unit for this very program, and a recipe.
func TestUnitCommand(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	program, err := exec.LookPath("stepgate")
	if err != nil {
		t.Fatal(err)
	}
	got := wantRun(t, exitGood, nil, "unit", dir)
	for _, want := range []string{"ExecStart=" + program + " serve " + dir + "\n", "\nUser=stepgate\n", "Paths=" + dir + "\n"} {
		if !strings.Contains(got.out, want) {
			t.Errorf("no %q in:\n%s", want, got.out)
		}
	}
	if got := wantRun(t, exitGood, nil, "unit", dir, "--user", "clinic", "--binary", "/opt/stepgate").out; !has("ExecStart=/opt/stepgate serve ", "\nUser=clinic\n")(got) {
		t.Errorf("another user and program:\n%s", got)
	}
	if got := wantRun(t, exitGood, nil, "unit", "--container").out; !has("FROM scratch", "HEALTHCHECK")(got) {
		t.Errorf("the recipe:\n%s", got)
	}
	for _, args := range [][]string{{"unit"}, {"unit", dir + "/none"}, {"unit", dir, "--user", "a b"}, {"unit", dir, "--binary", "/a:b"}, {"unit", "--container", dir}} {
		if got := wantRun(t, exitUsage, nil, args...); got.out != "" || got.log == "" {
			t.Errorf("stepgate %s: %q, %q", strings.Join(args, " "), got.out, got.log)
		}
	}
}
