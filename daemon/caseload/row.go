package caseload

import (
	"encoding/json"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// Row is one patient as the clinician looks at the caseload. Its JSON keys are
// a contract: added, never renamed.
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
	WearMin    int           `json:"wear_minutes"` // asked now; 0: out, or none
	State      rules.InState `json:"state"`
	Why        rules.Reason  `json:"why"`
	WhyText    string        `json:"why_text"`
	WearWhy    string        `json:"wear_why_text"`
	Since      string        `json:"since,omitempty"` // what came in after that decision

	Group      Group      `json:"group"`                // the most urgent of Needs, or that of one who needs no look
	Needs      []Group    `json:"needs"`                // every reason to look, most urgent first; empty: none
	Cause      string     `json:"cause"`                // what happened and since when; empty: nothing to say
	StateSince rules.Date `json:"state_since,omitzero"` // what Group says began then; left out: not known
	Dispensed  rules.Date `json:"dispensed"`            // the date the orthoses were handed over
	SinceDay   int        `json:"dispense_day"`         // today's, that date being 1; 0 or less: before it
	DoneHalves int        `json:"done_halves"`          // of the last dates that a message asked for exercises: 2 for all done, 1 for some of it
	Due        int        `json:"due_dates"`            // how many those are, at most 7 in four weeks
	Scores     Scores     `json:"scores"`               // worst daily pain of the 14 dates up to Date, oldest first
	WearFull   int        `json:"wear_full_minutes"`    // of the schedule; 0: the program has none
	LastReport rules.Date `json:"last_report,omitzero"` // the day of the last report; left out: none yet
	Alerts     []Alert    `json:"alerts"`               // that nobody acknowledged, newest first
	Visit      rules.Date `json:"next_visit,omitzero"`  // the next review visit
}

// Alert is one that nobody acknowledged.
type Alert struct {
	Kind rules.NoticeKind `json:"kind"`
	At   time.Time        `json:"at"`   // in the patient's zone
	Text string           `json:"text"` // in a few words
}

// LastScore is the newest score there is, or -1.
func (r *Row) LastScore() int {
	for i := len(r.Scores) - 1; i >= 0; i-- {
		if r.Scores[i] >= 0 {
			return r.Scores[i]
		}
	}
	return noScore
}

// Scores are pain scores by date; -1, in JSON null, where there is none.
type Scores []int

const noScore = -1

