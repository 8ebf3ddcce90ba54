package rules_test

import (
	"fmt"
	"math/rand/v2"
	"time"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// life is one random program, enrollment and history.
type life struct {
	program *rules.Program
	enroll  rules.Enrollment
	before  []rules.Reading
	days    []day
}

func (l life) play() []outcome { return play(l.program, l.enroll, l.before, l.days) }

// at returns the program in force on the i-th date.
func (l life) at(i int) *rules.Program {
	p := l.program
	for _, d := range l.days[:i+1] {
		if d.program != nil {
			p = d.program
		}
	}
	return p
}

// String is what a failing check prints.
func (l life) String() string {
	s := fmt.Sprintf("program %s\nstart %v dispensed %v consent %v, before %v\n", show(l.program),
		l.enroll.Start, l.enroll.Dispensed, l.enroll.Consent, showTexts(l.before))
	for i, d := range l.days {
		s += fmt.Sprintf("%3d", i)
		if d.program != nil {
			s += " EDIT " + show(d.program)
		}
		for _, n := range d.entries {
			s += fmt.Sprintf(" %s %d", n.Kind, n.Step)
		}
		for word, on := range map[string]bool{" skip": d.skip, " unheard": d.unheard, " untaken": d.untaken} {
			if on {
				s += word
			}
		}
		s += " " + showTexts(d.texts) + "\n"
	}
	return s
}

func show(p *rules.Program) string {
	s := fmt.Sprintf("%s weeks %d pain %+v advance %+v wear %+v blocks", p.ID, p.Weeks, p.Pain, p.Advance, p.Wear)
	for _, b := range p.Blocks {
		s += fmt.Sprintf(" %d", b.Week)
		for _, d := range b.Doses {
			s += fmt.Sprintf("(%s %d %v)", d.On.Kind, d.On.PerWeek, d.On.Weekdays)
		}
	}
	return s
}

func showTexts(texts []rules.Reading) string {
	s := ""
	for _, r := range texts {
		s += "["
		s += string(r.Done)
		if r.Pain != nil {
			s += fmt.Sprint(" P", *r.Pain)
		}
		if r.Wear != nil {
			s += fmt.Sprint(" W", *r.Wear)
		}
		if r.Away != nil {
			s += fmt.Sprint(" A", *r.Away)
		}
		for word, on := range map[string]bool{" B": r.Skin, " STOP": r.Stop, " START": r.Start,
			" WRONG": r.Wrong, " RED": len(r.Flags) > 0} {
			if on {
				s += word
			}
		}
		s += "]"
	}
	return s
}

// dice draws everything from one seed: a history has thousands of choices,
// and drawing them one by one from the library would make a check slow.
type dice struct{ *rand.Rand }

// chance is true n times in a hundred.
func (r dice) chance(n int) bool { return r.IntN(100) < n }

// in is a number from a to b.
func (r dice) in(a, b int) int { return a + r.IntN(b-a+1) }

// lives draws a random life. The tune numbers shape it: rapid shrinks them,
// so that a failing history gets short and plain before its seed is fixed.
func lives(t *rapid.T) life {
	seed := rapid.Uint64().Draw(t, "seed")
	length := rapid.IntRange(2, 90).Draw(t, "dates")
	edits := rapid.IntRange(0, 2).Draw(t, "edits")
	trouble := rapid.IntRange(0, 6).Draw(t, "trouble")
	r := dice{rand.New(rand.NewPCG(seed, 1))}
	l := life{program: randomProgram(r, "plan"), enroll: randomEnrollment(r)}
	if r.chance(15) {
		l.before = []rules.Reading{randomText(r, trouble)}
	}
	l.days = make([]day, length)
	pain, silence := r.in(0, 40), r.in(0, 40)
	for i := range l.days {
		l.days[i] = randomDay(r, l.enroll.First()+rules.Date(i), pain, silence, trouble)
	}
	for range edits {
		i, id := r.IntN(length), "plan"
		if r.chance(10) {
			id = "other"
		}
		l.days[i].program = randomProgram(r, id)
	}
	return l
}

func randomProgram(r dice, id string) *rules.Program {
	p := &rules.Program{ID: id, Hash: fmt.Sprintf("%016x", r.Uint64()),
		Exercises: map[string]*rules.Exercise{"a": {ID: "a", Side: rules.SideEach}, "b": {ID: "b", Side: rules.SideAffected}},
		Where:     map[string]rules.Pos{"program": {File: "programs/" + id + ".yaml", Line: 1, Column: 1}},
	}
	p.Pain.Steady = r.in(0, 4)
	p.Pain.Hold = r.in(p.Pain.Steady+1, 8)
	p.Pain.StepBack = r.in(p.Pain.Hold, 9)
	p.Pain.Pause = r.in(p.Pain.StepBack, 10)
	p.Pain.ClearDays = r.in(1, 3)
	p.Advance = rules.Advance{Done: 10 * r.in(0, 10), Last: r.in(2, 10), Scores: r.in(0, 3)}
	if r.chance(30) {
		p.Pain, p.Advance = rules.DefaultLines(), rules.DefaultAdvance()
	}
	week := 1
	for i := range r.in(0, 5) {
		if i > 0 {
			week += r.in(1, 3)
		}
		b := rules.Block{Week: week}
		for range r.in(1, 2) {
			b.Doses = append(b.Doses, randomDose(r))
		}
		p.Blocks = append(p.Blocks, b)
	}
	if len(p.Blocks) == 0 || r.chance(60) {
		every := r.in(1, 3)
		p.Wear = &rules.Wear{First: 30 * time.Minute * time.Duration(r.in(1, 4)),
			Add: 30 * time.Minute * time.Duration(r.in(0, 4)), Every: every}
		p.Wear.Full = p.Wear.First + 30*time.Minute*time.Duration(r.in(0, 16))
	}
	if r.chance(50) {
		p.Weeks = week + r.in(0, 3)
	}
	return p
}

func randomDose(r dice) rules.Dose {
	d := rules.Dose{Do: "a", Sets: r.in(1, 4), Reps: r.in(1, 12), Sessions: r.in(1, 3)}
	if r.chance(50) {
		d.Do, d.Hold = "b", time.Duration(r.in(0, 45))*time.Second
	}
	switch r.IntN(5) {
	case 0:
		d.On = rules.Schedule{Kind: rules.EveryOtherDay}
	case 1:
		d.On = rules.Schedule{Kind: rules.DaysAWeek, PerWeek: r.in(1, 7)}
	case 2:
		d.On = rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Weekday(r.IntN(7)), time.Weekday(r.IntN(7))}}
	}
	return d
}

