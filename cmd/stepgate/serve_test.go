package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

// TestStopInOrder stops a service twice at once: it ends in order, with exit
// code 0 and a whole journal, and leaves no socket behind.
func TestStopInOrder(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, nil, dir)
	for name, want := range map[string]fs.FileMode{"data": 0o700, "data/journal.db": 0o600, "data/control.sock": 0o600} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v, %v; want mode %v", name, info.Mode(), err, want)
		}
	}
	svc.signal(syscall.SIGTERM)
	svc.signal(syscall.SIGTERM)
	svc.wantEnd(exitGood)
	log := svc.log.String()
	order := []string{"msg=files.accepted", "msg=serve.begun", "msg=stop.begun", "msg=stop.done"}
	at := -1
	for _, event := range order {
		next := strings.Index(log, event)
		if next <= at || strings.Count(log, event) != 1 {
			t.Errorf("%s is not once in its place in the log:\n%s", event, log)
		}
		at = next
	}
	if !strings.HasSuffix(strings.TrimSpace(log), "msg=stop.done") {
		t.Errorf("something is logged after the end:\n%s", log)
	}
	if _, err := os.Stat(filepath.Join(dir, "data", "control.sock")); !os.IsNotExist(err) {
		t.Errorf("the socket is still there: %v", err)
	}
	if events := journalOf(t, dir, "data", "journal.db"); len(events) < 3 { // files, two patients
		t.Errorf("the journal has %d events", len(events))
	}
	// Stopped, it can still be looked at.
	if got := wantRun(t, exitGood, nil, "caseload", dir).out; !has("rosa-01 Rosa", "emil-02 Emil")(got) {
		t.Errorf("caseload after the stop:\n%s", got)
	}
}

// TestSecondServe starts a second service on a folder: it is turned away and
// the first goes on undisturbed.
func TestSecondServe(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, nil, dir)
	second := wantRun(t, exitUsage, nil, "serve", dir)
	if want := "another stepgate serve holds the journal in " + filepath.Join(dir, "data"); !strings.Contains(second.log, want) || second.out != "" {
		t.Errorf("the second says %q and %q, want %q", second.out, second.log, want)
	}
	if got := wantRun(t, exitGood, nil, "caseload", dir).out; !strings.Contains(got, "rosa-01 Rosa") {
		t.Errorf("the first does not answer any more:\n%s", got)
	}
	svc.stop()
}

// TestAnswersOverTheSocket asks a running service what it can't answer.
func TestAnswersOverTheSocket(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, nil, dir)
	for _, x := range []struct {
		code int
		want string
		args []string
	}{
		{exitUsage, `nobody is enrolled as "p-99"`, []string{"explain", dir, "p-99"}},
		{exitUsage, `nobody is enrolled as "../rosa-01"`, []string{"explain", dir, "../rosa-01"}},
		{exitUsage, "--date: ", []string{"explain", dir, "rosa-01", "--date", "2026-13-01"}},
		{exitUsage, `nobody on the spool is enrolled as "p-99"`, []string{"handset", dir, "p-99"}},
	} {
		if got := wantRun(t, x.code, nil, x.args...); !strings.Contains(got.log, x.want) || got.out != "" {
			t.Errorf("stepgate %s: %q, want %q", strings.Join(x.args, " "), got.log, x.want)
		}
	}
	if got := wantRun(t, exitGood, nil, "explain", dir, "rosa-01", "--date", "2026-10-01").out; !strings.Contains(got, "2026-10-01 was not decided.") {
		t.Errorf("a date before the start:\n%s", got)
	}
	// In quick time nothing was ever served here.
	if got := wantRun(t, exitNotWell, nil, "caseload", dir, "--quick"); !strings.Contains(got.log, "nothing has been served") {
		t.Errorf("caseload --quick: %q", got.log)
	}
	svc.stop()
}

// problem is a line of the log about one thing wrong in the files.
var problem = regexp.MustCompile(`msg=files\.problem at=programs/settling-in\.yaml:36:28 `)

// TestBadEdit edits the files of a running service badly: the last good set
// stays in force, also across a restart, and log, alert and caseload go on.
func TestBadEdit(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	alerts := func() []string {
		return messages(t, filepath.Join(dir, "data", "spool"), "clinician")
	}
	about := func(texts []string) int {
		n := 0
		for _, text := range texts {
			n += strings.Count(text, "programs/settling-in.yaml:36:28")
		}
		return n
	}
	svc := serve(t, nil, dir)
	edit(t, dir, "programs/settling-in.yaml", "{do: toe-pull, reps: 5,", "{do: toe-pull, reps: many,")
	svc.signal(syscall.SIGHUP)
	log := svc.waitLog("msg=files.refused")
	if !problem.MatchString(log) || strings.Count(log, "msg=files.accepted") != 1 {
		t.Errorf("the log does not say what is wrong, and where:\n%s", log)
	}
	waitUntil(t, "the alert about the files", func() bool { return about(alerts()) == 1 })
	if got := wantRun(t, exitGood, nil, "caseload", dir).out; !strings.Contains(got, "rosa-01 Rosa") {
		t.Errorf("caseload after the bad edit:\n%s", got)
	}
	svc.stop()

	svc = serve(t, nil, dir) // with the bad edit in place
	log = svc.log.String()
	if !has("msg=files.last_good", "msg=files.refused")(log) || !problem.MatchString(log) {
		t.Errorf("the log does not say that the last good files are served, and why:\n%s", log)
	}
	if got := wantRun(t, exitGood, nil, "caseload", dir).out; !has("rosa-01 Rosa", "emil-02 Emil")(got) {
		t.Errorf("caseload after the restart:\n%s", got)
	}
	// The next edit is good, and comes into force.
	edit(t, dir, "programs/settling-in.yaml", "reps: many,", "reps: 4,")
	svc.signal(syscall.SIGHUP)
	svc.waitLog("msg=files.accepted files=3 enrollments=2\n" /* the last good ones */, "msg=serve.begun")
	svc.wait(svc.log, "the new files accepted", func(s string) bool { return strings.Count(s, "msg=files.accepted") == 2 })
	svc.stop()
	if n := about(alerts()); n != 1 {
		t.Errorf("%d alerts about one bad edit, want 1", n)
	}
	journalOf(t, dir, "data", "journal.db")

	svc = serve(t, nil, dir)
	if log := svc.log.String(); strings.Contains(log, "files.last_good") || strings.Contains(log, "files.problem") {
		t.Errorf("good files are still complained about:\n%s", log)
	}
	svc.stop()
}

