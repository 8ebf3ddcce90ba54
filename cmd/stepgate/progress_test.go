package main

import (
	"bytes"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// held is a buffer that several may write to.
type held struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (h *held) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.buf.Write(p)
}

func (h *held) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.buf.String()
}

// The line comes after a second, is written anew each second, and is taken away
// before the first word of what the command prints; after that none comes.
func TestProgress(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var screen held
		p := startProgress(&screen, "checking the journal", time.Second)
		out := clearing{&screen, p}
		time.Sleep(900 * time.Millisecond)
		if got := screen.String(); got != "" {
			t.Errorf("before a second: %q", got)
		}
		time.Sleep(1200 * time.Millisecond)
		synctest.Wait()
		_, _ = out.Write([]byte("The journal is whole.\n"))
		time.Sleep(3 * time.Second)
		p.end()
		want := "\rchecking the journal, 1s ...\x1b[K\rchecking the journal, 2s ...\x1b[K\r\x1b[KThe journal is whole.\n"
		if got := screen.String(); got != want {
			t.Errorf("the screen: %q, want %q", got, want)
		}
	})
	// One that is done at once leaves no trace.
	var screen held
	startProgress(&screen, "x", time.Hour).end()
	if got := screen.String(); got != "" {
		t.Errorf("of a quick command: %q", got)
	}
	for name := range slow {
		cmd, _, err := rootCommand().Find([]string{name})
		if err != nil || !strings.HasPrefix(cmd.Use, name) {
			t.Errorf("there is no command %s: %v", name, err)
		}
	}
}
