package notify

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"
)

// Handset is a person's end of the spool: it shows the messages that come in
// and drops answers.
type Handset struct {
	Dir  string        // the person's folder on the spool
	Wait time.Duration // how long to look on after the input ended
}

const (
	handsetLook = 200 * time.Millisecond // how often the folder is looked at
	handsetPast = 6                      // how many earlier messages are shown at first
)

// Run shows messages and sends the lines of in, until in ends or ctx is done.
func (h Handset) Run(ctx context.Context, in io.Reader, show func(at time.Time, text string)) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	lines, failed := readLines(ctx, in)
	look := time.NewTicker(handsetLook)
	defer look.Stop()
	var end <-chan time.Time
	shown := map[string]bool{}
	if err := h.show(shown, handsetPast, show); err != nil {
		return err
	}
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-end:
			return h.show(shown, -1, show)
		case line, ok := <-lines:
			if !ok {
				lines, end = nil, time.After(h.Wait)
				continue
			}
			if err := h.Drop(line); err != nil {
				return err
			}
		case err := <-failed:
			return fmt.Errorf("read answers: %w", err)
		case <-look.C:
			if err := h.show(shown, -1, show); err != nil {
				return err
			}
		}
	}
}

func readLines(ctx context.Context, in io.Reader) (<-chan string, <-chan error) {
	lines, failed := make(chan string), make(chan error, 1)
	go func() {
		defer close(lines)
		sc := bufio.NewScanner(in)
		for sc.Scan() {
			if strings.TrimSpace(sc.Text()) == "" {
				continue
			}
			select {
			case lines <- sc.Text():
			case <-ctx.Done():
				return
			}
		}
		if err := sc.Err(); err != nil {
			failed <- err
		}
	}()
	return lines, failed
}

// drops tells answers apart that were dropped within one tick of the clock.
var drops atomic.Uint64

// Drop puts an answer into the spool, whole or not at all.
func (h Handset) Drop(text string) error {
	dir := filepath.Join(h.Dir, "in")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("drop an answer: %w", bare(err))
	}
	name := fmt.Sprintf("%d-%06d.txt", time.Now().UnixNano(), drops.Add(1))
	if err := writeWhole(dir, name, text+"\n", true); err != nil {
		return fmt.Errorf("drop an answer: %w", err)
	}
	return nil
}

// messages names the files of the messages, the earliest first. It reads the
// folder itself: a pattern would take [ and * in the folder's own name for
// wildcards.
func (h Handset) messages() ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(h.Dir, "out"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil // nothing was sent yet
	}
	if err != nil {
		return nil, bare(err)
	}
	var names []string
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), ".txt") && !unfinished(e.Name()) {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

// show shows the messages not shown yet; of more than last, the latest.
func (h Handset) show(shown map[string]bool, last int, show func(time.Time, string)) error {
	names, err := h.messages()
	if err != nil {
		return fmt.Errorf("look for messages: %w", err)
	}
	if last >= 0 && len(names) > last {
		for _, name := range names[:len(names)-last] {
			shown[name] = true
		}
	}
	for _, name := range names {
		if shown[name] {
			continue
		}
		text, err := os.ReadFile(filepath.Join(h.Dir, "out", name))
		if err != nil {
			return fmt.Errorf("read a message: %w", bare(err))
		}
		shown[name] = true
		stamp, _, _ := strings.Cut(name, "-")
		at, err := time.Parse("20060102T150405Z", stamp)
		if err != nil {
			continue // not one of ours
		}
		show(at, string(text))
	}
	return nil
}
