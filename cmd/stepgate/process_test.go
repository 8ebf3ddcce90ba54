package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// patience is how long a test waits for a process before it gives it up. A
// busy machine is no failure.
const patience = 60 * time.Second

// screen keeps what a process prints, and wakes who waits for it.
type screen struct {
	mu   sync.Mutex
	buf  bytes.Buffer
	grew chan struct{} // closed at the next write
}

func newScreen() *screen { return &screen{grew: make(chan struct{})} }

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	close(s.grew)
	s.grew = make(chan struct{})
	return s.buf.Write(p)
}

func (s *screen) String() string {
	text, _ := s.now()
	return text
}

func (s *screen) now() (string, <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.buf.String(), s.grew
}

// process is a stepgate that runs beside the test.
type process struct {
	t     *testing.T
	cmd   *exec.Cmd
	out   *screen // standard output
	log   *screen // standard error
	in    io.WriteCloser
	ended chan struct{} // closed once it ended and all it printed was read
}

// start runs stepgate with extra environment variables. What is still running
// at the end of the test is killed.
func start(t *testing.T, env []string, args ...string) *process {
	t.Helper()
	p := &process{t: t, cmd: exec.Command("stepgate", args...), out: newScreen(), log: newScreen(), ended: make(chan struct{})}
	p.cmd.Env = append(os.Environ(), env...)
	p.cmd.Stdout, p.cmd.Stderr = p.out, p.log
	var err error
	if p.in, err = p.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.ended)
		_ = p.cmd.Wait() // its code is read off ProcessState
	}()
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		<-p.ended
	})
	return p
}

// serve starts a service and waits until it works.
func serve(t *testing.T, env []string, args ...string) *process {
	t.Helper()
	p := start(t, env, append([]string{"serve"}, args...)...)
	t.Cleanup(func() {
		_ = p.cmd.Process.Kill()
		<-p.ended
		keepsQuiet(t, p.log.String())
	})
	p.waitLog("msg=serve.begun")
	p.wait(p.out, "the last line of its greeting", has("Stop with Ctrl-C."))
	return p
}

// private are the names, numbers, addresses and secrets of the tests' clinics.
var private = []string{"Rosa", "Quillon", "Zephyrine", "Emil", "Sam ", "5035550", "503-555", "503 555", token, "open sesame", "rosa@example.com"}

// keepsQuiet holds every line that any service of these tests logged against
// what must not be there.
func keepsQuiet(t *testing.T, log string) {
	for line := range strings.Lines(log) {
		for _, word := range private {
			if strings.Contains(line, word) {
				t.Errorf("the log has %q in it: %s", word, line)
			}
		}
	}
}

// has looks for all of some words.
func has(words ...string) func(string) bool {
	return func(text string) bool {
		for _, w := range words {
			if !strings.Contains(text, w) {
				return false
			}
		}
		return true
	}
}

// wait waits until a screen shows something. It wakes with every write; there
// is nothing to poll.
func (p *process) wait(s *screen, what string, shows func(string) bool) string {
	p.t.Helper()
	late := time.NewTimer(patience)
	defer late.Stop()
	for {
		text, grew := s.now()
		if shows(text) {
			return text
		}
		select {
		case <-grew:
		case <-p.ended:
			if text := s.String(); shows(text) {
				return text
			}
			p.fail("it ended (code %d) and never showed %s", p.cmd.ProcessState.ExitCode(), what)
		case <-late.C:
			p.fail("waited %s for %s", patience, what)
		}
	}
}

// waitLog waits for a log line, or several, with these words in them.
func (p *process) waitLog(words ...string) string {
	p.t.Helper()
	return p.wait(p.log, "the log of "+strings.Join(words, " and "), has(words...))
}

func (p *process) fail(format string, args ...any) {
	p.t.Helper()
	p.t.Fatalf("%s: "+format+"\nstdout:\n%s\nstderr:\n%s",
		append(append([]any{strings.Join(p.cmd.Args, " ")}, args...), p.out, p.log)...)
}

// signal sends a signal. One that comes after the end is no mistake.
func (p *process) signal(s syscall.Signal) {
	p.t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil && !errors.Is(err, os.ErrProcessDone) {
		p.t.Fatal(err)
	}
}

// wantEnd waits for the end and checks the exit code.
func (p *process) wantEnd(code int) {
	p.t.Helper()
	select {
	case <-p.ended:
	case <-time.After(patience):
		p.fail("it did not end")
	}
	if got := p.cmd.ProcessState.ExitCode(); got != code {
		p.fail("exit code %d, want %d", got, code)
	}
}

// stop ends a service as an admin does, and checks that it ended in order.
func (p *process) stop() {
	p.t.Helper()
	p.signal(syscall.SIGTERM)
	p.wantEnd(exitGood)
	text := p.log.String()
	begun, done := strings.LastIndex(text, "msg=stop.begun"), strings.LastIndex(text, "msg=stop.done")
	if begun < 0 || done < begun {
		p.fail("it did not log its stop in order")
	}
}

// kill ends a process as a power cut does.
func (p *process) kill() {
	p.t.Helper()
	p.signal(syscall.SIGKILL)
	<-p.ended
}

// typed writes a line as if it were typed.
func (p *process) typed(line string) {
	p.t.Helper()
	if _, err := io.WriteString(p.in, line+"\n"); err != nil {
		p.fail("type %q: %v", line, err)
	}
}

// result is how one run of stepgate ended.
type result struct {
	out, log string
	code     int
}

// runToEnd runs stepgate until it ends by itself.
func runToEnd(t *testing.T, env []string, args ...string) result {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, "stepgate", args...)
	cmd.Env = append(os.Environ(), env...)
	var out, log bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &log
	var exit *exec.ExitError
	if err := cmd.Run(); err != nil && !errors.As(err, &exit) || ctx.Err() != nil {
		t.Fatalf("stepgate %s: %v", strings.Join(args, " "), errors.Join(err, ctx.Err()))
	}
	return result{out.String(), log.String(), cmd.ProcessState.ExitCode()}
}

// wantRun runs stepgate and checks its exit code.
func wantRun(t *testing.T, code int, env []string, args ...string) result {
	t.Helper()
	r := runToEnd(t, env, args...)
	if r.code != code {
		t.Fatalf("stepgate %s: exit code %d, want %d\nstdout:\n%s\nstderr:\n%s", strings.Join(args, " "), r.code, code, r.out, r.log)
	}
	return r
}

// waitUntil polls for what can't be waited on, such as a file that another
// process makes. The poll is bounded, and fails the test when its time is up:
// what it watches runs in real time, so there is no made-up clock to set.
func waitUntil(t *testing.T, what string, ok func() bool) {
	t.Helper()
	late := time.NewTimer(patience)
	defer late.Stop()
	look := time.NewTicker(20 * time.Millisecond)
	defer look.Stop()
	for !ok() {
		select {
		case <-look.C:
		case <-late.C:
			t.Fatalf("waited %s for %s", patience, what)
		}
	}
}
