package daemon

import (
	"context"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
)

// Recover takes up what a process that died left handed over without an
// outcome. It is called once, before anything else is sent. Where the carrier
// has a list, the message is put among those to be looked up, and others need
// not wait for that; elsewhere it is settled at once.
func (s *Service) Recover(ctx context.Context) error {
	var rows []journal.Row
	err := s.o.Journal.View(func(tx *journal.Tx) (err error) {
		rows, err = tx.HandedRows()
		return err
	})
	if err != nil {
		return err
	}
	for _, row := range rows {
		msg, err := s.message(row)
		if err != nil {
			return err
		}
		ch, ok := s.o.Channels[row.Channel]
		if ok && ch.LookAgain > 0 {
			err = s.commit(ctx, s.roster.Load(), func(w *work) error {
				return w.settle(&row, journal.Result{Status: string(notify.Unknown), Code: "cut off", Retry: w.now})
			})
			if err != nil {
				return err
			}
			continue
		}
		res := notify.Result{Status: notify.Unknown, Code: "no channel"}
		if ok {
			res = ch.Sender.Settle(ctx, msg)
		}
		if res.Status == notify.Unknown && ctx.Err() != nil {
			return nil // a stop came first: the next start looks again
		}
		s.o.Log.WarnContext(ctx, "out.recovered", "id", row.Enrollment, "kind", row.Kind, "status", string(res.Status))
		if err := s.outcome(ctx, &row, res); err != nil {
			return err
		}
	}
	return nil
}

// LookUp looks up the messages of unknown outcome whose time has come.
func (s *Service) LookUp(ctx context.Context) error {
	now := s.o.Clock.Now()
	var rows []journal.Row
	err := s.o.Journal.View(func(tx *journal.Tx) (err error) {
		rows, err = tx.LookUps(now, 0)
		return err
	})
	if err != nil {
		return err
	}
	for _, row := range rows {
		msg, err := s.message(row)
		if err != nil {
			return err
		}
		res := notify.Result{Status: notify.Unknown, Code: "no channel"}
		if ch, ok := s.o.Channels[row.Channel]; ok {
			res = ch.Sender.Settle(ctx, msg)
		}
		if ctx.Err() != nil {
			return nil
		}
		if err := s.outcome(ctx, &row, res); err != nil {
			return err
		}
		s.kick()
	}
	return nil
}

// errands are what is done beside ticks and sends: looking up unknown outcomes
// and asking for news of deliveries. A carrier that hangs holds up neither the
// days nor the replies.
func (s *Service) errands(ctx context.Context) {
	turn := time.NewTicker(s.errandEvery())
	defer turn.Stop()
	for ctx.Err() == nil {
		if err := s.LookUp(ctx); err != nil && ctx.Err() == nil {
			s.o.Log.ErrorContext(ctx, "outbox.failed", "error", safeError(err))
		}
		for name := range s.o.Channels {
			s.askNews(ctx, name)
		}
		s.backUpIfDue(ctx)
		s.retain(ctx)
		select {
		case <-ctx.Done():
		case <-turn.C:
		}
	}
}

// errandEvery is a quarter of the shortest time after which anything is looked
// up again, and at most five seconds.
func (s *Service) errandEvery() time.Duration {
	every := 5 * time.Second
	for _, ch := range s.o.Channels {
		if ch.LookAgain > 0 {
			every = min(every, max(ch.LookAgain/4, 50*time.Millisecond))
		}
	}
	return every
}
