package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// slow are the commands that may take long and print once they are done. The
// others show what they do, or wait for somebody.
var slow = map[string]string{
	"backup": "copying the journal", "caseload": "reading the journal", "check": "reading the clinic's files", "compact": "writing the journal anew",
	"enroll": "reading the clinic's files", "erase": "erasing", "explain": "reading the journal", "export": "writing the record", "patient": "reading the journal",
	"rehearse": "playing the program", "report": "reading the journal", "restore": "restoring the journal", "verify": "checking the journal",
}

// withProgress has a slow command say on a terminal what it does and for how
// long, from the first second on until it has something to print. The line goes
// to standard error and is taken away again.
func withProgress(cmd *cobra.Command, doing string) {
	run := cmd.RunE
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if !term.IsTerminal(int(os.Stderr.Fd())) || os.Getenv("TERM") == "dumb" {
			return run(cmd, args)
		}
		p := startProgress(cmd.ErrOrStderr(), doing, time.Second)
		defer p.end()
		cmd.SetOut(clearing{cmd.OutOrStdout(), p})
		return run(cmd, args)
	}
}

// progress is a line that is written anew until it ends.
type progress struct {
	out   io.Writer
	mu    sync.Mutex
	shown bool
	over  bool
	quit  chan struct{}
}

func startProgress(out io.Writer, doing string, every time.Duration) *progress {
	p := &progress{out: out, quit: make(chan struct{})}
	began, tick := time.Now(), time.NewTicker(every)
	go func() {
		defer tick.Stop()
		for {
			select {
			case <-p.quit:
				return
			case <-tick.C:
				p.show(fmt.Sprintf("%s, %s", doing, time.Since(began).Round(every)))
			}
		}
	}()
	return p
}

func (p *progress) show(line string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.over {
		p.shown = true
		_, _ = fmt.Fprint(p.out, "\r"+line+" ...\x1b[K") // only a help to the eye
	}
}

// end takes the line away, for good.
func (p *progress) end() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.over {
		return
	}
	p.over = true
	close(p.quit)
	if p.shown {
		_, _ = fmt.Fprint(p.out, "\r\x1b[K")
	}
}

// clearing is an output whose first byte ends the progress.
type clearing struct {
	io.Writer
	p *progress
}

func (c clearing) Write(b []byte) (int, error) {
	c.p.end()
	return c.Writer.Write(b)
}

// toTerminal tells whether what is written there is seen on a terminal at once.
func toTerminal(out io.Writer) bool {
	if c, ok := out.(clearing); ok {
		out = c.Writer
	}
	f, ok := out.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