// MarshalJSON writes null for a date without a score.
func (s Scores) MarshalJSON() ([]byte, error) {
	list := make([]*int, len(s))
	for i := range s {
		if s[i] != noScore {
			list[i] = &s[i]
		}
	}
	return json.Marshal(list)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (s *Scores) UnmarshalJSON(b []byte) error {
	var list []*int
	if err := json.Unmarshal(b, &list); err != nil {
		return err
	}
	*s = make(Scores, len(list))
	for i, n := range list {
		if (*s)[i] = noScore; n != nil {
			(*s)[i] = *n
		}
	}
	return nil
}

// View reads with one clinic, one set of words and one instant.
type View struct {
	Clinic *config.Clinic
	Words  *templates.Set
	Now    time.Time
	Quick  bool // it is a made-up calendar's
}

// What a row looks back on.
const (
	trendDates = 14
	dueDates   = 7
	lookBack   = 28 // dates in which the due ones are looked for
)

// begin is a row as far as a person's own record tells it: who needs a look is
// known of everybody before the days of anybody are read.
func (v View) begin(f Facts) Row {
	e := f.Enrollment
	row := Row{ID: e.ID, Name: e.Name, Program: e.Program, Dispensed: e.Dispensed, SinceDay: int(f.Today-e.Dispensed) + 1,
		Needs: []Group{}, Alerts: []Alert{}, Scores: Scores{}, Visit: f.visit(0)}
	prog := v.Clinic.Programs[e.Program]
	if prog != nil {
		row.Steps = len(prog.Blocks)
		if prog.Wear != nil {
			row.WearFull = int(prog.Wear.Full.Minutes())
		}
	}
	if f.Person == nil { // accepted a moment ago
		row.Group = NotBegun
		return row
	}
	st := f.Person.State
	row.State = st.Shown(f.Today, f.OptedOut)
	row.ProgramDay, row.WearDay = st.P, st.W
	row.LastReport = lastReport(e, st)
	groups := f.Groups()
	if row.Group = groups[0]; row.Group.NeedsLook() {
		row.Needs = groups
	}
	row.StateSince = f.since(row.Group, row.LastReport)
	if t := f.Person.Told; t != nil {
		row.Date, row.Day, row.Step, row.Steps = t.Date, t.Day, t.Step, t.Steps
		row.WearMin, row.Why = st.WearMin, t.Why
	}
	return row
}

// lastReport is the day of the last report: one that came since the last
// decision, or the one before so many decided dates without.
func lastReport(e *config.Enrollment, st rules.State) rules.Date {
	if st.Heard.Any {
		return st.Decided
	}
	if d := st.Decided - 1 - rules.Date(st.Blank); st.Decided != 0 && d >= e.First() {
		return d
	}
	return 0
}

// finish adds what takes reading: the days, the open alerts, and the words.
func (v View) finish(tx *journal.Tx, f Facts, row *Row) error {
	if f.Person == nil {
		return nil
	}
	past, err := v.days(tx, f, row)
	if err != nil {
		return err
	}
	if row.Alerts, err = v.alerts(tx, f.open(), f.Enrollment.Zone); err != nil {
		return err
	}
	if t := f.Person.Told; t != nil {
		row.WhyText, row.WearWhy = v.Words.Why("en", t.Why), v.Words.Why("en", t.WearWhy)
		row.Since = sinceThen(f.Person.State, past.decided, row.State)
		if row.Since != "" {
			row.WhyText += "; " + row.Since
		}
	}
	row.Cause = v.cause(f, row, past)
	return nil
}

// alerts puts alerts into words.
func (v View) alerts(tx *journal.Tx, rows []journal.AlertRow, zone *time.Location) ([]Alert, error) {
	list := make([]Alert, len(rows))
	for i, a := range rows {
		list[i] = Alert{Kind: rules.NoticeKind(a.Notice), At: a.At.In(zone), Text: a.Notice}
		ev, err := tx.Event(a.Seq, a.Enrollment)
		if err != nil {
			return nil, err
		}
		if ev != nil && ev.Alert != nil {
			list[i].Text = v.Words.Short(ev.Alert.Notice)
		}
	}
	return list, nil
}

// past is what the days tell beside the row's cells.
type past struct {
	decided rules.InState // in which the last date was decided
	score   int           // of the date since which the row's group stands
	danger  bool          // a danger word was reported of that date
}

// days reads the last four weeks into a row.
func (v View) days(tx *journal.Tx, f Facts, row *Row) (past, error) {
	out := past{decided: row.State, score: noScore}
	end := f.Person.State.Decided
	if end == 0 {
		return out, nil
	}
	days, err := tx.Days(row.ID, end-lookBack+1, end)
	if err != nil || len(days) == 0 {
		return out, err
	}
	out.decided = days[len(days)-1].State
	row.Scores = make(Scores, trendDates)
	for i := range row.Scores {
		row.Scores[i] = noScore
	}
	for i := len(days) - 1; i >= 0; i-- {
		d := &days[i]
		if at := trendDates - 1 - int(end-d.Date); at >= 0 {
			row.Scores[at] = d.Score
		}
		if d.Skin && row.Group == Skin && row.StateSince == 0 {
			row.StateSince = d.Date
		}
		if d.Date == row.StateSince {
			out.score, out.danger = d.Score, d.Flag
		}
		// What nobody was asked, in a pause or away, is not held against them, nor is
		// the day that is not over yet.
		if len(d.Due) > 0 && d.Sent && row.Due < dueDates && (d.Date < end || d.Reports > 0) {
			row.Due++
			row.DoneHalves += d.Halves
		}
	}
	return out, nil
}
