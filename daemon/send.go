package daemon

import (
	"context"
	"errors"
	"log/slog"
	"math/rand/v2"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// SendWaiting hands over everything in the outbox whose time has come, one
// after the other. [Service.Run] does the same with several workers.
func (s *Service) SendWaiting(ctx context.Context) error {
	for {
		rows, err := s.waiting(100)
		if err != nil || len(rows) == 0 {
			return err
		}
		for _, row := range rows {
			if err := s.sendOne(ctx, row.Key); err != nil {
				return err
			}
		}
	}
}

func (s *Service) waiting(limit int) (rows []journal.Row, err error) {
	now := s.o.Clock.Now()
	err = s.o.Journal.View(func(tx *journal.Tx) error {
		rows, err = tx.Waiting(now, limit)
		return err
	})
	return rows, err
}

// sendOne takes one message over the line: check and hand-over mark in one
// commit, then the carrier, then the outcome.
func (s *Service) sendOne(ctx context.Context, key string) error {
	var row *journal.Row
	err := s.commit(ctx, s.roster.Load(), func(w *work) (err error) {
		row, err = w.handOver(key)
		return err
	})
	if err != nil || row == nil {
		return err
	}
	ch := s.o.Channels[row.Channel]
	msg := message(row)
	res := ch.Sender.Send(ctx, msg)
	if res.Status == notify.Unknown {
		// What may have been taken is looked up before anything else is tried.
		res = ch.Sender.Settle(ctx, msg)
	}
	if res.Status == notify.Unknown && ctx.Err() != nil {
		return nil // cut off by a stop: the next start looks it up
	}
	return s.outcome(ctx, row, res)
}

func message(row *journal.Row) notify.Message {
	return notify.Message{Key: row.Key, To: row.To, Subject: row.Subject, Text: row.Text,
		HTML: row.HTML, At: row.Made, ReplyTo: row.ReplyTo, Until: row.Until}
}

// handOver decides, in the commit that marks it, whether a message still may
// go out. It gives nil where it may not.
func (w *work) handOver(key string) (*journal.Row, error) {
	row, err := w.tx.Row(key)
	if err != nil || row == nil || row.Status != journal.Pending {
		return nil, err
	}
	if !row.Until.IsZero() && !w.now.Before(row.Until) {
		return nil, w.settle(row, journal.Result{Status: "expired"})
	}
	if _, ok := w.s.o.Channels[row.Channel]; !ok {
		return nil, w.settle(row, journal.Result{Status: "expired", Code: "no channel"})
	}
	why, err := w.objection(row)
	if err != nil {
		return nil, err
	}
	if why != "" {
		return nil, w.withdraw(row, why)
	}
	if _, err := w.tx.Append(journal.Event{Kind: journal.HandedOut, ID: row.Enrollment, At: w.now, Key: key}); err != nil {
		return nil, err
	}
	return w.tx.Row(key) // as it stands now: what was to come with it has come
}

// objection says why a message may not go out any more, or "".
func (w *work) objection(row *journal.Row) (string, error) {
	if row.Kind == "alert" || row.Kind == "confirm" {
		return "", nil
	}
	if w.tx.OptedOut(w.tx.ContactHash(row.To)) {
		return "opted out", nil
	}
	if row.Kind != "daily" && row.Kind != "visit" {
		return "", nil
	}
	person, err := w.tx.Person(row.Enrollment)
	if err != nil {
		return "", err
	}
	e := w.r.byID[row.Enrollment]
	switch {
	case person == nil || person.Gone || e == nil:
		return "gone from the files", nil
	case e.Address != config.Address{Channel: row.Channel, To: row.To}:
		return "contact changed", nil
	case row.Kind == "visit":
		return w.visitObjection(e, person.State), nil
	case row.Next != nil && person.State.Rev != row.Rev:
		return "something came in first", nil
	case row.Next != nil && row.Next.Decided != today(w.now, e):
		return "another date", nil // the clock or the patient's zone was moved
	case row.Next == nil && !w.stillWanted(e, row, person.State):
		return "not wanted any more", nil
	case !w.inHours(e):
		return "outside texting hours", nil // they, or the zone, were moved
	}
	return "", nil
}

// visitObjection says why a reminder of a visit may not go out any more.
func (w *work) visitObjection(e *config.Enrollment, st rules.State) string {
	switch st.Shown(today(w.now, e), false) {
	case rules.InPaused, rules.InAway, rules.InSuspended, rules.InDischarged:
		return "not wanted any more"
	}
	switch {
	case !e.Enrollment.Consent:
		return "no consent"
	case !w.inHours(e):
		return "outside texting hours"
	}
	return ""
}

// inHours tells whether a proactive message may go out now, where the patient
// is.
func (w *work) inHours(e *config.Enrollment) bool {
	d, hours := today(w.now, e), w.r.clinic.Texting
	return !w.now.Before(localInstant(d, hours.From, e.Zone)) && w.now.Before(localInstant(d, hours.To, e.Zone))
}

// stillWanted is asked before a second try of a daily message. Its date is
// decided for good, so what came in since the first try can't change the
// message any more; where that asks for less, the message stays behind.
func (w *work) stillWanted(e *config.Enrollment, row *journal.Row, st rules.State) bool {
	d := today(w.now, e)
	switch st.Shown(d, false) {
	case rules.InPaused, rules.InAway, rules.InSuspended, rules.InDischarged:
		return false
	}
	if !e.Enrollment.Consent || st.Decided != d {
		return false
	}
	if st.Rev == row.Rev+1 {
		return true // nothing came in
	}
	p, h := w.r.program(e), st.Heard
	hurts := h.Score != nil && (*h.Score >= p.Pain.Hold || st.Over && *h.Score > p.Pain.Steady)
	capped := st.Cap > 0 && p.BlockAt(st.P) >= st.Cap
	return !hurts && !h.Skin && st.Held == nil && !capped
}

// withdraw takes a message back. A daily one that was never handed over makes
// its date due again at once.
func (w *work) withdraw(row *journal.Row, why string) error {
	ev := journal.Event{Kind: journal.Withdrawn, ID: row.Enrollment, At: w.now, Key: row.Key, Why: why}
	e := w.r.byID[row.Enrollment]
	if row.Kind == "daily" && e != nil {
		switch {
		case row.Next != nil:
			due := w.now
			ev.Due = &due
		default:
			st, err := w.untaken(row)
			if err != nil {
				return err
			}
			ev.State = st
		}
	}
	w.log(slog.LevelInfo, "out.withdrawn", "id", row.Enrollment, "kind", row.Kind, "why", why)
	_, err := w.tx.Append(ev)
	return err
}

// outcome writes down how a hand-over ended. It runs on a context of its own:
// what the carrier has taken must be known even when the service stops.
func (s *Service) outcome(ctx context.Context, row *journal.Row, res notify.Result) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 30*time.Second)
	defer cancel()
	if row.Kind == "alert" && res.Status == notify.Unknown {
		res.Status = notify.Retry // told twice is better than not told
	}
	return s.commit(ctx, s.roster.Load(), func(w *work) error {
		out := journal.Result{Status: string(res.Status), ID: res.ID, Code: res.Code}
		if res.Status == notify.Retry {
			out.Retry = w.now.Add(max(res.After, backoff(row.Tries)))
			if !row.Until.IsZero() && !out.Retry.Before(row.Until) {
				out = journal.Result{Status: "rejected", Code: "too late: " + res.Code}
			}
		}
		if err := w.settle(row, out); err != nil {
			return err
		}
		return w.contactTrouble(row, res)
	})
}

