package caseload

import (
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// Span says which dates of a course are asked for.
type Span struct {
	From, To rules.Date // both included; 0: no bound
	Last     int        // so many dates up to To, or to the newest there is; 0: as From says
}

// Values writes a span into an address; ParseSpan reads it there.
func (s Span) Values() url.Values {
	v := url.Values{"last": {strconv.Itoa(s.Last)}}
	for key, d := range map[string]rules.Date{"from": s.From, "to": s.To} {
		if d != 0 {
			v.Set(key, d.String())
		}
	}
	return v
}

// ParseSpan reads what [Span.Values] wrote.
func ParseSpan(v url.Values) (s Span, err error) {
	for key, d := range map[string]*rules.Date{"from": &s.From, "to": &s.To} {
		if text := v.Get(key); text != "" {
			if *d, err = rules.ParseDate(text); err != nil {
				return s, fmt.Errorf("%s: %w", key, err)
			}
		}
	}
	if text := v.Get("last"); text != "" {
		if s.Last, err = strconv.Atoi(text); err != nil {
			return s, fmt.Errorf("last: %q is no number", text)
		}
	}
	return s, nil
}

// Timeline is what happened to one patient, by date. Its JSON keys are a
// contract: added, never renamed. A patient who is no longer in the files has
// an empty row but for the id; one who was erased has nothing but the id.
type Timeline struct {
	Row
	Clinic   string     `json:"clinic"`
	AsOf     time.Time  `json:"as_of"`         // in the patient's zone
	Title    string     `json:"program_title"` // empty: not known
	Gone     bool       `json:"gone"`          // no longer in the clinic's files
	Erased   bool       `json:"erased"`        // somebody of this id was erased from the journal
	Cautions []string   `json:"cautions"`      // in words
	Lines    *Lines     `json:"pain_lines"`    // null: the program is not known
	From     rules.Date `json:"from"`          // the dates that are shown, "" where there is none
	To       rules.Date `json:"to"`
	Earlier  int        `json:"earlier_dates"`        // dates with events before From
	Dates    []DateOf   `json:"dates"`                // rising
	Quick    bool       `json:"quick_time,omitempty"` // of a made-up calendar
}

// Lines are a patient's pain lines.
type Lines struct {
	Steady    int        `json:"steady"`
	Hold      int        `json:"hold"`
	StepBack  int        `json:"step_back"`
	Pause     int        `json:"pause"`
	ClearDays int        `json:"clear_days"`
	By        string     `json:"by,omitempty"` // who set them for this patient; left out: the program's
	On        rules.Date `json:"on,omitzero"`
}

// DateOf is one local date of a course.
type DateOf struct {
	Date  rules.Date `json:"date"`
	Day   int        `json:"dispense_day"` // 1 on the date of dispense; 0: not known
	Items []Item     `json:"items"`        // by time
}

// Item is one thing that happened. Kinds:
//
//	change     what the decision that follows changed: a step, or the state
//	decided    a date was decided: Text is the decision as a short story, Code
//	           why the program day moved or waited
//	dose       what the day's message asked for, in words
//	message    a text to the patient; Status is what became of it
//	reply      a text of the patient's; Read is what it was read as
//	alert      somebody was told; Status is what was done about it
//	entry      what a clinician wrote
//	note       anything else
type Item struct {
	At     time.Time `json:"at"` // in the patient's zone
	Kind   string    `json:"kind"`
	Text   string    `json:"text"`
	Read   string    `json:"read,omitempty"`
	Code   string    `json:"code,omitempty"`
	Status string    `json:"status,omitempty"`
	Phone  string    `json:"taken_by,omitempty"` // of a reply: who took it by phone
}

// Timeline tells a patient's course. It is nil for an id under which nobody was
// ever enrolled.
func (v View) Timeline(tx *journal.Tx, id string, span Span) (*Timeline, error) {
	t := &Timeline{Row: Row{ID: id, Needs: []Group{}, Alerts: []Alert{}, Scores: Scores{}}, Clinic: v.Clinic.Name, Erased: tx.IsErased(id),
		Cautions: []string{}, Dates: []DateOf{}, Quick: v.Quick}
	e := v.Clinic.Enrollments.Get(id)
	p, err := tx.Person(id)
	if err != nil {
		return nil, err
	}
	if t.Erased && p == nil { // the files last accepted may still have them
		e = nil
	}
	t.Gone = e == nil
	switch {
	case e == nil && p == nil && !t.Erased:
		return nil, nil
	case e != nil:
		if t.Row, err = v.row(tx, e); err != nil {
			return nil, err
		}
		v.head(t, e)
	case p != nil: // what the record says has to do
		e = &config.Enrollment{Enrollment: rules.Enrollment{ID: id, Program: p.State.Program}, Zone: v.Clinic.Zone}
		v.goneHead(t, e, p)
	default:
		e = &config.Enrollment{Zone: v.Clinic.Zone}
	}
	t.AsOf = v.Now.In(e.Zone)
	items, err := v.items(tx, e)
	if err != nil {
		return nil, err
	}
	t.cut(items, span)
	return t, nil
}

// head is what is known of a patient beside the row.
func (v View) head(t *Timeline, e *config.Enrollment) {
	prog := v.Clinic.Programs[e.Program]
	if prog == nil {
		return
	}
	t.Title = prog.Title.In("en")
	l := e.Pain(prog)
	t.Lines = &Lines{Steady: l.Steady, Hold: l.Hold, StepBack: l.StepBack, Pause: l.Pause, ClearDays: l.ClearDays}
	if e.Lines != nil {
		t.Lines.By, t.Lines.On = e.LinesBy, e.LinesOn
	}
	for _, c := range []struct {
		is   bool
		word string
	}{{e.Cautions.ReducedSensation, "reduced sensation"}, {e.Cautions.FragileSkin, "fragile skin"},
		{e.Cautions.Balance, "balance: hold a firm support"}, {e.Cautions.Growing, "growing"}} {
		if c.is {
			t.Cautions = append(t.Cautions, c.word)
		}
	}
}

// goneHead is what the record says of a patient who is not in the files.
func (v View) goneHead(t *Timeline, e *config.Enrollment, p *journal.Person) {
	st := p.State
	t.Program, t.ProgramDay, t.WearDay = st.Program, st.P, st.W
	t.State = st.Shown(rules.DateOf(v.Now.In(e.Zone)), false)
	if prog := v.Clinic.Programs[st.Program]; prog != nil {
		t.Title = prog.Title.In("en")
	}
	if d := p.Told; d != nil {
		t.Date, t.Day, t.Step, t.Steps, t.Why = d.Date, d.Day, d.Step, d.Steps, d.Why
		t.WhyText, t.WearWhy = v.Words.Why("en", d.Why), v.Words.Why("en", d.WearWhy)
		t.WearMin = st.WearMin
	}
}

// cut keeps the dates asked for, each with its items by time.
func (t *Timeline) cut(items []Item, span Span) {
	slices.SortStableFunc(items, func(a, b Item) int { return a.At.Compare(b.At) })
	for i := range items {
		d := rules.DateOf(items[i].At)
		if span.To != 0 && d > span.To {
			break
		}
		if n := len(t.Dates); n == 0 || t.Dates[n-1].Date != d {
			at := DateOf{Date: d}
			if t.Dispensed != 0 {
				at.Day = int(d-t.Dispensed) + 1
			}
			t.Dates = append(t.Dates, at)
		}
		last := &t.Dates[len(t.Dates)-1]
		last.Items = append(last.Items, items[i])
	}
	if len(t.Dates) == 0 {
		return
	}
	from := span.From
	if span.Last > 0 {
		from = t.Dates[len(t.Dates)-1].Date - rules.Date(span.Last) + 1
	}
	for len(t.Dates) > 0 && t.Dates[0].Date < from {
		t.Dates, t.Earlier = t.Dates[1:], t.Earlier+1
	}
	if len(t.Dates) > 0 {
		t.From, t.To = t.Dates[0].Date, t.Dates[len(t.Dates)-1].Date
	}
}

// story tells a decision with the reports behind it. before is the program day
// of the date before: a pause takes a step back too, and its reason does not
// say so.
func (v View) story(e *config.Enrollment, dec rules.Decision, reports []templates.Report, before int) string {
	prog := rules.Program{}
	if p := v.Clinic.Programs[e.Program]; p != nil {
		prog = *p
		prog.Pain = e.Pain(p)
	}
	text := v.Words.Explain("en", &prog, dec, reports)
	if dec.Why.Code == rules.Paused && dec.P < before {
		text += fmt.Sprintf(" It went back from program day %d to %d.", before, dec.P)
	}
	return text
}