func randomEnrollment(r dice) rules.Enrollment {
	start := monday + rules.Date(r.IntN(7))
	e := rules.Enrollment{ID: "e1", Program: "plan", Dispensed: start, Start: start, Consent: !r.chance(3),
		Affected: "both", At: rules.Pos{File: "enrollments.yaml", Line: 3, Column: 3}}
	switch r.IntN(6) {
	case 0:
		e.Start += rules.Date(r.in(1, 10))
	case 1:
		e.Dispensed += rules.Date(r.in(1, 10))
	}
	return e
}

func randomDay(r dice, date rules.Date, pain, silence, trouble int) day {
	d := day{skip: r.chance(trouble), unheard: r.chance(trouble), untaken: r.chance(3 * trouble)}
	for n := r.IntN(3); n >= 0; n-- {
		if r.chance(100 - silence) {
			text := randomText(r, trouble)
			if text.Pain != nil && !r.chance(pain) {
				low := r.in(0, 3)
				text.Pain = &low
			}
			d.texts = append(d.texts, text)
		}
	}
	entry := func(chance int, kind rules.EntryKind, step int) {
		if r.chance(chance) {
			d.entries = append(d.entries, rules.Entry{Kind: kind, On: date, By: "Dr. Example", Step: step,
				At: rules.Pos{File: "enrollments.yaml", Line: 9, Column: 5}})
		}
	}
	entry(trouble/3, rules.EntryHold, 0)
	entry(3*trouble, rules.EntryRelease, 0)
	entry(trouble, rules.EntryCap, r.in(0, 4))
	entry(2*trouble, rules.EntryConfirm, 0)
	if date > monday+30 {
		entry(trouble/6, rules.EntryDischarge, 0)
	}
	return d
}

func randomText(r dice, trouble int) rules.Reading {
	var out rules.Reading
	switch {
	case r.chance(60):
		out.Done = rules.DoneAll
	case r.chance(30):
		out.Done = rules.DoneSome
	case r.chance(20):
		out.Done = rules.DoneNone
	}
	if r.chance(70) {
		score := r.in(0, 10)
		out.Pain = &score
	}
	if r.chance(15) {
		hours := float64(r.in(0, 16)) / 2
		out.Wear = &hours
	}
	out.Skin = r.chance(trouble)
	if r.chance(trouble / 2) {
		n := r.in(-1, 30)
		if r.chance(80) {
			n = r.in(1, 4)
		}
		out.Away = &n
	}
	if r.chance(trouble / 3) {
		out.Flags = []rules.RedFlag{{Name: "calf", Tier: rules.UrgentToday}}
	}
	out.Wrong = r.chance(trouble / 5)
	out.Stop = r.chance(trouble / 4)
	out.Start = r.chance(trouble)
	return out
}