// backoff is how long to wait before the next try: a minute, doubled up to
// sixteen, give or take a fifth.
func backoff(tries int) time.Duration {
	d := time.Minute << min(tries, 4)
	return d - d/5 + rand.N(2*d/5)
}

// settle writes an outcome. A daily message that the carrier did not take
// makes the next settlement wait.
func (w *work) settle(row *journal.Row, out journal.Result) error {
	ev := journal.Event{Kind: journal.Settled, ID: row.Enrollment, At: w.now, Key: row.Key, Result: &out}
	if row.Kind == "daily" && out.Status != string(notify.Sent) && out.Status != string(notify.Retry) {
		st, err := w.untaken(row)
		if err != nil {
			return err
		}
		ev.State = st
	}
	if _, err := w.tx.Append(ev); err != nil {
		return err
	}
	level := slog.LevelInfo
	if out.Status != string(notify.Sent) {
		level = slog.LevelWarn
	}
	if row.Kind == "alert" && out.Status == string(notify.Rejected) {
		w.s.trouble("alert", "an alert to the clinician was refused for good; look at alerts: in stepgate.yaml and in the log for out.rejected")
	}
	args := []any{"id", row.Enrollment, "kind", row.Kind, "channel", row.Channel}
	if out.Code != "" {
		args = append(args, "code", out.Code)
	}
	w.log(level, "out."+out.Status, args...)
	return nil
}

