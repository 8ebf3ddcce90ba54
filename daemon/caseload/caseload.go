// Package caseload shows the journal to a person: all patients on a page, and
// one patient's decisions with their reasons. It only reads.
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

// Row is one patient as the clinician looks at the caseload.
type Row struct {
	ID         string        `json:"id"`
	Name       string        `json:"name"`
	Program    string        `json:"program"`
	Date       rules.Date    `json:"date"` // of the last decision
	Day        int           `json:"day"`
	ProgramDay int           `json:"program_day"`
	WearDay    int           `json:"wear_day"`
	Step       int           `json:"step"`
	Steps      int           `json:"steps"`
	WearMin    int           `json:"wear_minutes"`
	State      rules.InState `json:"state"`
	Why        rules.Reason  `json:"why"`
	WhyText    string        `json:"why_text"`
	WearWhy    string        `json:"wear_why_text"`
	Since      string        `json:"since,omitempty"` // what came in after that decision
}

// View reads with one clinic, one set of words and one instant.
type View struct {
	Clinic *config.Clinic
	Words  *templates.Set
	Now    time.Time
}

// List gives every enrollment of the clinic, by id.
func (v View) List(tx *journal.Tx) ([]Row, error) {
	rows := make([]Row, 0, len(v.Clinic.Enrollments))
	for _, e := range v.Clinic.Enrollments {
		row, err := v.row(tx, e)
		if err != nil {
			return nil, fmt.Errorf("caseload: %s: %w", e.ID, err)
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func (v View) row(tx *journal.Tx, e *config.Enrollment) (Row, error) {
	row := Row{ID: e.ID, Name: e.Name, Program: e.Program}
	p, err := tx.Person(e.ID)
	if err != nil || p == nil {
		return row, err
	}
	today := rules.DateOf(v.Now.In(e.Zone))
	row.State = p.State.Shown(today, tx.AnyOptedOut(e.Contacts()))
	row.ProgramDay, row.WearDay = p.State.P, p.State.W
	row.Steps = len(v.Clinic.Programs[e.Program].Blocks)
	dec, err := lastDecision(tx, e.ID, 0)
	if err != nil || dec == nil {
		return row, err
	}
	row.Date, row.Day, row.Step, row.Steps = dec.Date, dec.Day, dec.Step, dec.Steps
	row.WearMin = p.State.WearMin
	row.Why, row.WhyText, row.WearWhy = dec.Why, v.Words.Why("en", dec.Why), v.Words.Why("en", dec.WearWhy)
	row.Since = sinceThen(p.State, *dec, row.State)
	if row.Since != "" {
		row.WhyText += "; " + row.Since
	}
	return row, nil
}

// sinceThen says what came in after the last decision: it counts already, or
// at the next message time.
func sinceThen(st rules.State, dec rules.Decision, now rules.InState) string {
	var since []string
	if now != dec.State {
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
}

// Explain tells a patient's decision of a date (0: the last one) and
// everything since the decision before it that bears on it.
func (v View) Explain(tx *journal.Tx, id string, date rules.Date) (*Story, error) {
	e := v.find(id)
	if e == nil {
		return nil, nil
	}
	row, err := v.row(tx, e)
	if err != nil {
		return nil, err
	}
	dec, err := lastDecision(tx, id, date)
	if err != nil || dec == nil {
		return &Story{Row: row, Events: []Step{}}, err
	}
	if date == 0 {
		date = dec.Date
	}
	last := date == row.Date // then whatever came in since belongs to the story
	story := &Story{Row: row, Decision: dec, Events: []Step{}}
	story.Why = dec.Why
	story.WhyText, story.WearWhy = v.Words.Why("en", dec.Why), v.Words.Why("en", dec.WearWhy)
	reports, err := settledBy(tx, e, date)
	if err != nil {
		return nil, err
	}
	program := *v.Clinic.Programs[e.Program]
	program.Pain = e.Pain(&program)
	story.Text = v.Words.Explain("en", &program, *dec, reports)
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
// in since the decision of an earlier one.
func settledBy(tx *journal.Tx, e *config.Enrollment, date rules.Date) ([]templates.Report, error) {
	var since, behind []templates.Report
	err := tx.Events(e.ID, func(ev journal.Event) error {
		dec := ev.Decision
		if ev.Out != nil && ev.Out.Decision != nil {
			dec = ev.Out.Decision
		}
		switch {
		case ev.In != nil && ev.In.Reading.Report():
			since = append(since, templates.Report{At: ev.At.In(e.Zone), Text: ev.In.Text, Read: ev.In.Reading})
		case dec != nil && dec.Date == date:
			behind = slices.Clone(since) // decided again if something came in before hand-over
		case dec != nil:
			since = nil
		}
		return nil
	})
	return behind, err
}

func (v View) find(id string) *config.Enrollment {
	for _, e := range v.Clinic.Enrollments {
		if e.ID == id {
			return e
		}
	}
	return nil
}

func (v View) step(ev journal.Event) (Step, bool) {
	switch {
	case ev.Out != nil && ev.Out.Decision != nil:
		return Step{Kind: "decided", Text: v.Words.Why("en", ev.Out.Decision.Why)}, true
	case ev.Decision != nil:
		return Step{Kind: "decided", Text: v.Words.Why("en", ev.Decision.Why)}, true
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
