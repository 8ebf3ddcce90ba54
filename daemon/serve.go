package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"stepgate/config"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// ServeOptions say which clinic is served and how.
type ServeOptions struct {
	Dir    string
	Quick  time.Duration // a made-up day takes this long; 0: real time
	Getenv func(string) string
	// From is the made-up time at which Quick begins where the journal knows no
	// later one; zero: this morning.
	From time.Time
	// Reports is the loopback address of the report pages, in the place of the one
	// in the files; "": that one.
	Reports string
	Reload  <-chan struct{}
	Log     *slog.Logger
	// Ready is told once the service works: the clinic in force, and whether
	// it is the last good one because the files were refused.
	Ready func(c *config.Clinic, refused bool)
}

// HeldError says that another process serves the folder.
type HeldError struct{ Data string }

func (e HeldError) Error() string {
	return "another stepgate serve holds the journal in " + e.Data + "; stop it first, or look at it with stepgate caseload"
}

// Serve runs the service of a clinic folder until ctx is done. A folder with
// errors is an error (config.Problems) where no clinic was ever accepted from
// it; otherwise the last one accepted is served, and everybody is told.
func Serve(ctx context.Context, o ServeOptions) error {
	load := func() (*config.Clinic, config.Problems) {
		c, problems := config.Load(o.Dir, o.Getenv)
		if c != nil && o.Quick > 0 {
			c = quickClinic(c)
		}
		return c, problems
	}
	x := &serving{o: o, load: load}
	if o.Quick == 0 {
		x.kept = &kept{reader: config.Reader{Dir: o.Dir, Getenv: o.Getenv}, log: o.Log}
		load = x.kept.load
	}
	x.watch = newWatch(o.Dir, o.Log, o.Reload, load)
	c, problems := x.watch.read()
	j, err := openJournal(o, c)
	if err != nil {
		return err
	}
	if j == nil {
		return problems.Errors() // nothing was ever accepted here
	}
	defer func() { _ = j.Close() }()
	x.j = j
	return x.run(ctx, c, problems)
}

// openJournal opens the journal of the clinic, or of the usual place where
// the files can't say. It is nil where there are neither good files nor a
// journal.
func openJournal(o ServeOptions, c *config.Clinic) (*journal.Journal, error) {
	data := config.DataDir(o.Dir)
	if o.Quick > 0 {
		data = filepath.Join(data, "quick")
	}
	path := filepath.Join(data, "journal.db")
	if c == nil {
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			return nil, nil
		}
	}
	if err := ownData(data, o.Log); err != nil {
		return nil, err
	}
	j, err := journal.Open(path, journal.Options{})
	if errors.Is(err, journal.ErrLocked) {
		return nil, HeldError{Data: data}
	}
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) {
		err = fmt.Errorf("the data folder %s may not be written to by this user; give it to the user the service runs as: %w", data, err)
	}
	return j, err
}

// serving is one run of Serve.
type serving struct {
	o     ServeOptions
	j     *journal.Journal
	load  func() (*config.Clinic, config.Problems) // looks at the files, as a question about them does
	watch *watch                                   // reads them to be put in force
	kept  *kept                                    // of that reading; nil on a made-up calendar
	svc   *Service
	chs   *channels
	// refused says that the last good clinic is served instead of the files.
	refused bool
}

func (x *serving) run(ctx context.Context, c *config.Clinic, problems config.Problems) error {
	words, err := templates.New()
	if err != nil {
		return fmt.Errorf("read templates: %w", err)
	}
	clock, err := x.clock(c)
	if err != nil {
		return err
	}
	options := Options{Journal: x.j, Words: words, Log: x.o.Log, Clock: clock, Made: x.o.Quick > 0}
	if x.o.Quick == 0 {
		options.Edit, options.Reread, options.Accepted = x.edit, x.reread, x.kept.keep
	}
	x.svc, err = NewService(options)
	if err != nil {
		return err
	}
	if c, err = x.putInForce(ctx, c, problems); err != nil {
		return err
	}
	if x.chs, err = openChannels(c, x.svc, clock); err != nil {
		return err
	}
	x.svc.o.Channels = x.chs.byName
	run, err := x.runOptions(c)
	if err != nil {
		return err
	}
	sock, err := control.Listen(c.Data)
	if err != nil {
		return err
	}
	answering := control.Serve(sock, x.answers())
	defer func() { _ = answering.Close() }()
	defer x.watch.start(ctx)()
	args := []any{"enrollments", c.Enrollments.Len()}
	if x.o.Quick > 0 {
		args = append(args, "quick_day", x.o.Quick.String())
	}
	BoundMemory(c.Enrollments.Len())
	x.o.Log.InfoContext(ctx, "serve.begun", args...)
	if x.o.Ready != nil {
		x.o.Ready(c, x.refused)
	}
	defer x.svc.manage(ctx)()
	return x.svc.Run(ctx, run)
}

