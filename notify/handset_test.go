package notify

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// phone is a handset under test, in a synctest bubble: its clock is made up,
// and going on is a matter of no time.
type phone struct {
	t     *testing.T
	dir   string
	keys  *io.PipeWriter
	stop  context.CancelFunc
	ended chan error
	shown []string // "time text"
}

func switchOn(t *testing.T, dir string, wait time.Duration) *phone {
	ctx, stop := context.WithCancel(t.Context())
	in, keys := io.Pipe()
	p := &phone{t: t, dir: dir, keys: keys, stop: stop, ended: make(chan error, 1)}
	go func() {
		p.ended <- Handset{Dir: dir, Wait: wait}.Run(ctx, in, func(at time.Time, text string) {
			p.shown = append(p.shown, at.Format("Jan 2 15:04:05 ")+strings.TrimSuffix(text, "\n"))
		})
		_ = in.Close()
	}()
	synctest.Wait()
	return p
}

// look lets the phone look at its folder.
func (p *phone) look() {
	<-time.After(handsetLook) // made-up time: no real time passes
	synctest.Wait()
}

func (p *phone) types(text string) {
	p.t.Helper()
	if _, err := io.WriteString(p.keys, text); err != nil {
		p.t.Fatal(err)
	}
	synctest.Wait()
}

func (p *phone) wantShown(want ...string) {
	p.t.Helper()
	if !slices.Equal(p.shown, want) {
		p.t.Fatalf("shown:\n%s\nwant:\n%s", strings.Join(p.shown, "\n"), strings.Join(want, "\n"))
	}
}

// inbox puts a file where messages to the person lie.
func inbox(t *testing.T, dir, name, text string) {
	t.Helper()
	out := filepath.Join(dir, "out")
	if err := os.MkdirAll(out, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := writeWhole(out, name, text, true); err != nil { // as the spool does
		t.Fatal(err)
	}
}

// answers are the contents of the files dropped so far, by name.
func answers(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(filepath.Join(dir, "in"))
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Fatal(err)
	}
	var list []string
	for _, e := range entries {
		if unfinished(e.Name()) {
			t.Errorf("left behind: %s", e.Name())
		}
		b, err := os.ReadFile(filepath.Join(dir, "in", e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, string(b))
	}
	return list
}

// TestHandset shows the latest messages, then each new one once, and drops
// what is typed.
func TestHandset(t *testing.T) {
	// The folder's name is no pattern, whatever is in it.
	for _, name := range []string{"rosa", "a [b] *?"} {
		dir := filepath.Join(t.TempDir(), name)
		synctest.Test(t, func(t *testing.T) {
			var want []string
			for day := 1; day <= 9; day++ {
				inbox(t, dir, fmt.Sprintf("202610%02dT130000Z-0123456789ab.txt", day), fmt.Sprintf("Plan %d\n", day))
				if day > 9-handsetPast {
					want = append(want, fmt.Sprintf("Oct %d 13:00:00 Plan %d", day, day))
				}
			}
			p := switchOn(t, dir, time.Minute)
			p.wantShown(want...)
			p.look()
			p.wantShown(want...) // nothing twice

			inbox(t, dir, "20261010T130000Z-0123456789ab.txt", "Plan 10\nand more\n")
			inbox(t, dir, "20261010T130001Z-0123456789ab.html", "<p>no text</p>")
			inbox(t, dir, ".new-123.tmp", "half of it")
			inbox(t, dir, ".20261011T130000Z-0123456789ab.txt", "half of it")
			inbox(t, dir, "notes.txt", "not one of ours\n")
			p.look()
			want = append(want, "Oct 10 13:00:00 Plan 10\nand more")
			p.wantShown(want...)

			p.types("D1\n\n   \nP5 left heel\n")
			if got := answers(t, dir); !slices.Equal(got, []string{"D1\n", "P5 left heel\n"}) {
				t.Errorf("dropped %q", got)
			}
			// The input over, it looks on for a while: the answers are still to come.
			if err := p.keys.Close(); err != nil {
				t.Fatal(err)
			}
			<-time.After(30 * time.Second) // made-up time
			inbox(t, dir, "20261010T130500Z-0123456789ab.txt", "5 noted.\n")
			if err := <-p.ended; err != nil {
				t.Errorf("the handset ended with %v", err)
			}
			p.wantShown(append(want, "Oct 10 13:05:00 5 noted.")...)
			p.stop()
		})
	}
}

// TestHandsetBeforeAnything is switched on before a message ever came.
func TestHandsetBeforeAnything(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "rosa")
	synctest.Test(t, func(t *testing.T) {
		p := switchOn(t, dir, time.Minute)
		p.look()
		p.wantShown()
		inbox(t, dir, "20261005T130000Z-0123456789ab.txt", "Plan 1\n")
		p.look()
		p.wantShown("Oct 5 13:00:00 Plan 1")
		p.stop()
		if err := <-p.ended; err != nil {
			t.Errorf("switched off, it ended with %v", err)
		}
	})
}

// TestHandsetFails says what went wrong, and never whose phone it is.
func TestHandsetFails(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "rosa")
	synctest.Test(t, func(t *testing.T) {
		p := switchOn(t, dir, time.Minute)
		_ = p.keys.CloseWithError(errors.New("the line is dead"))
		if err := <-p.ended; err == nil || err.Error() != "read answers: the line is dead" {
			t.Errorf("input that fails: %v", err)
		}
		p.stop()
	})
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "out"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	err := Handset{Dir: dir}.Run(t.Context(), strings.NewReader(""), nil)
	if err == nil || !strings.HasPrefix(err.Error(), "look for messages: ") || strings.Contains(err.Error(), "rosa") {
		t.Errorf("a file in the folder's place: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "in"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := (Handset{Dir: dir}).Drop("D1"); err == nil || !strings.HasPrefix(err.Error(), "drop an answer: ") || strings.Contains(err.Error(), "rosa") {
		t.Errorf("a file in the place of in/: %v", err)
	}
}

// TestHandsetAndSpool sends answers as fast as one can type, or faster: the
// spool takes each once, in order.
func TestHandsetAndSpool(t *testing.T) {
	dir := t.TempDir()
	h := Handset{Dir: filepath.Join(dir, "rosa")}
	var want []string
	for i := range 50 {
		text := fmt.Sprintf("P%d", i%11)
		if err := h.Drop(text); err != nil {
			t.Fatal(err)
		}
		want = append(want, text)
	}
	var got []string
	spool := NewSpool(dir, SpoolOptions{})
	for range 2 {
		err := spool.Collect(t.Context(), func(_ context.Context, in Incoming) error {
			if in.From != "rosa" {
				t.Errorf("an answer from %q", in.From)
			}
			got = append(got, in.Text)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("taken %q\nwant  %q", got, want)
	}
}
