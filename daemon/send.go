package daemon

import (
	"cmp"
	"context"
	"log/slog"
	"math/rand/v2"
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
	var row *journal.Row
	err := s.commit(ctx, s.roster.Load(), func(w *work) (err error) {
		row, err = w.handOver(key)
		return err
	})
	if err != nil || row == nil {
		return err
	}
	msg, err := s.message(*row)
	if err != nil {
		return err
	}
	if msg.Text == "" {
		// Nobody is left whom it told of.
		return s.outcome(ctx, row, notify.Result{Status: notify.Rejected, Code: "empty"})
	}
	ch := s.o.Channels[row.Channel]
	res := ch.Sender.Send(ctx, msg)
	if res.Status == notify.Unknown {
		// What may have been taken is looked up before anything else is tried. A
		// plain no, by a code nobody knows, ends it all the same.
		found := ch.Sender.Settle(ctx, msg)
		if found.Status == notify.Unknown && res.Refused {
			found = notify.Result{Status: notify.Rejected, Code: res.Code}
		}
		res = found
	}
	if res.Status == notify.Unknown && ctx.Err() != nil {
		return nil // cut off by a stop: the next start looks it up
	}
	return s.outcome(ctx, row, res)
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
	e := w.r.byID[row.Enrollment]
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
	e := w.r.byID[row.Enrollment]
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

// outcome writes down how a hand-over, or a look at what became of one, ended.
// It runs on a context of its own: what the carrier has taken must be known
// even when the service stops.
func (s *Service) outcome(ctx context.Context, row *journal.Row, res notify.Result) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 30*time.Second)
	defer cancel()
	l := s.laneOf(row.Lane())
	var opens time.Time
	switch {
	case res.Trouble:
		opens = s.stopLane(ctx, l, res.Code)
	case res.Status == notify.Sent:
		s.laneWorks(ctx, l)
	case res.Status == notify.Retry && res.Busy:
		l.slow(s.o.Clock.Now().Add(min(cmp.Or(res.After, busyWait), longPause)))
	case res.Status == notify.Retry && res.Unreachable && l.unreachable(s.o.Clock.Now()):
		opens = s.stopLane(ctx, l, res.Code)
	}
	return s.commit(ctx, s.roster.Load(), func(w *work) error {
		if now, err := w.tx.Progress(row.Key); err != nil || now == nil {
			return err // the patient was erased while it was at the carrier
		}
		out := w.result(row, res, opens)
		if err := w.settle(row, out); err != nil {
			return err
		}
		return w.contactTrouble(row, res, out)
	})
}

// result is what follows from what the carrier said: another try, another
// look, or an end.
func (w *work) result(row *journal.Row, res notify.Result, opens time.Time) journal.Result {
	out := journal.Result{Status: string(res.Status), ID: res.ID, Code: res.Code}
	switch res.Status {
	case notify.Unknown:
		w.lookOn(row, &out)
	case notify.Retry:
		out.Retry = latest(w.now.Add(max(res.After, backoff(row.Tries))), opens)
	}
	if out.Status == string(notify.Retry) && !row.Until.IsZero() && !latest(w.now, out.Retry).Before(row.Until) {
		return journal.Result{Status: string(notify.Rejected), Code: "too late: " + out.Code}
	}
	return out
}

// busyWait is how long a lane waits for a carrier that wants fewer messages and
// does not say for how long.
const busyWait = 30 * time.Second

// goneOnLook is how long the outcome of an alert is looked for. Everything
// else has an end of its own.
const goneOnLook = 24 * time.Hour

// lookOn decides about a message nobody knows the outcome of. Where the carrier
// has a list it is looked up again; two clean lists without it, a while apart,
// say that it never was taken, and it may be sent again. What can't be found
// out in its time is shown to a person; an alert is sent again, for told twice
// is better than not told.
func (w *work) lookOn(row *journal.Row, out *journal.Result) {
	again := w.s.o.Channels[row.Channel].LookAgain
	looked := out.Code == notify.CodeAbsent || out.Code == notify.CodeListing
	end := row.Until
	if end.IsZero() {
		end = row.Made.Add(goneOnLook)
	}
	switch {
	case again > 0 && out.Code == notify.CodeAbsent && row.Status == journal.Unknown && row.Code == notify.CodeAbsent:
		out.Status, out.Code = string(notify.Retry), codeNotTaken
	case again > 0 && looked && w.now.Before(end):
		out.Retry = w.now.Add(again)
	case row.Kind == "alert":
		out.Status, out.Retry = string(notify.Retry), w.now.Add(backoff(row.Tries))
	}
}

// codeNotTaken says that the carrier's list was clean twice.
const codeNotTaken = "not taken"

// backoff is how long to wait after so many hand-overs: a minute, doubled up to
// sixteen, give or take a fifth.
func backoff(tries int) time.Duration {
	d := time.Minute << min(max(tries-1, 0), 4)
	return d - d/5 + rand.N(2*d/5)
}

// settle writes an outcome. A daily message that the carrier did not take
// makes the next settlement wait.
func (w *work) settle(row *journal.Row, out journal.Result) error {
	ev := journal.Event{Kind: journal.Settled, ID: row.Enrollment, At: w.now, Key: row.Key, Result: &out}
	goesOn := out.Status == string(notify.Retry) || out.Status == string(notify.Unknown) && !out.Retry.IsZero()
	if row.Kind == "daily" && out.Status != string(notify.Sent) && !goesOn {
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
	if row.Kind == "alert" && out.Status == string(notify.Rejected) && out.Code != "empty" {
		w.s.trouble("alert", "an alert to the clinician was refused for good; look at alerts: in stepgate.yaml and in the log for out.rejected")
	}
	args := append(whose(row.Enrollment), "kind", row.Kind, "channel", row.Channel)
	if out.Code != "" {
		args = append(args, "code", out.Code)
	}
	if row.Status == journal.Unknown {
		args = append(args, "looked_up", true)
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
	if row.Decides() {
		full, err := w.tx.Row(row.Key)
		if err != nil || full == nil || full.Next == nil || person.State.Rev != row.Rev {
			return nil, err
		}
		st = *full.Next
	}
	date, err := dateOfKey(row.Key)
	if err != nil {
		return nil, err
	}
	st = rules.Untaken(st, date)
	return &st, nil
}
