// Package demo plays a clinic on a made-up calendar: the real rules, journal,
// spool and words, with nothing but the clock and the patients invented.
package demo

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/daemon/page"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
	clinic "stepgate/testdata/demo"
)

// Options say where the demo lays its files and how it prints.
type Options struct {
	Dir   string // emptied first, if an earlier demo made it
	Out   io.Writer
	Color bool
	All   bool // every message, not only the days on which something happens

	Program string // how the program is called, in what to try next; "": stepgate
}

// marker stands in a folder that a demo made, and may empty again.
const marker = ".stepgate-demo"

// Run plays the demo from the first day to the last.
func Run(ctx context.Context, o Options) error {
	if err := layOut(o.Dir); err != nil {
		return err
	}
	g, err := open(o)
	if err != nil {
		return err
	}
	defer func() { _ = g.journal.Close() }()
	g.page.title(g.clinic.Name, patients)
	for day := 1; day <= weeks*7; day++ {
		if err := g.playDay(ctx, day); err != nil {
			return fmt.Errorf("demo day %d: %w", day, err)
		}
	}
	g.page.flush()
	return g.finish()
}

// ForeignError says that a folder has things in it that no demo made.
type ForeignError struct{ Dir string }

func (e ForeignError) Error() string {
	return "the folder " + e.Dir + " is not empty and no demo made it; name another with --dir"
}

// RunningError says that a service runs in a demo's folder.
type RunningError struct{ Dir string }

func (e RunningError) Error() string {
	return "a service runs in " + e.Dir + "; stop it, or name another folder with --dir"
}

// running tells whether a service has one of the folder's journals open.
func running(dir string) bool {
	for _, data := range []string{"data", filepath.Join("data", "quick")} {
		path := filepath.Join(dir, data, "journal.db")
		if _, err := os.Stat(path); err != nil {
			continue
		}
		j, err := journal.Open(path, journal.Options{NoSync: true})
		if errors.Is(err, journal.ErrLocked) {
			return true
		}
		if err == nil {
			_ = j.Close() // the folder is emptied
		}
	}
	return false
}

func layOut(dir string) error {
	switch _, err := os.Stat(filepath.Join(dir, marker)); {
	case err == nil && running(dir):
		return RunningError{dir}
	case err == nil:
		if err := empty(dir); err != nil {
			return fmt.Errorf("empty the demo folder: %w", err)
		}
	default:
		if found, err := os.ReadDir(dir); err == nil && len(found) > 0 {
			return ForeignError{dir}
		}
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make the demo folder: %w", err)
	}
	if err := os.WriteFile(filepath.Join(dir, marker), []byte("made by stepgate demo\n"), 0o600); err != nil {
		return fmt.Errorf("mark the demo folder: %w", err)
	}
	err := fs.WalkDir(clinic.Files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		to := filepath.Join(dir, filepath.FromSlash(path))
		if d.IsDir() {
			return os.MkdirAll(to, 0o700)
		}
		data, err := clinic.Files.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(to, data, 0o600)
	})
	if err != nil {
		return fmt.Errorf("lay out the demo clinic: %w", err)
	}
	return nil
}

// empty takes everything out of a folder. The folder itself stays: it may be
// the one the program runs in. So does the marker: a demo cut off at any time
// may begin again.
func empty(dir string) error {
	found, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range found {
		if e.Name() == marker {
			continue
		}
		if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
			return err
		}
	}
	return nil
}

// game is a demo being played.
type game struct {
	o       Options
	clinic  *config.Clinic
	journal *journal.Journal
	service *daemon.Service
	clock   *daemon.SetClock
	words   *templates.Set
	page    *show
	seen    uint64 // events up to here are on the page
	dropped int    // replies dropped in so far
}

