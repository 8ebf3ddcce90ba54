package caseload

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// sinceThen says what came in after the last decision: it counts already, or
// at the next message time.
func sinceThen(st rules.State, decided, now rules.InState) string {
	var since []string
	if now != decided {
		since = append(since, "now "+string(now)+", by what came in after that")
	}
	if s := st.Heard.Score; s != nil {
		since = append(since, fmt.Sprintf("since then pain %d was reported; it counts at the next message time", *s))
	}
	return strings.Join(since, "; ")
}

// lastDecision is the decision that stands for a date, or the last one for
// date 0. One that was taken back before hand-over does not count.
func lastDecision(tx *journal.Tx, id string, date rules.Date) (*rules.Decision, error) {
	var last, before *rules.Decision
	key := ""
	err := tx.Events(id, func(e journal.Event) error {
		switch {
		case e.Decision != nil:
			before, last, key = last, keep(last, e.Decision, date), ""
		case e.Out != nil && e.Out.Decision != nil:
			before, last, key = last, keep(last, e.Out.Decision, date), e.Out.Key
		case e.Kind == journal.HandedOut && e.Key == key:
			key = "" // final from here on, whatever becomes of the message
		case e.Kind == journal.Withdrawn && e.Key == key:
			last = before
		}
		return nil
	})
	return last, err
}

func keep(old, dec *rules.Decision, date rules.Date) *rules.Decision {
	if date != 0 && dec.Date != date {
		return old
	}
	return dec
}

// Step is one thing in a patient's story.
type Step struct {
	At   time.Time `json:"at"`
	Kind string    `json:"kind"` // decided, sent, answer, heard, entry or note
	Text string    `json:"text"`
}

// Story is what happened to one patient on the dates asked for.
type Story struct {
	Row
	Decision *rules.Decision `json:"decision,omitempty"`
	Text     string          `json:"text,omitempty"` // the decision as a short story
	Events   []Step          `json:"events"`
	Quick    bool            `json:"quick_time,omitempty"` // of a made-up calendar
}

// Explain tells a patient's decision of a date (0: the last one) and
// everything since the decision before it that bears on it.
func (v View) Explain(tx *journal.Tx, id string, date rules.Date) (*Story, error) {
	e := v.Clinic.Enrollments.Get(id)
	if e == nil {
		return nil, nil
	}
	row, err := v.row(tx, e)
	if err != nil {
		return nil, err
	}
	dec, err := lastDecision(tx, id, date)
	if err != nil || dec == nil {
		return &Story{Row: row, Events: []Step{}, Quick: v.Quick}, err
	}
	if date == 0 {
		date = dec.Date
	}
	last := date == row.Date // then whatever came in since belongs to the story
	story := &Story{Row: row, Decision: dec, Events: []Step{}, Quick: v.Quick}
	story.Why = dec.Why
	story.WhyText, story.WearWhy = v.Words.Why("en", dec.Why), v.Words.Why("en", dec.WearWhy)
	behind, before, err := settledBy(tx, e, date)
	if err != nil {
		return nil, err
	}
	story.Text = v.story(e, *dec, behind, before)
	if last && row.Since != "" {
		story.Text += " After that: " + row.Since + "."
	}
	err = tx.Events(id, func(ev journal.Event) error {
		// From the eve of the date: the reports that were settled by it.
		if d := rules.DateOf(ev.At.In(e.Zone)); d < date-1 || d > date && !last {
			return nil
		}
		if st, ok := v.step(ev); ok {
			st.At = ev.At.In(e.Zone)
			story.Events = append(story.Events, st)
		}
		return nil
	})
	return story, err
}

// settledBy lists the reports behind the decision of a date: those that came
// in since the decision of an earlier one, whose program day is before.
func settledBy(tx *journal.Tx, e *config.Enrollment, date rules.Date) (behind []templates.Report, before int, err error) {
	var rs reports
	err = tx.Events(e.ID, func(ev journal.Event) error {
		if of := rs.take(e, ev); rs.date == date && of != nil {
			behind, before = of, rs.before
		}
		return nil
	})
	return behind, before, err
}

// reports gathers, event by event, the reports that each decision settles.
type reports struct {
	date  rules.Date // of the last decision
	since []templates.Report
	mark  int // of since, how many came before that decision

	p, before int // the program day of that decision, and of the date before it
}

// take gives the reports behind the decision in an event, not nil, or nil where
// there is none in it. A date that is decided again, because something came in
// before hand-over, has those of the first time too.
func (r *reports) take(e *config.Enrollment, ev journal.Event) []templates.Report {
	dec := ev.Decision
	if ev.Out != nil && ev.Out.Decision != nil {
		dec = ev.Out.Decision
	}
	if ev.In != nil && ev.In.Reading.Report() {
		r.since = append(r.since, templates.Report{At: ev.At.In(e.Zone), Text: ev.In.Text, Read: ev.In.Reading})
	}
	if dec == nil {
		return nil
	}
	if dec.Date != r.date {
		r.since, r.date, r.before = slices.Clone(r.since[r.mark:]), dec.Date, r.p
	}
	r.p = dec.P
	r.mark = len(r.since)
	return slices.Clip(append([]templates.Report{}, r.since...))
}

func (v View) step(ev journal.Event) (Step, bool) {
	switch {
	case ev.Out != nil && ev.Out.Decision != nil:
		return Step{Kind: "decided", Text: v.Words.Why("en", ev.Out.Decision.Why)}, true
	case ev.Decision != nil:
		return Step{Kind: "decided", Text: v.Words.Why("en", ev.Decision.Why)}, true
	case ev.Kind == journal.Heard && ev.In != nil && ev.Entry != nil:
		return Step{Kind: "heard", Text: fmt.Sprintf("%s (by phone, taken by %s)", ev.In.Text, ev.Entry.By)}, true
	case ev.Kind == journal.Heard && ev.In != nil:
		return Step{Kind: "heard", Text: ev.In.Text}, true
	case ev.Out != nil && (ev.Out.Kind == "answer" || ev.Out.Kind == "confirm"):
		return Step{Kind: "answer", Text: ev.Out.Text}, true
	case ev.Entry != nil:
		return Step{Kind: "entry", Text: fmt.Sprintf("%s, %s, by %s", ev.Entry.Kind, ev.Entry.On, ev.Entry.By)}, true
	case ev.Kind == journal.Withdrawn:
		return Step{Kind: "note", Text: "message withdrawn before it went out: " + ev.Why}, true
	case ev.Kind == journal.Settled && ev.Result != nil && len(ev.Key) > 4 && ev.Key[:4] == "day/":
		return Step{Kind: "sent", Text: "daily message: " + ev.Result.Status + code(ev.Result.Code)}, true
	}
	return Step{}, false
}

func code(c string) string {
	if c == "" {
		return ""
	}
	return " (" + c + ")"
}