// TestGoodEdit enrolls somebody while the service runs.
func TestGoodEdit(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/clinic")
	svc := serve(t, nil, dir)
	text := read(t, dir, "enrollments.yaml")
	write(t, dir, "enrollments.yaml", text+`
  - id: ines-03
    name: Ines
    program: settling-in
    dispensed: 2026-10-12
    consent: {on: 2026-10-12, how: in writing, by: J. Marlowe DPM}
    spool: ines
    time: "10:00"
`)
	svc.signal(syscall.SIGHUP)
	svc.waitLog("msg=files.accepted files=3 enrollments=3")
	if got := wantRun(t, exitGood, nil, "caseload", dir).out; !strings.Contains(got, "ines-03 Ines") {
		t.Errorf("caseload after the edit:\n%s", got)
	}
	svc.stop()
}

// TestNeverAccepted serves a folder that was never good: every problem is
// printed as check prints it, and nothing is made.
func TestNeverAccepted(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/bad/many-problems")
	for _, args := range [][]string{{"serve", dir}, {"serve", dir, "--quick", quickDay}} {
		got := wantRun(t, exitUsage, nil, args...)
		if want := read(t, dir, "want.txt"); got.log != want || got.out != "" {
			t.Errorf("stepgate %s prints\n%s%s\nwant\n%s", strings.Join(args, " "), got.out, got.log, want)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, "data")); !os.IsNotExist(err) {
		t.Errorf("a data folder was made: %v", err)
	}
}

// TestBadFolders checks each bad folder as a user does: the problems on
// standard output, as they stand in its want.txt, and exit code 1.
func TestBadFolders(t *testing.T) {
	t.Parallel()
	folders, err := filepath.Glob("../../testdata/bad/*")
	if err != nil || len(folders) < 8 {
		t.Fatalf("%d bad folders, %v", len(folders), err)
	}
	for _, dir := range folders {
		got := wantRun(t, exitNotWell, []string{"SMS_TOKEN=0123456789abcdef"}, "check", dir)
		want := read(t, dir, "want.txt")
		if lines, last, ok := cutLastLine(got.out); !ok || lines != want || !strings.HasSuffix(last, " to put right before this folder can be served.") {
			t.Errorf("check %s:\n%s\nwant, and a line of how many:\n%s", dir, got.out, want)
		}
	}
}

func cutLastLine(s string) (before, last string, ok bool) {
	s, ok = strings.CutSuffix(s, "\n")
	i := strings.LastIndex(s, "\n")
	return s[:i+1], s[i+1:], ok
}

// TestLongFolderPath serves a folder whose path is longer than a socket's may
// be (108 bytes on Linux, 104 on BSD and macOS).
func TestLongFolderPath(t *testing.T) {
	t.Parallel()
	deep := filepath.Join(t.TempDir(), strings.Repeat("a-rather-long-name", 6), "a [clinic] of *")
	if err := os.CopyFS(deep, os.DirFS("../../testdata/clinic")); err != nil {
		t.Fatal(err)
	}
	short, err := os.MkdirTemp("", "sg") // t.TempDir has the test's name in it
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(short) })
	env := []string{"TMPDIR=" + short}

	svc := serve(t, env, deep, "--quick", quickDay)
	phone := start(t, env, "handset", deep, "rosa-01", "--wait", "100ms")
	phone.wait(phone.out, "a text", has("Harbor Foot Clinic"))
	phone.typed("D1")
	phone.wait(phone.out, "the answer", has("1 noted, thank you."))
	if got := wantRun(t, exitGood, env, "caseload", deep).out; !strings.Contains(got, "rosa-01 Rosa") {
		t.Errorf("caseload:\n%s", got)
	}
	socks, err := filepath.Glob(filepath.Join(short, "stepgate-*", "control.sock"))
	if err != nil || len(socks) != 1 {
		t.Fatalf("sockets in the temporary folder: %q, %v; want 1", socks, err)
	}
	if info, err := os.Stat(filepath.Dir(socks[0])); err != nil || info.Mode().Perm() != 0o700 {
		t.Errorf("the socket's folder: %v, %v; want mode 0700", info.Mode(), err)
	}
	svc.stop()
	if _, err := os.Stat(socks[0]); !os.IsNotExist(err) {
		t.Errorf("the socket is still there: %v", err)
	}
	if got := wantRun(t, exitGood, env, "caseload", deep, "--quick").out; !strings.Contains(got, "rosa-01 Rosa") {
		t.Errorf("caseload after the stop:\n%s", got)
	}
}
