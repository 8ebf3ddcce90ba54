package outcomes

import "stepgate/rules"

// Tally adds up the clinic, one patient at a time. It keeps a few numbers of
// each and nothing of their days. The zero value is ready; it is not safe for
// use by several goroutines.
type Tally struct {
	patients, begun, closed, dates int

	week6, week12 improved
	// One number a patient.
	exercise, kept, reported, held []float64

	weeks []weekSum // by number; [0] is the time before the exercises
	wear  []wearSum
	holds [len(causes)]struct{ dates, patients int }

	open, never int
	dropped     []int // by week
	hurts       hurting

	course Course // of the patient being added
}

// weekSum is one week of the exercises, summed over patients.
type weekSum struct {
	over, due, halves, could, answering int
	shares                              weekShares
}

type wearSum struct {
	over                     int
	asked, reported, kept    int
	keptShares, reportShares weekShares
}

// improved counts the verdicts by one week.
type improved struct {
	told   Improvement
	change [21]int // patients by change, from -10 to 10
}

// Add takes one patient in. It keeps nothing of p.Days.
func (t *Tally) Add(p Patient) {
	c := &t.course
	c.fill(&p, &t.hurts)
	t.hurts.next()
	t.patients++
	if closed(p.State) {
		t.closed++
	}
	t.week6.add(c.Week6, c.Base)
	t.week12.add(c.Week12, c.Base)
	if c.Total.Decided == 0 {
		return
	}
	t.begun++
	t.dates += c.Total.Decided
	t.held = append(t.held, percent(c.Total.Held+c.Total.Paused, c.Total.Decided))
	if n := c.Total; n.Due > 0 {
		t.exercise = append(t.exercise, percent(n.Halves, 2*n.Due))
	}
	if n := c.TotalWear; n.Asked > 0 {
		t.reported = append(t.reported, percent(n.Reported, n.Asked))
		if n.Reported > 0 {
			t.kept = append(t.kept, percent(n.Kept, n.Reported))
		}
	}
	t.addWeeks(&p)
	t.addHolds(&p)
	t.addSilence(&p)
}

func (i *improved) add(v Improved, base *Base) {
	n := &i.told
	n.Patients++
	if v.Verdict == NotYet {
		n.NotYet++
		return
	}
	n.There++
	switch v.Verdict {
	case NoBase:
		n.NoBase++
	case NoPain:
		n.NoPain++
	case NoAnswer:
		n.NoAnswer++
	case Yes, No:
		n.Compared++
		if v.Verdict == Yes {
			n.Improved++
		}
		if base.From == FromUsual {
			n.ByUsual++
		} else {
			n.ByFirst++
		}
		i.change[min(max(*v.Change, -10), 10)+10]++
	}
}

// at gives the element with number n of a list that grows to hold it.
func at[T any](list *[]T, n int) *T {
	for len(*list) <= n {
		var zero T
		*list = append(*list, zero)
	}
	return &(*list)[n]
}

// addWeeks takes in the weeks that are over.
func (t *Tally) addWeeks(p *Patient) {
	for i := range t.course.Weeks {
		w := &t.course.Weeks[i]
		if w.Number == 0 || w.Decided == 0 || !p.over(w.From+6) {
			continue
		}
		sum := at(&t.weeks, w.Number)
		sum.over++
		sum.due += w.Due
		sum.halves += w.Halves
		sum.shares.add(w.Halves, w.Due)
	}
	for i := range t.course.Wear {
		w := &t.course.Wear[i]
		if w.Number == 0 || !p.over(w.From+6) || w.Asked == 0 {
			continue
		}
		sum := at(&t.wear, w.Number)
		sum.over++
		sum.asked += w.Asked
		sum.reported += w.Reported
		sum.kept += w.Kept
		sum.keptShares.add(w.Kept, w.Reported)
		sum.reportShares.add(w.Reported, w.Asked)
	}
}

