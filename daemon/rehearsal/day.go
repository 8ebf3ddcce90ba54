package rehearsal

import (
	"time"

	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/daemon/page"
	"stepgate/notify"
	"stepgate/rules"
)

// Day is what came of one date. Its JSON is a contract; see the folder's
// README.
type Day struct {
	Date       rules.Date    `json:"date"`
	Day        int           `json:"day"` // D: 1 on the date the exercises begin
	ProgramDay int           `json:"program_day"`
	WearDay    int           `json:"wear_day"`
	Step       int           `json:"step"`
	State      rules.InState `json:"state"`
	Why        Why           `json:"why"`
	WearMin    int           `json:"wear_minutes"` // 0: out, or none asked
	Doses      []Dose        `json:"doses"`
	Messages   []Message     `json:"messages"`
	Replies    []Reply       `json:"replies"`

	n        int // of the rehearsal, from 1
	decision *rules.Decision
	wearWhy  string
	lines    []page.Line
	pain     *int // the worst daily score that belongs to the date
	after    rules.State
}

// Why is the rule behind the date.
type Why struct {
	Rule string `json:"rule"` // such as pain.hold; the reason's name where no rule of the files is behind it
	File string `json:"file"`
	Line int    `json:"line"`
	Text string `json:"text"`
}

// Dose is one exercise due on the date.
type Dose struct {
	Exercise string     `json:"exercise"`
	Side     rules.Side `json:"side"`
	Sets     int        `json:"sets"`
	Reps     int        `json:"reps"`
	Hold     int        `json:"hold_seconds"`
	Sessions int        `json:"sessions"`
	Form     string     `json:"form"`
}

// Message is one text that went out on the date.
type Message struct {
	To       string `json:"to"`   // patient or clinician
	Kind     string `json:"kind"` // daily, answer, confirm or alert
	Text     string `json:"text"`
	Segments int    `json:"segments"`
}

// Whom a message goes to.
const (
	toPatient   = "patient"
	toClinician = "clinician"
)

// Reply is one text that came in on the date, and what it was read as.
type Reply struct {
	Text string           `json:"text"`
	Read caseload.Reading `json:"read"`
}

// gather reads the journal once and files every event under its date.
func (s *stage) gather() ([]Day, error) {
	days := make([]Day, s.plan.Days)
	for i := range days {
		days[i] = Day{Date: s.plan.First + rules.Date(i), n: i + 1,
			Doses: []Dose{}, Messages: []Message{}, Replies: []Reply{}}
		days[i].Day = s.plan.Enrollment.Day(days[i].Date)
	}
	out := map[string]journal.Out{} // intended so far, by key
	err := s.journal.View(func(tx *journal.Tx) error {
		return tx.All(func(ev journal.Event) error {
			i := int(rules.DateOf(ev.At.In(s.plan.Enrollment.Zone)) - s.plan.First)
			if i < 0 || i >= len(days) {
				return nil
			}
			days[i].add(ev, out)
			if ev.In != nil {
				days[max(0, int(ev.In.Day-s.plan.First))].hurt(ev.In.Reading.Pain)
			}
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	for i := range days {
		days[i].close(s, i)
		if days[i].decision == nil && i > 0 {
			days[i].Step = days[i-1].Step
		}
	}
	return days, nil
}

// add files one event. A message counts once it is handed over.
func (d *Day) add(ev journal.Event, out map[string]journal.Out) {
	switch {
	case ev.Kind == journal.Intended && ev.Out != nil:
		out[ev.Out.Key] = *ev.Out
	case ev.Kind == journal.HandedOut:
		o, ok := out[ev.Key]
		if !ok {
			return
		}
		delete(out, ev.Key)
		if o.Decision != nil {
			d.decision = o.Decision
		}
		d.say(journal.Event{Out: &o})
		to := toPatient
		if o.Kind == "alert" {
			to = toClinician
		}
		d.Messages = append(d.Messages, Message{to, o.Kind, o.Text, notify.Segments(o.Text).Segments})
	case ev.Kind == journal.Decided && ev.Decision != nil:
		d.decision = ev.Decision
	case ev.In != nil:
		d.say(ev)
		d.Replies = append(d.Replies, Reply{ev.In.Text, caseload.ReadingOf(ev.In.Reading)})
	case ev.Entry != nil:
		d.say(ev)
	}
}

func (d *Day) say(ev journal.Event) {
	if line, ok := page.LineOf(ev); ok {
		d.lines = append(d.lines, line)
	}
}

// hurt takes the worst daily score.
func (d *Day) hurt(score *int) {
	if score != nil && (d.pain == nil || *score > *d.pain) {
		d.pain = score
	}
}

// close fills in what the decision says, or the state where there was none.
func (d *Day) close(s *stage, i int) {
	dec := d.decision
	if i < len(s.after) {
		d.after = s.after[i]
	}
	if dec == nil {
		d.undecided(s)
		return
	}
	d.ProgramDay, d.WearDay, d.Step, d.State = dec.P, dec.W, dec.Step, dec.State
	d.Why = whyOf(s, dec.Why)
	d.wearWhy = s.words.Why("en", dec.WearWhy)
	d.WearMin = int(dec.Wear / time.Minute)
	for _, x := range dec.Doses {
		d.Doses = append(d.Doses, Dose{x.Exercise, x.Side, x.Sets, x.Reps, int(x.Hold / time.Second), x.Sessions, x.Form})
	}
}

func whyOf(s *stage, r rules.Reason) Why {
	why := Why{Rule: r.Rule, File: r.At.File, Line: r.At.Line, Text: s.words.Why("en", r)}
	if why.Rule == "" {
		why.Rule = string(r.Code)
	}
	return why
}

// undecided is a date without a decision: after a discharge or the end of the
// program, or one that the zone's calendar leaves out.
func (d *Day) undecided(s *stage) {
	d.ProgramDay, d.WearDay, d.State = d.after.P, d.after.W, d.after.Shown(d.Date, false)
	code := rules.Code("not decided")
	switch d.State {
	case rules.InDischarged:
		code = rules.Discharged
	case rules.InFinished:
		code = rules.Finished
	}
	d.Why = whyOf(s, rules.Reason{Code: code})
}