// edit writes entries into the clinic's files, as a person would. Entries that
// are there already are written: an answer that is taken a second time, after a
// crash, finds them so. A file that somebody saved meanwhile is read again, a
// few times.
func (x *serving) edit(id string, entries []rules.Entry) (rules.Pos, error) {
	at, err := x.editOnce(id, entries)
	for tries := 1; errors.Is(err, config.ErrChanged) && tries < 5; tries++ {
		at, err = x.editOnce(id, entries)
	}
	if errors.Is(err, config.ErrNothingToDo) {
		err = nil
	}
	return at, err
}

func (x *serving) editOnce(id string, entries []rules.Entry) (rules.Pos, error) {
	e, err := config.AddEntries(x.o.Dir, id, entries)
	if err != nil {
		return rules.Pos{}, err
	}
	at := rules.Pos{File: e.Path, Line: e.Line}
	if rel, err := filepath.Rel(x.o.Dir, e.Path); err == nil {
		at.File = filepath.ToSlash(rel)
	}
	return at, e.Write()
}

// loadFrom reads the clinic as it stands in another folder, such as a copy that
// is being edited; "" is the one that is served.
func (x *serving) loadFrom(dir string) (*config.Clinic, config.Problems) {
	if dir == "" {
		return x.load()
	}
	c, problems := config.Load(dir, x.o.Getenv)
	if c != nil && x.o.Quick > 0 {
		c = quickClinic(c)
	}
	return c, problems
}

func (x *serving) reread(ctx context.Context) error { return x.svc.Reload(ctx, x.watch.read) }

// clock is the machine's, or with Quick one that goes on from the newest
// event, so that a restart does not go back in made-up time.
func (x *serving) clock(c *config.Clinic) (Clock, error) {
	if x.o.Quick == 0 {
		return RealClock{}, nil
	}
	var last time.Time
	err := x.j.View(func(tx *journal.Tx) error { last = tx.LastAt(); return nil })
	if err != nil {
		return nil, err
	}
	from := time.Now()
	if !x.o.From.IsZero() {
		from = x.o.From
	} else if c != nil {
		from = localInstant(rules.DateOf(from.In(c.Zone)), c.Texting.From, c.Zone)
	}
	return NewQuickClock(latest(from, last), x.o.Quick), nil
}

// putInForce accepts the clinic that was read, or else the last one.
func (x *serving) putInForce(ctx context.Context, c *config.Clinic, problems config.Problems) (*config.Clinic, error) {
	again := false
	err := x.svc.Reload(ctx, func() (*config.Clinic, config.Problems) {
		if again {
			return x.watch.read()
		}
		again = true
		return c, problems
	})
	if err == nil {
		return x.svc.Clinic(), nil
	}
	x.o.Log.ErrorContext(ctx, "files.last_good", "why", "the files in the clinic folder were refused; see files.problem")
	restored, rerr := x.svc.restoreLast(ctx, x.o)
	if rerr != nil {
		return nil, fmt.Errorf("restore the last good files: %w", rerr)
	}
	if restored == nil {
		return nil, err
	}
	x.svc.tellBad(ctx, x.svc.refused()) // now that there is someone to tell
	x.refused = true
	return restored, nil
}

// restoreLast is Restore for a made-up calendar too.
func (s *Service) restoreLast(ctx context.Context, o ServeOptions) (*config.Clinic, error) {
	c, err := lastAccepted(s.o.Journal, o.Dir, o.Getenv)
	if c == nil || err != nil {
		return nil, err
	}
	if o.Quick > 0 {
		c = quickClinic(c)
	}
	return c, s.Accept(ctx, c)
}

