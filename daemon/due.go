package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// tickBatch is how many due patients are decided in one commit. More would take
// less work for each, but a reply that comes meanwhile waits for it to end.
const tickBatch = 512

// Tick decides everybody who is due. Its work grows with who is due, not with
// who is enrolled. A patient who can't be decided is logged and passed over.
func (s *Service) Tick(ctx context.Context) error {
	if s.Clinic() == nil {
		return nil
	}
	s.noteJump(ctx)
	later := map[string]bool{} // due, but incoming messages are still to be read
	next := s.workAhead(later, nil, tickBatch)
	defer func() { <-next }()
	for size := tickBatch; ; {
		ahead := <-next
		next = s.workAhead(later, ahead.settled, size) // while these are committed
		moved, err := s.decideBatch(ctx, later, size, ahead)
		switch {
		case err != nil && ctx.Err() == nil && size > 1:
			size = 1 // find the one that fails
		case err != nil && err.id != "" && ctx.Err() == nil:
			s.o.Log.ErrorContext(ctx, "day.failed", "id", err.id, "error", err.Error())
			later[err.id] = true
		case err != nil:
			return fmt.Errorf("tick: %w", err)
		case moved == 0:
			s.forecast(ctx)
			return s.tellStaff(ctx)
		default:
			s.kick()
		}
	}
}

// tellStaff puts what is due to the clinic's own people into the outbox: alerts
// whose time has come, and the digest.
func (s *Service) tellStaff(ctx context.Context) error {
	err := s.commit(ctx, s.roster.Load(), func(w *work) error {
		if err := w.tellAlerts(); err != nil {
			return err
		}
		return w.digest()
	})
	if err != nil {
		return fmt.Errorf("tick: %w", err)
	}
	s.kick()
	return nil
}

// anyDue tells whether somebody is due.
func (s *Service) anyDue() bool {
	now, any := s.o.Clock.Now(), false
	_ = s.o.Journal.View(func(tx *journal.Tx) error { // Tick tells of a journal that can't be read
		rows, err := tx.DueBy(now, 1)
		any = len(rows) > 0
		return err
	})
	return any
}

// dueError is an error of one patient's decision, or of the commit itself.
type dueError struct {
	id  string
	err error
}

func (e *dueError) Error() string { return e.err.Error() }
func (e *dueError) Unwrap() error { return e.err }

// decideBatch decides up to size of the patients due, in one commit. Those
// that have to wait are added to later.
func (s *Service) decideBatch(ctx context.Context, later map[string]bool, size int, ahead aheadLot) (int, *dueError) {
	moved, failed := 0, ""
	var waits []string
	r := s.roster.Load()
	if ahead.err != nil {
		return 0, &dueError{"", ahead.err}
	}
	if ahead.roster != r { // read again since
		ahead.settled = nil
	}
	err := s.commit(ctx, r, func(w *work) error {
		moved, failed, waits = 0, "", nil
		rows, err := w.tx.DueBy(w.now, size+len(later))
		if err != nil {
			return err
		}
		for _, row := range rows {
			if later[row.ID] {
				continue
			}
			failed = row.ID // beforehand, for a decision that panics
			ok, err := w.decide(row.ID, ahead.settled[row.ID])
			if err != nil {
				return err
			}
			failed = ""
			if ok {
				moved++
			} else {
				waits = append(waits, row.ID)
			}
		}
		return nil
	})
	collector.did(moved)
	for _, id := range waits {
		later[id] = true
	}
	if err != nil {
		return 0, &dueError{failed, err}
	}
	if moved == 0 && len(waits) > 0 {
		moved = len(waits) // look past those that wait
	}
	return moved, nil
}

// decide settles today for one patient, or puts the next time it is due. It
// is false where the decision has to wait for incoming messages. What was
// worked out ahead is taken where nothing has changed since.
func (w *work) decide(id string, ahead *settlement) (bool, error) {
	if ahead != nil && w.stands(ahead) {
		return true, w.file(ahead)
	}
	person, err := w.tx.Person(id)
	if err != nil {
		return false, err
	}
	e := w.r.enrolled(id)
	if person == nil || e == nil {
		return true, w.putDue(id, journal.Removed, time.Time{})
	}
	st, err := w.readEntries(e, person.State)
	if err != nil {
		return false, err
	}
	d := today(w.now, e)
	if !w.mayDecide(e, st, d) {
		due := w.nextDue(e, st)
		w.slept(e, st, person.Due, due)
		return true, w.putDue(id, journal.Skipped, due)
	}
	facts := rules.Facts{OptedOut: w.optedOut(e)}
	since := w.asked(e, d)
	if !w.heard(e, person, since) {
		if w.now.Before(since.Add(w.r.clinic.Grace)) {
			return false, nil
		}
		facts.Unheard = true
	}
	return true, w.file(w.settlement(e, person, st, d, facts))
}

// mayDecide tells whether a date may be decided now.
func (w *work) mayDecide(e *config.Enrollment, st rules.State, d rules.Date) bool {
	at := localInstant(d, e.Time, e.Zone)
	late := !w.now.Before(localInstant(d, w.r.clinic.Texting.To, e.Zone))
	return !w.now.Before(at) && !late && rules.Decidable(&e.Enrollment, st, d) && !w.inOutbox(e)
}

// asked is since when what came in must have been read for a date.
func (w *work) asked(e *config.Enrollment, d rules.Date) time.Time {
	return latest(localInstant(d, e.Time, e.Zone), w.s.started)
}

