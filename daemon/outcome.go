package daemon

import (
	"cmp"
	"context"
	"log/slog"
	"math/rand/v2"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// outcome writes down how a hand-over, or a look at what became of one, ended.
// It runs on a context of its own: what the carrier has taken must be known
// even when the service stops.
func (s *Service) outcome(ctx context.Context, row *journal.Row, res notify.Result) error {
	return s.settleAll([]ended{s.ended(ctx, row, res)})
}

// ended is how a hand-over ended. It has yet to be committed.
type ended struct {
	row   *journal.Row
	res   notify.Result
	opens time.Time // when the lane goes on, if it was closed for this
}

// ended tells the lane how a hand-over ended.
func (s *Service) ended(ctx context.Context, row *journal.Row, res notify.Result) ended {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), settleFor)
	defer cancel()
	l := s.laneOf(row.Lane())
	e := ended{row: row, res: res}
	switch {
	case res.Trouble:
		e.opens = s.stopLane(ctx, l, res.Code)
	case res.Status == notify.Sent:
		s.laneWorks(ctx, l)
	case res.Status == notify.Retry && res.Busy:
		l.slow(s.o.Clock.Now().Add(min(cmp.Or(res.After, busyWait), longPause)))
	case res.Status == notify.Retry && res.Unreachable && l.unreachable(s.o.Clock.Now()):
		e.opens = s.stopLane(ctx, l, res.Code)
	}
	return e
}

// settleFor is how long a commit of outcomes is waited for.
const settleFor = 30 * time.Second

// settleAll writes outcomes down, in one commit.
func (s *Service) settleAll(lot []ended) error {
	ctx, cancel := context.WithTimeout(context.Background(), settleFor)
	defer cancel()
	return s.commit(ctx, s.roster.Load(), func(w *work) error {
		for _, e := range lot {
			if now, err := w.tx.Progress(e.row.Key); err != nil {
				return err
			} else if now == nil {
				continue // the patient was erased while it was at the carrier
			}
			out := w.result(e.row, e.res, e.opens)
			if err := w.settle(e.row, out); err != nil {
				return err
			}
			if err := w.contactTrouble(e.row, e.res, out); err != nil {
				return err
			}
		}
		return nil
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
