package daemon

import (
	"context"
	"errors"
	"sync"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
)

// Collect reads the waiting incoming messages of every channel. Failures are
// logged; the channel then counts as unheard.
func (s *Service) Collect(ctx context.Context) { s.collect(ctx, true) }

// collect reads the channels whose turn it is, or all of them, side by side: a
// carrier that hangs keeps none of the others waiting longer than itself.
func (s *Service) collect(ctx context.Context, all bool) {
	var reading sync.WaitGroup
	for name, ch := range s.o.Channels {
		if ch.Receive == nil || !all && !s.turn(name, ch.Every) {
			continue
		}
		reading.Go(func() { s.read(ctx, name, ch) })
	}
	reading.Wait()
}

// turn tells whether a channel is to be read again.
func (s *Service) turn(channel string, every time.Duration) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return !s.o.Clock.Now().Before(s.tried[channel].Add(every))
}

func (s *Service) read(ctx context.Context, name string, ch Channel) {
	began := s.o.Clock.Now()
	s.mu.Lock()
	s.tried[name] = began
	s.mu.Unlock()
	if err := ch.Receive.Collect(ctx, s.Take(name)); err != nil {
		s.o.Log.WarnContext(ctx, "in.failed", "channel", name, "error", safeError(err))
		why := "look in the log for in.failed"
		if list := (notify.ListError{}); errors.As(err, &list) {
			why = notify.Explain(list.Code)
		}
		s.trouble("in "+name, "incoming messages of "+name+" cannot be read: "+why)
		return
	}
	s.mu.Lock()
	s.heard[name] = began
	s.mu.Unlock()
	if s.untrouble("in " + name) {
		nudge(s.heardOf)
	}
	s.notePoint(ctx, name, ch, pointEvery)
}

// heardSince tells whether the channel was read successfully at or after t.
func (s *Service) heardSince(channel string, t time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	at, ok := s.heard[channel]
	return ok && !at.Before(t)
}

// pointEvery is how far the point of reading may run ahead of the one that is
// written down. After a crash what came in between is listed once more, and is
// known; written down every minute it would be the greater part of a small
// clinic's journal.
const pointEvery = 6 * time.Hour

// notePoint writes down up to where a channel was read, if that is further than
// every after what is written.
func (s *Service) notePoint(ctx context.Context, name string, ch Channel, every time.Duration) {
	if ch.Point == nil {
		return
	}
	point := ch.Point()
	var was time.Time
	err := s.o.Journal.View(func(tx *journal.Tx) error { was = tx.Polled(name); return nil })
	if err != nil || point.Sub(was) < every {
		return
	}
	err = s.commit(ctx, s.roster.Load(), func(w *work) error {
		_, err := w.tx.Append(journal.Event{Kind: journal.Polled, At: w.now, Channel: name, Point: point})
		return err
	})
	if err != nil {
		s.o.Log.ErrorContext(ctx, "journal.failed", "doing", "point of reading")
	}
}

// notePoints writes down up to where every channel was read, at a stop.
func (s *Service) notePoints() {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	for name, ch := range s.o.Channels {
		s.notePoint(ctx, name, ch, time.Minute)
	}
}

// firstPoint is where a channel's list is read from at a start: where the last
// reading ended, or from the clinic's first event on, or from now.
func firstPoint(j *journal.Journal, channel string, now time.Time) (time.Time, error) {
	point := now
	err := j.View(func(tx *journal.Tx) error {
		if at := tx.Polled(channel); !at.IsZero() {
			point = at
			return nil
		}
		first := true
		return tx.Events("", func(e journal.Event) error {
			if first {
				point, first = e.At, false
			}
			return nil
		})
	})
	return point, err
}