func open(o Options) (*game, error) {
	c, problems := config.Load(o.Dir, os.Getenv)
	if c == nil {
		return nil, problems.Errors()
	}
	if err := os.MkdirAll(c.Data, 0o700); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	// A made-up journal need not outlive a power cut, so it is not synced.
	j, err := journal.Open(filepath.Join(c.Data, "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		return nil, err
	}
	words, err := templates.New()
	if err != nil {
		return nil, err
	}
	g := &game{o: o, clinic: c, journal: j, clock: &daemon.SetClock{}, words: words}
	g.clock.Set(g.at(1, 8*60))
	log := slog.New(slog.DiscardHandler)
	spool := notify.NewSpool(c.Spool.Dir, notify.SpoolOptions{Log: log, Now: g.clock.Now, NoSync: true})
	g.service, err = daemon.NewService(daemon.Options{
		Journal: j, Words: words, Log: log, Clock: g.clock, Made: true,
		Channels: map[string]daemon.Channel{"spool": {Sender: spool, Receive: spool}},
	})
	if err != nil {
		return nil, err
	}
	g.page = &show{Page: page.Page{Out: o.Out, Color: o.Color}, all: o.All}
	return g, g.service.Accept(context.Background(), c)
}

// at is a local time on a day of the program.
func (g *game) at(day, minutes int) time.Time {
	y, m, d := (start + rules.Date(day) - 1).Civil()
	return time.Date(y, m, d, minutes/60, minutes%60, 0, 0, g.clinic.Zone)
}

// playDay lives one day: the message time, then each reply when it comes.
func (g *game) playDay(ctx context.Context, day int) error {
	type moment struct {
		at   int
		from patient
		says string
	}
	moments := []moment{{at: 9 * 60}}
	for _, p := range patients {
		for _, t := range p.replies(day) {
			moments = append(moments, moment{t.at, p, t.says})
		}
	}
	slices.SortStableFunc(moments, func(a, b moment) int { return a.at - b.at })
	for _, en := range entries {
		if en.day == day {
			if err := g.write(ctx, en); err != nil {
				return err
			}
		}
	}
	for _, m := range moments {
		g.clock.Set(g.at(day, m.at))
		if m.says != "" {
			if err := g.drop(m.from, m.says); err != nil {
				return err
			}
		}
		if err := g.step(ctx); err != nil {
			return err
		}
	}
	return g.show(day)
}

// step is what the running service does at a tick.
func (g *game) step(ctx context.Context) error {
	g.service.Collect(ctx)
	if err := g.service.Tick(ctx); err != nil {
		return err
	}
	return g.service.SendWaiting(ctx)
}

// drop puts a reply where the patient's phone would: into the spool.
func (g *game) drop(p patient, says string) error {
	e := g.enrollment(p.id)
	dir := filepath.Join(g.clinic.Spool.Dir, e.Address.To, "in")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	g.dropped++
	return os.WriteFile(filepath.Join(dir, fmt.Sprintf("%05d.txt", g.dropped)), []byte(says+"\n"), 0o600)
}

// write adds a clinician's entry to a file and has the service read it again.
func (g *game) write(ctx context.Context, en entry) error {
	g.clock.Set(g.at(en.day, 8*60+30))
	f, err := os.OpenFile(filepath.Join(g.o.Dir, filepath.FromSlash(en.file)), os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if _, err := f.WriteString(en.yaml); err != nil {
		_ = f.Close()
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return g.service.Reload(ctx, func() (*config.Clinic, config.Problems) { return config.Load(g.o.Dir, os.Getenv) })
}

func (g *game) enrollment(id string) *config.Enrollment {
	return g.service.Clinic().Enrollments.Get(id)
}

// show puts what the day added to the journal on the page.
func (g *game) show(day int) error {
	today := newDay(start+rules.Date(day)-1, day)
	err := g.journal.View(func(tx *journal.Tx) error {
		return tx.All(func(ev journal.Event) error {
			if ev.Seq > g.seen {
				g.seen = ev.Seq
				today.add(ev)
			}
			return nil
		})
	})
	if err != nil {
		return err
	}
	g.page.day(today, g.words)
	return nil
}

// finish prints a line a patient and what to try next.
func (g *game) finish() error {
	var rows []caseload.Row
	err := g.journal.View(func(tx *journal.Tx) (err error) {
		view := caseload.View{Clinic: g.service.Clinic(), Words: g.words, Now: g.clock.Now()}
		rows, err = view.List(tx)
		return err
	})
	if err != nil {
		return err
	}
	g.page.ending(rows, patients, g.o.Dir, cmp.Or(g.o.Program, "stepgate"))
	return nil
}
