package outcomes

import (
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Of works out one patient's course.
func Of(p Patient) Course {
	c := Course{Weeks: []Week{}, Wear: []WearWeek{}, Firsts: []First{}, Spans: []Span{}, Steps: []StepOn{}, Backs: []Back{}}
	c.fill(&p, nil)
	return c
}

// fill works out the course of p in place of what c held. It takes the slices
// of c again, so that one Course serves many patients. With hurts it takes the
// days into that, and leaves out the steps of each date.
func (c *Course) fill(p *Patient, hurts *hurting) {
	*c = Course{ID: p.ID, Program: p.Program, State: p.State, Today: p.Today,
		Weeks: c.Weeks[:0], Wear: c.Wear[:0], Firsts: c.Firsts[:0],
		Spans: c.Spans[:0], Steps: c.Steps[:0], Backs: c.Backs[:0]}
	r := reading{p: p, c: c, hurts: hurts}
	r.dates()
	c.start = r.start
	for i := range p.Days {
		if d := &p.Days[i]; r.last == nil || d.Date > r.last.Date {
			r.day(d)
			r.last = d
		}
	}
	if n := len(c.Spans); n > 0 {
		c.Spans[n-1].Open = c.Spans[n-1].To == r.last.Date
	}
	for i := range c.Weeks {
		c.Total.add(&c.Weeks[i].Counts)
	}
	for i := range c.Wear {
		c.TotalWear.add(&c.Wear[i].WearCounts)
	}
	c.Silence.Dropped = c.Silence.Dates >= DropDates && !closed(p.State)
	c.firstSteps(p)
}

// closed tells whether nothing more is to come of a patient.
func closed(s rules.InState) bool { return s == rules.InDischarged || s == rules.InFinished }

// reading goes through the days of one patient.
type reading struct {
	p         *Patient
	c         *Course
	hurts     *hurting   // nil: not wanted
	start     rules.Date // week 1 of the exercises begins
	dispensed rules.Date // week 1 of the wear begins
	ahead     int        // program days that the enrollment began ahead of the calendar
	begun     bool       // a program day was seen
	asked     bool       // a message since the last report got none
	last      *journal.Day
}

// dates finds where the weeks begin, also for a patient the files do not know
// any more: then day 1 is as it was decided.
func (r *reading) dates() {
	r.start, r.dispensed = r.p.Start, r.p.Dispensed
	if r.start == 0 && len(r.p.Days) > 0 {
		r.start = r.p.Days[0].Date - rules.Date(r.p.Days[0].D) + 1
	}
	if r.dispensed == 0 {
		r.dispensed = r.start
	}
}

// over tells whether a date is over; see the package.
func (p *Patient) over(d rules.Date) bool { return p.Today == 0 || d < p.Today }

// weekOf is the week of a date counted from a first one; 0 before it.
func weekOf(d, first rules.Date) int {
	if d < first {
		return 0
	}
	return int(d-first)/7 + 1
}

// weekStart is the first date of a week; for week 0 the date itself.
func weekStart(n int, first, d rules.Date) rules.Date {
	if n == 0 {
		return d
	}
	return first + rules.Date(7*(n-1))
}

func (r *reading) day(d *journal.Day) {
	w, wear := r.week(d.Date), r.wearWeek(d.Date)
	if r.hurts == nil {
		r.steps(d, w)
	}
	wear.Minutes = d.Wear
	cause := CauseOf(d)
	r.span(d, cause)
	r.silence(d, w.Number)
	if d.FirstStep >= 0 {
		r.c.Firsts = append(r.c.Firsts, First{Date: d.Date, Day: int(d.Date-r.start) + 1, Score: d.FirstStep})
	}
	if !r.p.over(d.Date) {
		return
	}
	stood := stands(d)
	w.Counts.count(d, stood, cause, r.p.Lines.Hold)
	wear.WearCounts.count(d, stood)
	if r.hurts != nil && stood {
		r.hurts.day(d, r.p.Lines.Hold)
	}
}

// week is the week of the exercises that a date falls in, which is the last
// one there is or a later one.
func (r *reading) week(d rules.Date) *Week {
	n, c := weekOf(d, r.start), r.c
	for len(c.Weeks) == 0 || c.Weeks[len(c.Weeks)-1].Number < n {
		next := min(n, 1)
		if len(c.Weeks) > 0 {
			next = c.Weeks[len(c.Weeks)-1].Number + 1
		}
		c.Weeks = append(c.Weeks, Week{Number: next, From: weekStart(next, r.start, d)})
	}
	return &c.Weeks[len(c.Weeks)-1]
}

// wearWeek is the same for the weeks of wear.
func (r *reading) wearWeek(d rules.Date) *WearWeek {
	n, c := weekOf(d, r.dispensed), r.c
	for len(c.Wear) == 0 || c.Wear[len(c.Wear)-1].Number < n {
		next := min(n, 1)
		if len(c.Wear) > 0 {
			next = c.Wear[len(c.Wear)-1].Number + 1
		}
		c.Wear = append(c.Wear, WearWeek{Number: next, From: weekStart(next, r.dispensed, d)})
	}
	return &c.Wear[len(c.Wear)-1]
}

// count takes in a date that is over.
func (n *Counts) count(d *journal.Day, stood bool, cause Cause, hold int) {
	n.Decided++
	if cause != "" {
		n.wait(cause)
	}
	if !stood {
		return
	}
	n.Stood++
	if d.Sent {
		n.Sent++
		if d.Reports > 0 {
			n.Answered++
		}
	}
	if d.Score >= 0 && !d.Struck {
		n.Scored++
		if d.Score >= hold {
			n.Pain++
		}
	}
	if len(d.Due) > 0 && d.Sent {
		n.due(d)
	}
}

func (n *Counts) due(d *journal.Day) {
	n.Due++
	switch {
	case d.Halves >= 2:
		n.Done++
		n.Halves += 2
	case d.Halves == 1:
		n.Some++
		n.Halves++
	case d.None:
		n.NotToday++
	}
	switch d.Fate {
	case string(journal.Rejected), string(journal.Expired), journal.Undelivered:
		n.Unreached++
	}
}

func (n *Counts) wait(cause Cause) {
	switch cause {
	case CausePain:
		n.Held++
	case CausePause:
		n.Paused++
	case CauseClinic:
		n.Clinic++
	case CauseWaiting:
		n.Waiting++
	case CauseAway:
		n.Away++
	default:
		n.Other++
	}
}

func (n *Counts) add(m *Counts) {
	n.Decided += m.Decided
	n.Stood += m.Stood
	n.Due += m.Due
	n.Halves += m.Halves
	n.Done += m.Done
	n.Some += m.Some
	n.NotToday += m.NotToday
	n.Unreached += m.Unreached
	n.Sent += m.Sent
	n.Answered += m.Answered
	n.Scored += m.Scored
	n.Pain += m.Pain
	n.Held += m.Held
	n.Paused += m.Paused
	n.Clinic += m.Clinic
	n.Waiting += m.Waiting
	n.Away += m.Away
	n.Other += m.Other
}

func (n *WearCounts) count(d *journal.Day, stood bool) {
	if d.Skin {
		n.SkinComplaint++
	}
	if !stood || d.Wear <= 0 {
		return
	}
	n.Asked++
	if d.Worn < 0 {
		return
	}
	n.Reported++
	n.AskedMinutes += d.Wear
	n.WornMinutes += d.Worn
	if d.Worn >= d.Wear {
		n.Kept++
	}
}

func (n *WearCounts) add(m *WearCounts) {
	n.Asked += m.Asked
	n.Reported += m.Reported
	n.Kept += m.Kept
	n.AskedMinutes += m.AskedMinutes
	n.WornMinutes += m.WornMinutes
	n.SkinComplaint += m.SkinComplaint
}

// steps notes the step of a date, what the calendar alone would have given,
// and a program day that went back.
func (r *reading) steps(d *journal.Day, w *Week) {
	day := int(d.Date-r.start) + 1
	if d.P > 0 && !r.begun {
		r.begun, r.ahead = true, max(0, d.P-max(1, day))
	}
	on := StepOn{Date: d.Date, Day: day, P: d.P, Step: d.Step, Steps: d.Steps}
	if d.Program == r.p.Program && d.Step > 0 {
		for on.Allowed < len(r.p.StepWeeks) && 7*(r.p.StepWeeks[on.Allowed]-1) < day+r.ahead {
			on.Allowed++
		}
	}
	r.c.Steps = append(r.c.Steps, on)
	w.Step, w.Allowed = on.Step, on.Allowed
	if r.last != nil && d.Program == r.last.Program && d.P < r.last.P {
		r.c.Backs = append(r.c.Backs, Back{Date: d.Date, Code: d.Why, From: r.last.Step, To: d.Step})
	}
}

func (r *reading) span(d *journal.Day, cause Cause) {
	if cause == "" {
		return
	}
	if n := len(r.c.Spans); n > 0 && r.c.Spans[n-1].Cause == cause && r.c.Spans[n-1].To == r.last.Date {
		r.c.Spans[n-1].To = d.Date
		r.c.Spans[n-1].Dates++
		return
	}
	r.c.Spans = append(r.c.Spans, Span{Cause: cause, Code: d.Why, From: d.Date, To: d.Date, Dates: 1})
}

func (r *reading) silence(d *journal.Day, week int) {
	if d.Reports > 0 {
		r.c.Silence, r.asked = Silence{Last: d.Date, Week: week}, false
		return
	}
	r.asked = r.asked || d.Sent
	if r.asked && r.p.over(d.Date) && d.State != rules.InPaused && d.State != rules.InAway {
		r.c.Silence.Dates++
	}
}
