package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
	"stepgate/notify"
	"stepgate/rules"
)

// LiveOptions say how a demo goes on as a running service.
type LiveOptions struct {
	Dir     string        // as in [Options]
	Day     time.Duration // a made-up day takes this long
	Reports string        // loopback address of the report pages; "": none
	You     string        // id of the patient somebody plays; the others answer by themselves
	Log     *slog.Logger
	Ready   func() // told once the service works
}

// LiveDays is how many days are behind the clinic when a live demo begins: one
// patient is held, one paused for a danger sign, one silent.
const LiveDays = 12

// NobodyError says that the demo has no such patient.
type NobodyError struct{ ID string }

func (e NobodyError) Error() string {
	return fmt.Sprintf("the demo has no patient %q; it has %s to %s", e.ID, patients[0].id, patients[len(patients)-1].id)
}

// Live plays the first days of the demo, and then serves the clinic in quick
// time until ctx is done.
func Live(ctx context.Context, o LiveOptions) error {
	known := false
	for _, p := range patients {
		known = known || p.id == o.You
	}
	if !known {
		return NobodyError{o.You}
	}
	from, err := past(ctx, o.Dir)
	if err != nil {
		return err
	}
	living, stop := context.WithCancel(ctx)
	defer stop()
	answered := make(chan error, 1)
	err = daemon.Serve(living, daemon.ServeOptions{
		Dir: o.Dir, Quick: o.Day, From: from, Reports: o.Reports, Getenv: os.Getenv, Log: o.Log,
		Ready: func(c *config.Clinic, _ bool) {
			go func() {
				err := answerAll(living, o, c, from)
				if err != nil {
					stop()
				}
				answered <- err
			}()
			if o.Ready != nil {
				o.Ready()
			}
		},
	})
	stop()
	select {
	case failed := <-answered:
		return errors.Join(err, failed)
	default: // it never began, or ends with living
		return err
	}
}

// past plays the days before, and moves their data to where quick time has its
// own. It returns the first morning after them.
func past(ctx context.Context, dir string) (time.Time, error) {
	if err := layOut(dir); err != nil {
		return time.Time{}, err
	}
	g, err := open(Options{Dir: dir, Out: io.Discard})
	if err != nil {
		return time.Time{}, err
	}
	g.page.title(g.clinic.Name, patients) // to io.Discard
	for day := 1; day <= LiveDays && err == nil; day++ {
		if err = g.playDay(ctx, day); err != nil {
			err = fmt.Errorf("demo day %d: %w", day, err)
		}
	}
	if err = errors.Join(err, g.journal.Close()); err != nil {
		return time.Time{}, err
	}
	quick := filepath.Join(g.clinic.Data, "quick")
	err = os.MkdirAll(quick, 0o700)
	for _, name := range []string{"journal.db", "spool"} {
		err = errors.Join(err, os.Rename(filepath.Join(g.clinic.Data, name), filepath.Join(quick, name)))
	}
	if err != nil {
		return time.Time{}, fmt.Errorf("move the demo's data: %w", err)
	}
	return g.at(LiveDays+1, 8*60), nil
}

// lookAround is how often the made-up patients look at the clock.
const lookAround = 100 * time.Millisecond

// answerAll has the patients whom nobody plays answer when their time comes,
// until ctx is done. Whoever is paused gets no texts, and sends none.
func answerAll(ctx context.Context, o LiveOptions, c *config.Clinic, last time.Time) error {
	looker := daemon.NewLooker(o.Dir, true, os.Getenv)
	clock := time.NewTicker(lookAround)
	defer clock.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-clock.C:
		}
		now, err := answerDue(ctx, looker, o, c, last)
		switch {
		case err == nil:
			last = now
		case ctx.Err() == nil && !errors.Is(err, control.ErrNone):
			return fmt.Errorf("answer as the patients: %w", err)
		}
	}
}

// answerDue sends what has come due since a time, and returns the time now.
func answerDue(ctx context.Context, looker *daemon.Looker, o LiveOptions, c *config.Clinic, last time.Time) (time.Time, error) {
	paused := map[string]bool{}
	board, _, err := looker.Board(ctx, caseload.Query{Only: []string{string(rules.InPaused)}})
	if err != nil {
		return last, err
	}
	for _, r := range board.Rows {
		paused[r.ID] = true
	}
	phone, err := looker.Phone(ctx, o.You)
	if err != nil {
		return last, err
	}
	now := phone.Now.In(c.Zone)
	for _, r := range due(o.You, last, now) {
		if paused[r.id] {
			continue
		}
		h := notify.Handset{Dir: filepath.Join(filepath.Dir(phone.Dir), boxOf(c, r.id))}
		if err := h.Drop(r.says); err != nil {
			return last, err
		}
	}
	return now, nil
}

// boxOf names a patient's folder on the spool.
func boxOf(c *config.Clinic, id string) string {
	if e := c.Enrollments.Get(id); e != nil {
		return e.Address.To
	}
	return id
}

// reply is what one patient says.
type reply struct{ id, says string }

// due are the replies after one time up to another, but for those of somebody.
func due(but string, after, to time.Time) (list []reply) {
	for d := rules.DateOf(after); d <= rules.DateOf(to); d++ {
		y, m, day := d.Civil()
		for _, p := range patients {
			if p.id == but {
				continue
			}
			for _, t := range p.replies(int(d-start) + 1) {
				at := time.Date(y, m, day, t.at/60, t.at%60, 0, 0, to.Location())
				if at.After(after) && !at.After(to) {
					list = append(list, reply{p.id, t.says})
				}
			}
		}
	}
	return list
}
