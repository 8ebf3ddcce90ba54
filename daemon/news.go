package daemon

import (
	"context"
	"encoding/hex"
	"fmt"
	"log/slog"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// Tell returns what takes in news of a channel's deliveries: nil once it is
// committed, or is none. News of messages that are not ours, or whose hand-over
// is not written down yet, is passed over; it is listed again later.
func (s *Service) Tell(channel string) notify.Tell {
	return func(ctx context.Context, n notify.News) error {
		news := journal.Undelivered
		if n.Delivered {
			news = journal.Delivered
		}
		is := false
		err := s.o.Journal.View(func(tx *journal.Tx) error {
			row, err := tx.Row(tx.KeyOf(channel, n.ID))
			is = row != nil && row.IsNews(news)
			return err
		})
		if err != nil || !is {
			return err
		}
		var row *journal.Row
		err = s.commit(ctx, s.roster.Load(), func(w *work) (err error) {
			if row, err = w.tx.Row(w.tx.KeyOf(channel, n.ID)); err != nil || row == nil || !row.IsNews(news) {
				return err
			}
			return w.news(row, news, n)
		})
		if err != nil {
			s.o.Log.ErrorContext(ctx, "journal.failed", "doing", "news of a delivery")
			return fmt.Errorf("take news: %w", err)
		}
		if n.Trouble && row != nil {
			s.stopLane(ctx, s.laneOf(row.Lane()), n.Code)
		}
		s.kick()
		return nil
	}
}

// news writes down what became of a message, and does what follows. A dose that
// surely did not arrive counts as one the carrier never took, if it is today's.
func (w *work) news(row *journal.Row, news string, n notify.News) error {
	ev := journal.Event{Kind: journal.Delivery, ID: row.Enrollment, At: w.now, Key: row.Key,
		Result: &journal.Result{Status: news, Code: n.Code}}
	if news == journal.Undelivered && row.Kind == "daily" {
		st, err := w.untaken(row)
		if err != nil {
			return err
		}
		ev.State = st
	}
	if _, err := w.tx.Append(ev); err != nil {
		return err
	}
	level, args := slog.LevelInfo, []any{"id", row.Enrollment, "kind", row.Kind, "channel", row.Channel}
	if news == journal.Undelivered {
		level, args = slog.LevelWarn, append(args, "code", n.Code)
	}
	w.log(level, "out."+news, args...)
	e := w.r.enrolled(row.Enrollment)
	switch {
	case news != journal.Undelivered || e == nil || row.Kind == "alert":
		return nil
	case n.OptedOut:
		if err := w.optOut(e.Address.To, true, ""); err != nil {
			return err
		}
		return w.alert(alert{id: e.ID, notice: rules.Notice{Kind: rules.NoticeOptOut}, cause: row.Key, detail: notify.Explain(n.Code)})
	case n.BadContact:
		return w.deadContact(row, n.Code)
	case row.Kind == "daily":
		return w.tooOften(e, row, n.Code)
	}
	return nil
}

// tooOften acts once nothing was delivered on so many dates running.
func (w *work) tooOften(e *config.Enrollment, row *journal.Row, code string) error {
	last, err := dateOfKey(row.Key)
	if err != nil {
		return err
	}
	limit := max(w.s.o.Channels[row.Channel].Undelivered, 1)
	first, missed := last, 0
	// Dates on which nothing was due lie between; two months are far enough back.
	for d := last; d > last-60; d-- {
		r, err := w.tx.Progress(dailyKey(e.ID, d))
		if err != nil {
			return err
		}
		if r == nil || r.Status != journal.Sent {
			continue
		}
		if r.News != journal.Undelivered {
			break
		}
		first, missed = d, missed+1
	}
	if missed < limit {
		return nil
	}
	person, err := w.tx.Person(e.ID)
	if err != nil || person == nil || w.address(e, person) != e.Address {
		return err // it goes another way already
	}
	if e.Fallback.To != "" {
		return w.reroute(e, code)
	}
	return w.alert(alert{id: e.ID, notice: rules.Notice{Kind: rules.NoticeUndelivered, Since: first}, cause: first.String(), detail: notify.Explain(code)})
}

// deadContact acts on a contact that can get no messages: they go to the
// fallback from now on, or stop until the clinic confirms the contact.
func (w *work) deadContact(row *journal.Row, code string) error {
	person, err := w.tx.Person(row.Enrollment)
	e := w.r.enrolled(row.Enrollment)
	if err != nil || person == nil {
		return err
	}
	if e != nil && e.Fallback.To != "" {
		if w.dead(e, person) && row.Channel == e.Address.Channel {
			return nil
		}
		if !w.dead(e, person) {
			return w.reroute(e, code)
		}
	}
	st := person.State
	st.Suspended = true
	st.Rev++
	if _, err := w.tx.Append(journal.Event{Kind: journal.Revised, ID: row.Enrollment, At: w.now, State: &st, Why: "bad contact"}); err != nil {
		return err
	}
	return w.alert(alert{id: row.Enrollment, notice: rules.Notice{Kind: rules.NoticeContact}, cause: row.Key, detail: notify.Explain(code)})
}

// reroute sends a patient's messages to the fallback from now on.
func (w *work) reroute(e *config.Enrollment, code string) error {
	hash := w.tx.ContactHash(e.Address.To)
	if _, err := w.tx.Append(journal.Event{Kind: journal.Rerouted, ID: e.ID, At: w.now, Contact: hash, Why: code}); err != nil {
		return err
	}
	w.log(slog.LevelWarn, "contact.rerouted", "id", e.ID, "from", e.Address.Channel, "to", e.Fallback.Channel, "code", code)
	cause := hex.EncodeToString(hash[:6]) + " " + today(w.now, e).String()
	return w.alert(alert{id: e.ID, notice: rules.Notice{Kind: rules.NoticeByMail}, cause: cause, detail: notify.Explain(code)})
}

// How deliveries are watched: not asked for in the first moments, when most of
// the news comes by itself, and no longer than three days, by when a carrier
// has given up every text it holds.
const (
	newsAfter = 2 * time.Minute
	newsFor   = 72 * time.Hour
)

// askNews asks a carrier what became of the messages it has said nothing final
// about, if it is time to.
func (s *Service) askNews(ctx context.Context, channel string) {
	ch, now := s.o.Channels[channel], s.o.Clock.Now()
	if ch.News == nil {
		return
	}
	s.mu.Lock()
	early := now.Before(s.asked[channel].Add(ch.NewsEvery))
	if !early {
		s.asked[channel] = now
	}
	s.mu.Unlock()
	if early {
		return
	}
	var rows []journal.Row
	err := s.o.Journal.View(func(tx *journal.Tx) (err error) {
		rows, err = tx.Watched(now.Add(-min(newsAfter, ch.NewsEvery)), 1)
		return err
	})
	if err != nil || len(rows) == 0 {
		return
	}
	// The carrier dates a text by when it was sent on, which is after it was
	// taken.
	if err := ch.News(ctx, rows[0].SentAt, s.Tell(channel)); err != nil {
		if ctx.Err() == nil {
			s.o.Log.WarnContext(ctx, "news.failed", "channel", channel, "error", safeError(err))
		}
		return
	}
	s.giveUpNews(ctx, now)
}

// giveUpNews stops watching what was watched long enough.
func (s *Service) giveUpNews(ctx context.Context, now time.Time) {
	err := s.commit(ctx, s.roster.Load(), func(w *work) error {
		rows, err := w.tx.Watched(now.Add(-newsFor), 1000)
		if err != nil {
			return err
		}
		for _, row := range rows {
			_, err := w.tx.Append(journal.Event{Kind: journal.Delivery, ID: row.Enrollment, At: w.now, Key: row.Key,
				Result: &journal.Result{Status: journal.NoNews}})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil && ctx.Err() == nil {
		s.o.Log.ErrorContext(ctx, "journal.failed", "doing", "end of watching deliveries")
	}
}

// contactTrouble acts on a contact the carrier refused, and tells of outcomes
// nobody can establish.
func (w *work) contactTrouble(row *journal.Row, res notify.Result, out journal.Result) error {
	if row.Kind == "alert" || row.Enrollment == "" {
		return nil
	}
	switch {
	case res.OptedOut:
		if err := w.optOut(row.To, true, ""); err != nil {
			return err
		}
		return w.alert(alert{id: row.Enrollment, notice: rules.Notice{Kind: rules.NoticeOptOut}, cause: row.Key, detail: notify.Explain(res.Code)})
	case res.BadContact:
		return w.deadContact(row, res.Code)
	case out.Status == string(notify.Rejected) && res.Status == notify.Rejected:
		// Refused for what it says, or given up: nobody else would notice.
		return w.alert(alert{id: row.Enrollment, notice: rules.Notice{Kind: rules.NoticeUndelivered}, cause: row.Key, detail: notify.Explain(res.Code)})
	case out.Status == string(notify.Unknown) && out.Retry.IsZero():
		return w.alert(alert{id: row.Enrollment, notice: rules.Notice{Kind: rules.NoticeUnknownSent}, cause: row.Key, detail: notify.Explain(res.Code)})
	}
	return nil
}
