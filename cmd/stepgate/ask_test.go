package main

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

// TestQuestionsEndWithCtrlC: somebody breaks off while a question waits, and
// nothing was written.
func TestQuestionsEndWithCtrlC(t *testing.T) {
	t.Parallel()
	clinic := newClinicFolder(t)
	before := read(t, clinic, "enrollments.yaml")
	dir := filepath.Join(t.TempDir(), "new")
	for _, c := range []struct {
		args []string
		asks string
	}{{[]string{"init", dir}, "The clinic's name"}, {[]string{"enroll", clinic}, "First name"}} {
		p := start(t, nil, c.args...)
		p.wait(p.out, c.asks, has(c.asks))
		p.signal(syscall.SIGINT)
		p.wantEnd(exitNotWell)
		if got := p.log.String(); got != "stepgate: broken off; nothing was written\n" {
			t.Errorf("%s: %q", c.args[0], got)
		}
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("init: %v", err)
	}
	if got := read(t, clinic, "enrollments.yaml"); got != before {
		t.Errorf("enroll wrote\n%s", got)
	}
}
