package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// ErrNoJournal says that nothing was ever served from a folder.
var ErrNoJournal = errors.New("nothing has been served from this folder yet; start it with stepgate serve")

// Looker looks at a clinic from another process: through the running
// service, or in the journal itself where none runs.
type Looker struct {
	dir    string
	getenv func(string) string
	places []place
}

type place struct {
	data  string
	quick bool
}

// NewLooker looks at the clinic in dir: at real time's data, or where there are
// none at quick time's. While a service runs, it is that of the running one. With
// quick set it looks at quick time alone. What it gives says which.
func NewLooker(dir string, quick bool, getenv func(string) string) *Looker {
	data := config.DataDir(dir)
	l := &Looker{dir: dir, getenv: getenv, places: []place{{data, false}, {filepath.Join(data, "quick"), true}}}
	if quick {
		l.places = l.places[1:]
	}
	return l
}

// Health asks the running service; control.ErrNone where none runs.
func (l *Looker) Health(ctx context.Context) (h Health, err error) {
	return h, l.ask(ctx, "/v1/health", &h)
}

// Phone asks the running service where a patient's messages lie.
func (l *Looker) Phone(ctx context.Context, id string) (p Phone, err error) {
	return p, l.ask(ctx, "/v1/spool/"+url.PathEscape(id), &p)
}

// ask asks the first service that runs.
func (l *Looker) ask(ctx context.Context, path string, v any) error {
	err := control.ErrNone
	for _, p := range l.places {
		if err = control.Get(ctx, p.data, path, v); !errors.Is(err, control.ErrNone) {
			return err
		}
	}
	return err
}

// Explain tells the decision of a date for one patient; date 0: the last. It
// gives control.ErrNotFound for a patient the clinic does not have.
func (l *Looker) Explain(ctx context.Context, id string, date rules.Date) (*caseload.Story, error) {
	var story *caseload.Story
	path := "/v1/patient/" + url.PathEscape(id)
	if date != 0 {
		path += "?date=" + date.String()
	}
	err := l.ask(ctx, path, &story)
	if !errors.Is(err, control.ErrNone) {
		return story, err
	}
	err = l.read(func(tx *journal.Tx, v caseload.View) (err error) { story, err = v.Explain(tx, id, date); return err })
	if err == nil && story == nil {
		return nil, control.ErrNotFound
	}
	return story, err
}

// Refusal is the problem for which a service would refuse a clinic that reads
// well, in view of what its journal knows; nil where it would not, or where
// nothing was ever served.
func (l *Looker) Refusal(ctx context.Context, c *config.Clinic) (*config.Problem, error) {
	real := l.places[0]
	var p *config.Problem
	err := control.Get(ctx, real.data, "/v1/refusal", &p)
	if !errors.Is(err, control.ErrNone) {
		return p, err
	}
	path := filepath.Join(real.data, "journal.db")
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		return nil, fmt.Errorf("look at the journal: %w", err)
	}
	defer func() { _ = j.Close() }()
	err = j.View(func(tx *journal.Tx) (err error) { p, err = refusal(tx, c, time.Now()); return err })
	return p, err
}

// read opens the journal itself, with the clinic last accepted in it.
func (l *Looker) read(fn func(*journal.Tx, caseload.View) error) error {
	for _, p := range l.places {
		path := filepath.Join(p.data, "journal.db")
		if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		return l.readJournal(path, p.quick, fn)
	}
	return ErrNoJournal
}

func (l *Looker) readJournal(path string, quick bool, fn func(*journal.Tx, caseload.View) error) error {
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		return fmt.Errorf("look at the journal: %w", err)
	}
	defer func() { _ = j.Close() }()
	c, err := lastAccepted(j, l.dir, l.getenv)
	if err != nil {
		return fmt.Errorf("look at the journal: %w", err)
	}
	if c == nil {
		return ErrNoJournal
	}
	if quick {
		c = quickClinic(c)
	}
	words, err := templates.New()
	if err != nil {
		return err
	}
	return j.View(func(tx *journal.Tx) error {
		now := time.Now()
		if quick {
			now = tx.LastAt()
		}
		return fn(tx, caseload.View{Clinic: c, Words: words, Now: now, Quick: quick})
	})
}
