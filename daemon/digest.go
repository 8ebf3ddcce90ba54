package daemon

import (
	"fmt"
	"log/slog"
	"time"

	"github.com/robfig/cron/v3"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// late is how long after its time something scheduled is still done: a service
// that was down on Monday morning sends the digest on Monday, and not a week
// later.
const late = 24 * time.Hour

// lastFired is the time of a schedule that came in the last day. It is read on the
// clinic's wall clock, so that it fires once a date, whatever the clocks do that
// night.
func lastFired(spec string, zone *time.Location, now time.Time) (time.Time, bool) {
	if spec == "" {
		return time.Time{}, false
	}
	schedule, err := cron.ParseStandard(spec)
	if err != nil {
		return time.Time{}, false // check says so
	}
	local := now.In(zone)
	wall := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), 0, 0, time.UTC)
	var due time.Time
	for t := schedule.Next(wall.Add(-late - time.Minute)); !t.IsZero() && !t.After(wall); t = schedule.Next(t) {
		due = t
	}
	if due.IsZero() {
		return time.Time{}, false
	}
	at := localInstant(rules.DateOf(due), config.Clock(due.Hour()*60+due.Minute()), zone)
	return at, !at.After(now)
}

// digest puts the digest into the outbox once its time has come. None is made
// up for the time before the clinic began.
func (w *work) digest() error {
	at, due := lastFired(w.r.clinic.Digest, w.r.clinic.Zone, w.now)
	if !due || w.s.o.Made {
		return nil
	}
	key := "digest/" + at.UTC().Format("20060102T1504")
	if row, err := w.tx.Progress(key); err != nil || row != nil {
		return err
	}
	began := time.Time{}
	stop := fmt.Errorf("found")
	err := w.tx.Events("", func(e journal.Event) error { began = e.At; return stop })
	if err != nil && err != stop || began.IsZero() || !at.After(began) {
		if err == stop {
			err = nil
		}
		return err
	}
	to := w.told(toClinician, false)[0]
	if to.Channel == "sms" {
		return nil // a digest is no text
	}
	_, err = w.tx.Append(journal.Event{Kind: journal.Intended, At: w.now, Out: &journal.Out{
		Key: key, Kind: "digest", Channel: to.Channel, To: to.To, Made: w.now, Until: w.now.Add(late)}})
	w.log(slog.LevelInfo, "digest.made")
	return err
}

// digestWords makes the digest of the seven dates up to the one before it was
// made, from how everybody stands now.
func (w *work) digestWords(row *journal.Row) (templates.Message, error) {
	to := rules.DateOf(row.Made.In(w.r.clinic.Zone)) - 1
	d := templates.Digest{From: to - 6, To: to}
	open, err := caseload.OpenAlerts(w.tx, w.now)
	if err != nil {
		return templates.Message{}, err
	}
	for e := range w.r.clinic.Enrollments.All() {
		p, err := w.tx.Person(e.ID)
		if err != nil {
			return templates.Message{}, err
		}
		if p == nil || p.Gone || p.State.Discharged || p.State.Finished || p.State.Decided == 0 {
			continue
		}
		r, err := w.digestRow(e, p, d.From, d.To)
		if err != nil {
			return templates.Message{}, err
		}
		f := caseload.Facts{Enrollment: e, Person: p, Alerts: open[e.ID], OptedOut: r.State == rules.InOptedOut,
			Lines: e.Pain(w.r.clinic.Programs[e.Program]), Today: today(w.now, e)}
		switch g := f.Groups()[0]; {
		case g == caseload.Held:
			d.Held = append(d.Held, r)
		case g == caseload.Silent:
			d.Silent = append(d.Silent, r)
		case g == caseload.Review:
			d.Review = append(d.Review, r)
		case g.NeedsLook():
			d.Look = append(d.Look, r)
		default:
			d.Rest = append(d.Rest, r)
		}
	}
	return w.s.o.Words.Digest(words(w.r.clinic), d), nil
}

// digestRow is one patient's week.
func (w *work) digestRow(e *config.Enrollment, p *journal.Person, from, to rules.Date) (templates.DigestRow, error) {
	r := templates.DigestRow{ID: e.ID, Name: e.Name, State: p.State.Shown(today(w.now, e), w.optedOut(e)), Since: since(p.State)}
	days := make([]templates.DigestDay, 0, 7)
	for d := from; d <= to; d++ {
		days = append(days, templates.DigestDay{Date: d})
	}
	err := w.tx.Events(e.ID, func(ev journal.Event) error {
		switch {
		case ev.Decision != nil:
			decidedIn(&r, ev.Decision, from, to)
		case ev.Out != nil && ev.Out.Decision != nil:
			decidedIn(&r, ev.Out.Decision, from, to)
		case ev.In != nil && ev.In.Day >= from && ev.In.Day <= to:
			heardOn(&days[ev.In.Day-from], ev.In.Reading)
		}
		return nil
	})
	for _, d := range days {
		switch d.Done {
		case "all":
			r.Done += 2
		case "some":
			r.Done++
		}
	}
	r.Done /= 2
	r.Days = days
	return r, err
}

// decidedIn takes a decision into a patient's week. Of two of one date the
// later counts, as it does for the patient.
func decidedIn(r *templates.DigestRow, dec *rules.Decision, from, to rules.Date) {
	if dec.Date < from || dec.Date > to {
		return
	}
	if len(dec.Doses) > 0 {
		r.Due++
	}
	r.Why, r.Step = dec.Why, fmt.Sprintf("step %d of %d", dec.Step, dec.Steps)
	r.Wear = ""
	if dec.Wear > 0 {
		r.Wear = caseload.Hours(int(dec.Wear.Minutes()))
	}
}

// heardOn takes a report into a day: the worst score, the best of what was
// done.
func heardOn(d *templates.DigestDay, r rules.Reading) {
	if r.Pain != nil && (d.Score == nil || *r.Pain > *d.Score) {
		score := *r.Pain
		d.Score = &score
	}
	rank := map[string]int{"": 0, "none": 1, "some": 2, "all": 3}
	done := map[rules.Done]string{rules.DoneAll: "all", rules.DoneSome: "some", rules.DoneNone: "none"}[r.Done]
	if rank[done] > rank[d.Done] {
		d.Done = done
	}
}

// since is when what holds a patient back began; zero: nothing does, or it is
// not written down.
func since(st rules.State) rules.Date {
	switch {
	case st.Pause != nil:
		return st.Pause.Since
	case st.Held != nil:
		return st.Held.Since
	case st.Hold != nil:
		return st.Hold.Since
	case st.Quiet >= 3:
		return st.Decided - rules.Date(st.Blank)
	}
	return 0
}