func (x *serving) runOptions(c *config.Clinic) (RunOptions, error) {
	run := RunOptions{Load: x.watch.read, Reload: x.watch.out}
	if x.o.Reports != "" {
		there := *c
		there.Reports = x.o.Reports
		c = &there
	}
	if x.o.Quick > 0 {
		// A made-up day has fewer seconds than a real one has minutes: it ticks
		// with every look for answers, at least 48 times a day.
		run.Poll, run.Often = min(300*time.Millisecond, x.o.Quick/48), true
		var err error
		run.Web, err = x.svc.openDoors(c, nil)
		return run, err
	}
	sites, err := x.chs.sites(x.svc, c)
	if err != nil {
		return run, err
	}
	run.Web, err = x.svc.openDoors(c, sites)
	return run, err
}

// answers are the questions the control socket takes.
func (x *serving) answers() map[string]control.Answer {
	return map[string]control.Answer{
		"/v1/health":         func(*http.Request) (any, error) { return x.svc.Health(), nil },
		"/v1/caseload":       x.board,
		"/v1/timeline/{id}":  x.timeline,
		"/v1/export":         x.export,
		"/v1/export/summary": x.exportSummary,
		"/v1/report":         x.clinicReport,
		"/v1/report/{id}":    x.patientReport,
		"/v1/patient/{id}": func(r *http.Request) (v any, err error) {
			var date rules.Date
			if s := r.URL.Query().Get("date"); s != "" {
				if date, err = rules.ParseDate(s); err != nil {
					return nil, err
				}
			}
			err = x.j.View(func(tx *journal.Tx) error {
				story, err := x.view().Explain(tx, r.PathValue("id"), date)
				if story != nil {
					v = story
				}
				return err
			})
			return v, err
		},
		"/v1/refusal": func(*http.Request) (any, error) {
			var p *config.Problem
			c, _ := x.load()
			if c == nil || x.o.Quick > 0 {
				return p, nil
			}
			err := x.j.View(func(tx *journal.Tx) (err error) { p, err = refusal(tx, c, x.svc.o.Clock.Now()); return err })
			return p, err
		},
		"/v1/verify": func(*http.Request) (any, error) {
			rep, err := x.j.Verify()
			if err != nil {
				return nil, control.Told(err)
			}
			return decidedAgain(x.j, rep, x.o.Dir, x.o.Quick > 0)
		},
		"POST /v1/backup": func(r *http.Request) (any, error) {
			to := r.URL.Query().Get("to")
			if to == "" && x.svc.Clinic().Backups == nil {
				return nil, control.Told(errors.New("no folder for backups is in force"))
			}
			made, err := makeCopy(r.Context(), x.j, x.svc.Clinic().Backups, to, x.svc.o.Clock.Now())
			return made, control.Told(err)
		},
		"POST /v1/erase": func(r *http.Request) (any, error) {
			out, err := x.svc.erase(r.Context(), r.URL.Query().Get("id"), r.URL.Query().Get("by"))
			return out, control.Told(err)
		},
		"/v1/impact": func(r *http.Request) (v any, err error) {
			c, problems := x.loadFrom(r.URL.Query().Get("dir"))
			if c == nil {
				return nil, problems.Errors()
			}
			err = x.j.View(func(tx *journal.Tx) error {
				v, err = impact(tx, x.svc.Clinic(), c, x.svc.o.Words, x.svc.o.Clock.Now())
				return err
			})
			return v, err
		},
		"/v1/taken/{id}": x.takenUp,
		"/v1/known": func(*http.Request) (v any, err error) {
			err = x.j.View(func(tx *journal.Tx) error { v, err = knownIDs(tx); return err })
			return v, err
		},
		"/v1/spool/{id}": func(r *http.Request) (any, error) { return x.spoolOf(r.PathValue("id")), nil },
	}
}

// Phone is where a patient's messages lie on the spool.
type Phone struct {
	Name  string    `json:"name"`
	Dir   string    `json:"dir"`
	Now   time.Time `json:"now"`
	Zone  string    `json:"zone"`
	Quick bool      `json:"quick"`
}

func (x *serving) spoolOf(id string) any {
	r := x.svc.roster.Load()
	e := r.enrolled(id)
	if e == nil || e.Address.Channel != "spool" {
		return nil
	}
	return Phone{Name: e.Name, Dir: filepath.Join(r.clinic.Spool.Dir, e.Address.To),
		Now: x.svc.o.Clock.Now(), Zone: e.Zone.String(), Quick: x.o.Quick > 0}
}
