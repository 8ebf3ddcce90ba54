package rehearsal

import (
	"cmp"
	"time"
	"unicode/utf8"

	"stepgate/rules"
	"stepgate/templates"
)

// longestDate is a date that takes the most room in a text of a language. The
// last days of a month have two digits and hold every weekday.
func longestDate(words *templates.Set, language string) rules.Date {
	best, most := rules.Date(0), 0
	for month := time.January; month <= time.December; month++ {
		for day := 22; day <= 28; day++ {
			d := rules.NewDate(2026, month, day)
			msg := words.Daily(templates.Clinic{}, templates.Patient{Language: language, TextOnly: true}, nil, rules.Decision{Date: d})
			if n := utf8.RuneCountInString(msg.Text); n > most {
				best, most = d, n
			}
		}
	}
	return best
}

// wears are what a day may say of the devices: nothing where there is no
// wear-in, else the longest wear time, the first one with new devices, and out.
func (m *measuring) wears() []rules.Decision {
	w := m.program.Wear
	if w == nil {
		return []rules.Decision{{}}
	}
	in := rules.Decision{WearNow: true, Skin: m.cautions.SkinChecks()}
	most, seen := 0, map[time.Duration]bool{}
	for day := 1; day <= w.FullDay(); day += max(1, w.Every) {
		try := in
		try.Date, try.Wear = m.date, w.OnDay(day)
		if seen[try.Wear] {
			continue
		}
		seen[try.Wear] = true
		if n := render(m.words.Daily(m.clinic, m.patient, m.program, try)).count.Units; n > most {
			most, in.Wear = n, try.Wear
		}
	}
	fresh := in
	fresh.Wear, fresh.WearWhy.Code = w.OnDay(1), rules.DeviceNew
	out := rules.Decision{WearNow: true, WearOut: true}
	out.WearWhy.Code = rules.SkinOut
	if m.cautions.ReducedSensation {
		out.WearWhy.Code = rules.SkinStop
	}
	all := []rules.Decision{in, fresh, out}
	// What is said of devices that are out has no shorter wording: where it is
	// the longest in full, it is so everywhere.
	alone := func(d rules.Decision) int {
		d.Date = m.date
		return render(m.words.Daily(m.clinic, m.patient, nil, d)).count.Units
	}
	if n := alone(out); n >= alone(in) && n >= alone(fresh) {
		return all[2:]
	}
	return all
}

// day renders one date's text.
func (m *measuring) day(l *dueList, p templates.Patient, dec rules.Decision) {
	dec.Date, dec.P, dec.W, dec.Steps, dec.Send = m.date, 1, 1, len(m.program.Blocks), true
	if l != nil {
		dec.Step, dec.Doses, dec.Support = l.step, l.dues, m.cautions.Balance
		dec.Eased = l.eased
	}
	t := render(m.words.Daily(m.clinic, p, m.program, dec))
	t.step, t.dues = dec.Step, dec.Doses
	kind := DailyText
	if dec.First {
		kind = FirstText
	}
	m.take(kind, t)
}

// days renders the longest day of every list, and the days without one.
func (m *measuring) days(steps []dueList) {
	for i := range steps {
		if l := &steps[i]; !l.all {
			m.daysOf(l, m.side(l))
		}
	}
	if len(steps) == 0 { // a day with exercises says more than one without
		m.daysOf(nil, m.patient)
	}
	rest := rules.Decision{Rest: true, Ask: rules.AskPainNow}
	rest.Why.Code = rules.StepBack
	for _, w := range m.wear {
		d := rest
		d.Wear, d.WearNow, d.WearOut, d.WearWhy, d.Skin = w.Wear, w.WearNow, w.WearOut, w.WearWhy, w.Skin
		m.day(nil, m.patient, d)
	}
	weekly, closing := rules.Decision{Weekly: true, Ask: rules.AskPain}, rules.Decision{Closing: true}
	for _, w := range m.wear {
		weekly.WearOut, weekly.WearWhy = w.WearOut, w.WearWhy
		m.day(nil, m.patient, weekly)
	}
	m.day(nil, m.patient, closing)
	visit := render(m.words.Visit(m.clinic, m.patient, m.date))
	m.take(DailyText, visit)
}

// daysOf renders a list with everything that may stand beside it.
func (m *measuring) daysOf(l *dueList, p templates.Patient) {
	for _, w := range m.wear {
		for _, n := range m.notes(l) {
			n.Wear, n.WearNow, n.WearOut, n.Skin = w.Wear, w.WearNow, w.WearOut, w.Skin
			n.WearWhy.Code = w.WearWhy.Code
			if n.Why.Code == rules.PainHeld && m.program.Wear != nil && m.program.Wear.GoesOn {
				n.WearWhy.Code = cmp.Or(n.WearWhy.Code, rules.Break)
			}
			m.day(l, p, n)
		}
	}
	if l != nil && !l.opens {
		return
	}
	for _, ask := range m.asks() {
		n := rules.Decision{First: true, Ask: ask}
		if w := m.program.Wear; w != nil {
			n.Wear, n.WearNow, n.Skin = w.OnDay(1), true, m.cautions.SkinChecks()
		}
		m.day(l, p, n)
	}
}

// asks are the questions of a day without a hold.
func (m *measuring) asks() []rules.Question {
	if m.program.FirstStep.Every > 0 {
		return []rules.Question{rules.AskPain, rules.AskPainNow, rules.AskFirstStep}
	}
	return []rules.Question{rules.AskPain, rules.AskPainNow}
}

// notes are what may be said of a day, with the question that goes with it:
// that a break is over, which says more than nothing, or that a hold stands. A
// hold asks for no pain of first steps, and a dose is eased in a hold only.
func (m *measuring) notes(l *dueList) []rules.Decision {
	var out []rules.Decision
	add := func(code rules.Code, ask rules.Question) {
		d := rules.Decision{Ask: ask}
		d.Why.Code = code
		if l != nil && l.after {
			d.State = rules.InMaintenance
		}
		out = append(out, d)
	}
	code := rules.Break
	if l != nil && l.last {
		code = rules.Tick
	}
	for _, ask := range m.asks() {
		if l == nil || !l.eased || ask != rules.AskFirstStep {
			add(code, ask)
		}
	}
	add(rules.PainHeld, rules.AskPain)
	add(rules.PainHeld, rules.AskPainNow)
	return out
}
