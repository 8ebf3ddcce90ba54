package journal

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// childEnv makes the test binary the appending child of TestKill.
const childEnv = "STEPGATE_JOURNAL_APPEND_TO"

// children are what the test binary does, with the path it is given, where one
// of these is set. None comes back but with an error or when it is done.
var children = map[string]func(path string) error{childEnv: appendForever}

func TestMain(m *testing.M) {
	for env, run := range children {
		if path := os.Getenv(env); path != "" {
			if err := run(path); err != nil {
				fmt.Fprintln(os.Stderr, err)
				os.Exit(1)
			}
			os.Exit(0)
		}
	}
	os.Exit(m.Run())
}

// appendForever appends from several goroutines and prints "seq note" for
// each event that was acknowledged. It returns only on an error.
func appendForever(path string) error {
	j, err := Open(path, Options{Timeout: 10 * time.Second})
	if err != nil {
		return err
	}
	errc := make(chan error)
	for w := range 4 {
		go func() {
			for i := 0; ; i++ {
				// Notes of growing size make pages split and free in many ways.
				text := fmt.Sprintf("%d-%d-%d %s", os.Getpid(), w, i, strings.Repeat("x", i*37%4000))
				var seq uint64
				err := j.Update(context.Background(), func(tx *Tx) (err error) {
					seq, err = tx.Append(Event{Kind: Noted, At: time.Now(), Note: text})
					return err
				})
				if err == nil {
					// One write, unbuffered: what was acknowledged is told.
					_, err = fmt.Fprintf(os.Stdout, "%d %s\n", seq, strings.Fields(text)[0])
				}
				if err != nil {
					errc <- err
					return
				}
			}
		}()
	}
	return <-errc
}

// A process killed at any point leaves a file that verifies and holds every
// event it had acknowledged.
func TestKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "journal.db")
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	rnd := rand.New(rand.NewPCG(seed, 0))
	acked := map[uint64]string{}
	for range 20 {
		// In one round of four the child dies at about its first commits, or
		// while making the file; else somewhere among many.
		lines := rnd.IntN(150)
		if rnd.IntN(4) == 0 {
			lines = rnd.IntN(2)
		}
		killAfter(t, path, lines, acked)
		checkAcked(t, path, acked)
	}
	if len(acked) == 0 {
		t.Error("no event was ever acknowledged")
	}
}

// killAfter starts a child, kills it once it has told n events (none: once
// the file is there), and notes all that it told.
func killAfter(t *testing.T, path string, n int, acked map[uint64]string) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childEnv+"="+path)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	kill := func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
	}
	told := 0
	if n == 0 {
		for _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist); _, err = os.Stat(path) {
		}
		kill()
	}
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			break // the child is dead; a line cut short was told to nobody
		}
		seq, note, ok := strings.Cut(strings.TrimSpace(line), " ")
		num, err := strconv.ParseUint(seq, 10, 64)
		if !ok || err != nil {
			t.Fatalf("child said %q", line)
		}
		if old, double := acked[num]; double {
			t.Errorf("event %d acknowledged twice: %s and %s", num, old, note)
		}
		acked[num] = note
		if told++; told == n {
			kill()
		}
	}
	_ = cmd.Wait() // "signal: killed"
	if cmd.ProcessState.Exited() {
		t.Fatalf("child ended by itself: %s", stderr.String())
	}
}

func checkAcked(t *testing.T, path string, acked map[uint64]string) {
	t.Helper()
	j, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	checkWhole(t, j)
	have := map[uint64]string{}
	view(t, j, func(tx *Tx) error {
		return tx.All(func(e Event) error { have[e.Seq] = strings.Fields(e.Note)[0]; return nil })
	})
	for seq, note := range acked {
		if have[seq] != note {
			t.Errorf("acknowledged event %d is %q, want %q", seq, have[seq], note)
		}
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
}
