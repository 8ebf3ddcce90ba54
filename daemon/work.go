package daemon

import (
	"context"
	"log/slog"
	"time"

	"stepgate/daemon/journal"
)

// work is what is done in one commit of the journal: one instant, one roster.
// What it has to say is logged once the commit stands, because a commit may
// be tried more than once.
type work struct {
	s    *Service
	tx   *journal.Tx
	r    *roster
	now  time.Time
	said []func(context.Context)
	// alerted says that this commit wrote an alert down, which may have to go
	// out at once.
	alerted bool
}

// commit runs fn in one durable commit.
func (s *Service) commit(ctx context.Context, r *roster, fn func(*work) error) error {
	now := s.o.Clock.Now()
	var w *work
	err := s.o.Journal.Update(ctx, func(tx *journal.Tx) error {
		w = &work{s: s, tx: tx, r: r, now: now}
		if err := fn(w); err != nil || !w.alerted {
			return err
		}
		return w.tellAlerts()
	})
	if err != nil {
		return err
	}
	for _, say := range w.said {
		say(ctx)
	}
	return nil
}

// log keeps a line to be logged after the commit, if anybody wants it.
func (w *work) log(level slog.Level, event string, args ...any) {
	if !w.logs(level) {
		return
	}
	w.said = append(w.said, func(ctx context.Context) { w.s.o.Log.Log(ctx, level, event, args...) })
}

// logs tells whether lines of a level are wanted.
func (w *work) logs(level slog.Level) bool { return w.s.o.Log.Enabled(context.Background(), level) }

// whose names an enrollment in the log; what is the clinic's own names none.
func whose(id string) []any {
	if id == "" {
		return nil
	}
	return []any{"id", id}
}