// addHolds takes in the spans, as far as their dates are over.
func (t *Tally) addHolds(p *Patient) {
	var dates [len(causes)]int
	for i := range t.course.Spans {
		s := &t.course.Spans[i]
		n := s.Dates
		if !p.over(s.To) {
			n-- // today, which is the last there can be
		}
		for j, cause := range causes {
			if cause == s.Cause {
				dates[j] += n
			}
		}
	}
	for j, n := range dates {
		if n > 0 {
			t.holds[j].dates += n
			t.holds[j].patients++
		}
	}
}

// addSilence takes in who dropped off, and who could still have answered.
func (t *Tally) addSilence(p *Patient) {
	c := &t.course
	s := c.Silence
	if !closed(p.State) {
		t.open++
	}
	switch {
	case s.Dropped && s.Last == 0:
		t.never++
	case s.Dropped:
		*at(&t.dropped, s.Week)++
	}
	first, last := p.Days[0].Date, p.Days[len(p.Days)-1].Date
	through := p.Today - 1 // the last date over
	if p.Today == 0 {
		through = last
	}
	through -= DropDates
	if closed(p.State) {
		through = min(through, last)
	}
	for n := 1; ; n++ {
		end := c.start + rules.Date(7*n) - 1
		if end > through {
			return
		}
		answered := s.Week >= n
		if end < first || !answered && s.Dates < DropDates {
			continue // not asked, or not for long enough to tell
		}
		sum := at(&t.weeks, n)
		sum.could++
		if answered {
			sum.answering++
		}
	}
}

// Clinic tells what was added so far. The order of Add makes no difference,
// and more may be added after.
func (t *Tally) Clinic() Clinic {
	c := Clinic{
		Patients: t.patients, Begun: t.begun, Closed: t.closed, Dates: t.dates,
		Week6: t.week6.tell(6), Week12: t.week12.tell(12),
		Exercise: spreadAll(t.exercise), WearKept: spreadAll(t.kept), WearReported: spreadAll(t.reported),
		PainHeld: spreadAll(t.held),
		Weeks:    []ClinicWeek{}, Wear: []ClinicWearWeek{}, Holds: []Hold{},
		DropOff: DropOff{Open: t.open, Dropped: t.never, Never: t.never, Weeks: []DropOffWeek{}},
	}
	for n := 1; n < len(t.weeks); n++ {
		w := &t.weeks[n]
		c.Weeks = append(c.Weeks, ClinicWeek{Number: n, Over: w.over, Exercise: w.shares.spread(2),
			Due: w.due, Halves: w.halves, Could: w.could, Answering: w.answering})
	}
	for n := 1; n < len(t.wear); n++ {
		w := &t.wear[n]
		c.Wear = append(c.Wear, ClinicWearWeek{Number: n, Over: w.over,
			WearKept: w.keptShares.spread(1), WearReported: w.reportShares.spread(1),
			Asked: w.asked, Reported: w.reported, Kept: w.kept})
	}
	for j, h := range t.holds {
		if h.dates > 0 {
			c.Holds = append(c.Holds, Hold{Cause: causes[j], Dates: h.dates, Share: percent(h.dates, t.dates), Patients: h.patients})
		}
	}
	for n, patients := range t.dropped {
		if patients > 0 {
			c.DropOff.Dropped += patients
			c.DropOff.Weeks = append(c.DropOff.Weeks, DropOffWeek{n, patients})
		}
	}
	c.Steps, c.Exercises = t.hurts.tell()
	return c
}

func (i *improved) tell(week int) Improvement {
	n := i.told
	n.Week = week
	n.TooFew = n.Compared < FewPatients
	if n.Compared > 0 {
		low, high := exact(float64(n.Improved), float64(n.Compared))
		n.Share = &Rate{Per100: percent(n.Improved, n.Compared), Low: 100 * low, High: 100 * high, Effect: 1}
	}
	var changes []weighted
	for j, patients := range i.change {
		changes = append(changes, weighted{float64(j - 10), patients})
	}
	n.Change = spreadOf(changes)
	return n
}