// slept says which dates passed without a decision when the due time moves
// from was to due: nobody ran, and they are never made up for.
func (w *work) slept(e *config.Enrollment, st rules.State, was, due time.Time) {
	if was.IsZero() || due.IsZero() {
		return
	}
	first := max(rules.DateOf(was.In(e.Zone)), st.Decided+1, e.First())
	last := min(rules.DateOf(due.In(e.Zone))-1, today(w.now, e))
	if last == today(w.now, e) && w.inOutbox(e) {
		last-- // its message is decided
	}
	if first <= last {
		w.log(slog.LevelInfo, "day.slept", "id", e.ID, "first", first.String(), "last", last.String())
	}
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func (w *work) putDue(id string, kind journal.Kind, due time.Time) error {
	_, err := w.tx.Append(journal.Event{Kind: kind, ID: id, At: w.now, Due: &due})
	return err
}

// file writes a decision down: for good where no message is due, and as an
// intended message otherwise.
func (w *work) file(t *settlement) error {
	e, p, dec := t.e, t.person, &t.dec
	w.slept(e, t.was, p.Due, localInstant(dec.Date, e.Time, e.Zone))
	t.ev.At = w.now
	if _, err := w.tx.Append(t.ev); err != nil {
		return err
	}
	if w.logs(slog.LevelInfo) { // its reasons are sentences
		w.said = append(w.said, func(ctx context.Context) { w.s.logDecision(ctx, e.ID, dec) })
	}
	for _, n := range dec.Notices {
		if err := w.alert(alert{id: e.ID, notice: n, cause: dec.Date.String(), why: &dec.Why}); err != nil {
			return err
		}
	}
	if err := w.remindPaused(e, p, t.next, dec.Date); err != nil {
		return err
	}
	return w.remindVisit(e, p, t.next, dec.Date)
}

func (s *Service) logDecision(ctx context.Context, id string, dec *rules.Decision) {
	s.o.Log.InfoContext(ctx, "day.decided", "id", id, "date", dec.Date.String(), "day", dec.Day, "program_day", dec.P,
		"step", dec.Step, "wear_day", dec.W, "state", string(dec.State),
		"why", s.o.Words.Why("en", unnamed(dec.Why)), "wear_why", s.o.Words.Why("en", dec.WearWhy), "send", dec.Send)
}

// unnamed is a reason without the danger word behind a pause: that is the
// patient's own word, and stands in the record.
func unnamed(r rules.Reason) rules.Reason {
	if r.Code == rules.Paused && r.By != "pain" {
		r.By = ""
	}
	return r
}

// pausedFor is after how many clinic days a paused patient is told that the
// clinic has not released them yet.
const pausedFor = 2

// remindPaused texts a patient, once a pause, that the clinic has not released
// them yet, and whom to call.
func (w *work) remindPaused(e *config.Enrollment, p *journal.Person, st rules.State, d rules.Date) error {
	if !StillPaused(w.r.clinic, st, d) {
		return nil
	}
	key := "paused/" + e.ID + "/" + st.Pause.Since.String()
	if row, err := w.tx.Progress(key); err != nil || row != nil {
		return err
	}
	to := w.address(e, p)
	out := w.out(to, w.number(e, p), w.s.o.Words.StillPaused(words(w.r.clinic), patient(e, to), d))
	out.Key, out.Kind, out.Rank = key, "paused", rankFirst
	out.Until = localInstant(d, w.r.clinic.Texting.To, e.Zone)
	_, err := w.tx.Append(journal.Event{Kind: journal.Intended, ID: e.ID, At: w.now, Out: &out})
	return err
}

// remindVisit tells the clinician of a review visit the day before, and texts
// the patient if a message may go to them that day, whether or not one was due.
func (w *work) remindVisit(e *config.Enrollment, p *journal.Person, st rules.State, d rules.Date) error {
	if !slices.Contains(e.Visits, d+1) {
		return nil
	}
	err := w.alert(alert{id: e.ID, notice: rules.Notice{Kind: rules.NoticeVisit}, cause: (d + 1).String()})
	if err != nil || !st.Reach || st.Pause != nil {
		return err
	}
	key := "visit/" + e.ID + "/" + (d + 1).String()
	if row, err := w.tx.Progress(key); err != nil || row != nil {
		return err
	}
	to := w.address(e, p)
	out := w.out(to, w.number(e, p), w.s.o.Words.Visit(words(w.r.clinic), patient(e, to), d+1))
	out.Key, out.Kind, out.Rank = key, "visit", rankUsual
	out.Until = localInstant(d, w.r.clinic.Texting.To, e.Zone)
	_, err = w.tx.Append(journal.Event{Kind: journal.Intended, ID: e.ID, At: w.now, Out: &out})
	return err
}

// dailyKey tells daily messages apart: one a patient and local date, on
// whatever channel.
func dailyKey(id string, d rules.Date) string { return "day/" + id + "/" + d.String() }

// dateOfKey is the date of a daily message's key.
func dateOfKey(key string) (rules.Date, error) {
	return rules.ParseDate(key[strings.LastIndex(key, "/")+1:])
}

func words(c *config.Clinic) templates.Clinic {
	return templates.Clinic{Name: c.Name, Phone: c.Phone, Hours: c.Hours, AfterHours: c.AfterHours, Emergency: c.Emergency,
		Accents: c.SMS != nil && c.SMS.Accents}
}

// patient is what a message to an address says of a patient.
func patient(e *config.Enrollment, to config.Address) templates.Patient {
	p := templates.Patient{Name: e.Name, Language: e.Language, Affected: e.Affected, TextOnly: to.Channel != "email"}
	if e.Proxy != nil {
		p.Proxy = e.Proxy.Name
	}
	return p
}