// untaken is the state once the carrier surely or possibly did not take the
// day's message. One that expired before it was ever handed over decided its
// date all the same, unless something came in since.
func (w *work) untaken(row *journal.Row) (*rules.State, error) {
	person, err := w.tx.Person(row.Enrollment)
	if err != nil || person == nil {
		return nil, err
	}
	st := person.State
	if row.Next != nil {
		if person.State.Rev != row.Rev {
			return nil, nil
		}
		st = *row.Next
	}
	date, err := dateOfKey(row.Key)
	if err != nil {
		return nil, err
	}
	st = rules.Untaken(st, date)
	return &st, nil
}

// contactTrouble acts on a contact the carrier refused, and tells of outcomes
// nobody can establish.
func (w *work) contactTrouble(row *journal.Row, res notify.Result) error {
	if row.Kind == "alert" || row.Enrollment == "" {
		return nil
	}
	kind := rules.NoticeContact
	switch {
	case res.OptedOut:
		kind = rules.NoticeOptOut
		if err := w.optOut(row.To, true); err != nil {
			return err
		}
	case res.BadContact:
		person, err := w.tx.Person(row.Enrollment)
		if err != nil || person == nil {
			return err
		}
		st := person.State
		st.Suspended = true
		st.Rev++
		if _, err := w.tx.Append(journal.Event{Kind: journal.Revised, ID: row.Enrollment, At: w.now, State: &st, Why: "bad contact"}); err != nil {
			return err
		}
	case res.Status == notify.Unknown:
		kind = rules.NoticeUnknownSent
	default:
		return nil
	}
	return w.alert(alert{id: row.Enrollment, notice: rules.Notice{Kind: kind}, cause: row.Key, detail: res.Code})
}

// optOut notes that a contact wants no more messages, or wants them again.
func (w *work) optOut(contact string, out bool) error {
	hash := w.tx.ContactHash(contact)
	if w.tx.OptedOut(hash) == out {
		return nil
	}
	_, err := w.tx.Append(journal.Event{Kind: journal.Opted, At: w.now, Contact: hash, OptOut: out})
	return err
}

// Recover settles what a process that died left handed over without an
// outcome. It is called once, before anything else is sent.
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
		res := notify.Result{Status: notify.Unknown, Code: "no channel"}
		if ch, ok := s.o.Channels[row.Channel]; ok {
			res = ch.Sender.Settle(ctx, message(&row))
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

// safeError names an error for the log without what a carrier or a file
// system put into it: contacts and bodies must not get there.
func safeError(err error) string {
	var refused RefusedError
	switch {
	case err == nil:
		return ""
	case errors.Is(err, context.Canceled):
		return "canceled"
	case errors.Is(err, context.DeadlineExceeded):
		return "timeout"
	case errors.Is(err, notify.ErrHalfWritten):
		return "half written"
	case errors.Is(err, notify.ErrNotListening):
		return "not listening"
	case errors.As(err, &refused):
		return "refused"
	}
	return "failed"
}
