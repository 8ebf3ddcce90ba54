package daemon

import (
	"context"
	"log/slog"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// SendWaiting hands over everything in the outbox whose time has come, one
// after the other and at no rate: for made-up calendars. [Service.Run] has
// workers, and paces each lane.
func (s *Service) SendWaiting(ctx context.Context) error {
	for {
		now, any := s.o.Clock.Now(), false
		for _, name := range s.waitingLanes() {
			rows, err := s.waiting(name, now, 100)
			if err != nil {
				return err
			}
			for _, row := range rows {
				any = true
				if err := s.sendOne(ctx, row.Key); err != nil {
					return err
				}
			}
		}
		if !any {
			return nil
		}
	}
}

func (s *Service) waitingLanes() (lanes []string) {
	_ = s.o.Journal.View(func(tx *journal.Tx) error { lanes = tx.Lanes(); return nil }) // closed: nothing waits
	return lanes
}

func (s *Service) waiting(lane string, now time.Time, limit int) (rows []journal.Queued, err error) {
	err = s.o.Journal.View(func(tx *journal.Tx) error {
		rows, err = tx.Queue(lane, now, limit)
		return err
	})
	return rows, err
}

// sendOne takes one message over the line: check and hand-over mark in one
// commit, then the carrier, then the outcome.
func (s *Service) sendOne(ctx context.Context, key string) error {
	rows, err := s.handOverAll(ctx, []string{key})
	if err != nil || len(rows) == 0 {
		return err
	}
	res, known, err := s.carry(ctx, rows[0])
	if err != nil || !known {
		return err
	}
	return s.outcome(ctx, rows[0], res)
}

// handOverAll marks messages as handed over, all in one commit, and returns
// those that may go out.
func (s *Service) handOverAll(ctx context.Context, keys []string) ([]*journal.Row, error) {
	var rows []*journal.Row
	var letters map[uint64]*journal.Letter
	collector.did(len(keys))
	err := s.o.Journal.View(func(tx *journal.Tx) (err error) {
		letters, err = tx.Letters(keys)
		return err
	})
	if err != nil {
		return nil, err
	}
	err = s.commit(ctx, s.roster.Load(), func(w *work) error {
		w.tx.Know(letters)
		rows = rows[:0]
		for _, key := range keys {
			row, err := w.handOver(key)
			if err != nil {
				return err
			}
			if row != nil {
				rows = append(rows, row)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return rows, nil
}

// carry takes a message that is marked to the carrier. It is not known what
// became of it where a stop cut it off: the next start looks it up.
func (s *Service) carry(ctx context.Context, row *journal.Row) (res notify.Result, known bool, err error) {
	msg, err := s.message(*row)
	if err != nil {
		return res, false, err
	}
	if msg.Text == "" {
		// Nobody is left whom it told of.
		return notify.Result{Status: notify.Rejected, Code: "empty"}, true, nil
	}
	ch := s.o.Channels[row.Channel]
	res = ch.Sender.Send(ctx, msg)
	if res.Status == notify.Unknown {
		// What may have been taken is looked up before anything else is tried. A
		// plain no, by a code nobody knows, ends it all the same.
		found := ch.Sender.Settle(ctx, msg)
		if found.Status == notify.Unknown && res.Refused {
			found = notify.Result{Status: notify.Rejected, Code: res.Code}
		}
		res = found
	}
	return res, res.Status != notify.Unknown || ctx.Err() == nil, nil
}

// handLot marks the messages of a lot in one commit and sends each by a worker
// of its own. They are claimed, admitted and have their slots. What can't be
// marked stays in the outbox, and the lane waits a little: a full disk is not
// mended by trying, and each try is a line in the log.
func (s *Service) handLot(ctx context.Context, x *sender, l *lane, lot []string) {
	rows, err := s.handOverAll(ctx, lot)
	if err != nil && len(lot) > 1 && !diskFails(err) { // find the one that fails
		for i := range lot {
			s.handLot(ctx, x, l, lot[i:i+1])
		}
		return
	}
	if err != nil {
		s.o.Log.Error("out.failed", append(s.about(lot[0]), "messages", len(lot), "error", safeError(err))...)
		l.slow(s.o.Clock.Now().Add(settleAgain))
	}
	goes := make(map[string]bool, len(rows))
	for _, row := range rows {
		goes[row.Key] = true
		l.marked(row.Key)
		x.working.Go(func() { s.sendMarked(ctx, x, l, row) })
	}
	for _, key := range lot {
		if !goes[key] {
			x.settler.drop()
			l.free(key)
		}
	}
	if err == nil && l.roomy() {
		s.kick()
	}
}

// sendMarked sends one message, and leaves its outcome to the settler.
func (s *Service) sendMarked(ctx context.Context, x *sender, l *lane, row *journal.Row) {
	res, known, err := s.carry(ctx, row)
	switch {
	case err != nil: // nothing was sent: the next start looks, and finds nothing
		s.outFailed(ended{row: row}, err)
		x.settler.drop()
	case !known:
		x.settler.drop()
	default:
		x.settler.in <- s.ended(ctx, row, res)
	}
	l.free(row.Key)
	if err == nil && l.roomy() {
		s.kick()
	}
}

// handOver decides, in the commit that marks it, whether a message still may
// go out. It gives nil where it may not.
func (w *work) handOver(key string) (*journal.Row, error) {
	row, err := w.tx.Progress(key)
	if err != nil || row == nil || row.Status != journal.Pending {
		return nil, err
	}
	if err := w.tx.Letter(row); err != nil {
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
	row.Status, row.Tries = journal.Handed, row.Tries+1 // as it stands now
	return row, nil
}

// objection says why a message may not go out any more, or "".
func (w *work) objection(row *journal.Row) (string, error) {
	if row.Kind == "alert" || row.Kind == "digest" || row.Kind == "confirm" {
		return "", nil
	}
	e := w.r.enrolled(row.Enrollment)
	if w.tx.OptedOut(w.tx.ContactHash(row.To)) || e != nil && w.optedOut(e) {
		return "opted out", nil
	}
	if row.Kind != "daily" && row.Kind != "visit" && row.Kind != "paused" {
		return "", nil
	}
	look := w.tx.Person
	if row.Decides() {
		look = w.tx.Outline
	}
	person, err := look(row.Enrollment)
	if err != nil {
		return "", err
	}
	switch {
	case person == nil || person.Gone || e == nil:
		return "gone from the files", nil
	case w.address(e, person) != config.Address{Channel: row.Channel, To: row.To}:
		return "contact changed", nil
	case row.Kind == "visit":
		return w.visitObjection(e, person.State), nil
	case row.Kind == "paused":
		return w.pausedObjection(e, person.State), nil
	case row.Decides() && person.State.Rev != row.Rev:
		return "something came in first", nil
	case row.Decides() && row.Key != dailyKey(e.ID, today(w.now, e)):
		return "another date", nil // the clock or the patient's zone was moved
	case !row.Decides() && !w.stillWanted(e, row, person.State):
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

// pausedObjection says why a patient need not be told any more that the clinic
// has not released them.
func (w *work) pausedObjection(e *config.Enrollment, st rules.State) string {
	switch {
	case st.Shown(today(w.now, e), false) != rules.InPaused:
		return "not wanted any more"
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
	e := w.r.enrolled(row.Enrollment)
	if row.Kind == "daily" && e != nil {
		switch {
		case row.Decides():
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
	w.log(slog.LevelInfo, "out.withdrawn", append(whose(row.Enrollment), "kind", row.Kind, "why", why)...)
	_, err := w.tx.Append(ev)
	return err
}
