package rules_test

import (
	"fmt"
	"math/rand/v2"

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

// playFrom plays the i-th date and the later ones, after dates that were.
func (l life) playFrom(i int, were []outcome) []outcome {
	if i == 0 {
		return l.play()
	}
	p, e := l.at(i - 1)
	return append(were[:i:i], playOn(p, *e, were[i-1], l.days[i:])...)
}

// at returns the program and the enrollment in force on the i-th date.
func (l life) at(i int) (*rules.Program, *rules.Enrollment) {
	p, e := l.program, l.enroll
	for _, d := range l.days[:i+1] {
		if d.program != nil {
			p = d.program
		}
		if d.enroll != nil {
			e = *d.enroll
		}
	}
	for _, d := range l.days[:i+1] {
		e.Entries = append(e.Entries, d.entries...)
	}
	return p, &e
}

// String is what a failing check prints.
func (l life) String() string {
	s := fmt.Sprintf("program %s\n%s, before %v\n", show(l.program), showEnrollment(l.enroll), showTexts(l.before))
	for i, d := range l.days {
		s += fmt.Sprintf("%3d", i)
		if d.program != nil {
			s += " EDIT " + show(d.program)
		}
		if d.enroll != nil {
			s += " ENROLLMENT " + showEnrollment(*d.enroll)
		}
		for _, n := range d.entries {
			s += " " + n.ID()
			if n.Kind == rules.EntryReport {
				s += showTexts([]rules.Reading{d.phoned[n.Said]})
			}
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

func showEnrollment(e rules.Enrollment) string {
	s := fmt.Sprintf("start %v dispensed %v consent %v from %d cautions %+v usual words %v", e.Start, e.Dispensed, e.Consent,
		e.FromDay, e.Cautions, e.UsualWords)
	if e.UsualStep != nil {
		s += fmt.Sprint(" usual step ", *e.UsualStep)
	}
	if e.Lines != nil {
		s += fmt.Sprintf(" lines %+v", *e.Lines)
	}
	for _, t := range e.Tailoring {
		s += fmt.Sprintf(" tailor %s out %v sets %d", t.Exercise, t.LeaveOut, t.Sets)
	}
	for _, d := range e.Devices {
		s += fmt.Sprintf(" %s %v", d.Kind, d.On)
	}
	return s
}

func show(p *rules.Program) string {
	s := fmt.Sprintf("%s weeks %d pain %+v advance %+v wear %+v first step %+v reviews %v after %+v blocks", p.ID, p.Weeks,
		p.Pain, p.Advance, p.Wear, p.FirstStep, p.Reviews, p.After)
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
		if r.FirstStep != nil {
			s += fmt.Sprint(" F", *r.FirstStep)
		}
		for word, on := range map[string]bool{" B": r.Skin, " OK": r.SkinOK, " STOP": r.Stop, " START": r.Start,
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
	easy := r.chance(40)
	l := life{program: randomProgram(r, "plan", easy), enroll: randomEnrollment(r)}
	if r.chance(15) {
		l.before = []rules.Reading{randomText(r, trouble)}
	}
	l.days = make([]day, length)
	pain, silence := r.in(0, 40), r.in(0, 40)
	if easy {
		pain, silence = r.in(0, 8), r.in(0, 25)
	}
	for i := range l.days {
		l.days[i] = randomDay(r, l.enroll.First()+rules.Date(i), pain, silence, trouble)
	}
	for range r.in(0, 2) {
		l.gap(r, trouble)
	}
	if edits > 0 && r.chance(40) {
		e := randomEnrollment(r)
		e.Start, e.Dispensed, e.Consent = l.enroll.Start, l.enroll.Dispensed, l.enroll.Consent
		l.days[r.IntN(length)].enroll = &e
	}
	for range edits {
		i, id := r.IntN(length), "plan"
		if r.chance(10) {
			id = "other"
		}
		l.days[i].program = randomProgram(r, id, easy)
	}
	return l
}

// corrected draws a random life in which reports are also struck or replaced
// and pauses released as before. They give more again by intent, since a false
// alarm takes the raised score away, so the properties that compare two
// histories leave them out.
func corrected(t *rapid.T) life {
	l := lives(t)
	r := dice{rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "corrections"), 3))}
	for range r.in(0, 8) {
		i := r.IntN(len(l.days))
		n := rules.Entry{Kind: rules.EntryRelease, On: l.enroll.First() + rules.Date(i), By: "Dr. Example", AsBefore: true,
			At: rules.Pos{File: "enrollments.yaml", Line: 9, Column: 5}}
		switch r.IntN(4) {
		case 0:
			n.Kind, n.AsBefore, n.Report = rules.EntryStrike, false, n.On-rules.Date(r.in(1, 3))
		case 1:
			score := r.in(0, 10)
			n.Kind, n.AsBefore, n.Report, n.Score = rules.EntryReplace, false, n.On-rules.Date(r.in(1, 3)), &score
		}
		l.days[i].entries = append(l.days[i].entries, n)
	}
	return l
}

// gap puts a long silence or a time away into a life.
func (l life) gap(r dice, trouble int) {
	from, n := r.IntN(len(l.days)), r.in(4, 45)
	if trouble > 0 && r.chance(30) {
		days := r.in(10, rules.MaxAway)
		l.days[from].texts = append(l.days[from].texts, rules.Reading{Away: &days})
		return
	}
	for i := from; i < min(from+n, len(l.days)); i++ {
		if !r.chance(5) {
			l.days[i].texts = nil
		}
	}
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
	if n := len(d.entries); n > 0 && d.entries[n-1].Kind == rules.EntryRelease {
		if r.chance(30) {
			d.entries[n-1].OfHold = date - rules.Date(r.in(0, 6))
		}
	}
	entry(trouble, rules.EntryCap, r.in(0, 4))
	entry(2*trouble, rules.EntryConfirm, 0)
	entry(2*trouble, rules.EntryWear, 0)
	entry(2*trouble, rules.EntryReview, 0)
	if r.chance(2 * trouble) {
		d.phone(date, randomText(r, trouble))
	}
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
	if r.chance(10) {
		first := r.in(0, 10)
		out.FirstStep = &first
	}
	out.Skin, out.SkinOK = r.chance(trouble), r.chance(20)
	if r.chance(trouble / 2) {
		n := r.in(-1, 30)
		if r.chance(80) {
			n = r.in(1, 4)
		}
		out.Away = &n
	}
	if r.chance(trouble / 3) {
		out.Flags = append(out.Flags, rules.RedFlag{Name: "calf", Tier: rules.UrgentToday})
	}
	if r.chance(trouble / 3) {
		out.Flags = append(out.Flags, rules.RedFlag{Name: "numb", Tier: rules.UrgentClinic})
	}
	out.Wrong = r.chance(trouble / 5)
	out.Stop = r.chance(trouble / 4)
	out.Start = r.chance(trouble)
	return out
}
