package templates

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"stepgate/rules"
)

// facts are the head of the report.
func (w reportWords) facts(p *PatientReport) []headFact {
	facts := []headFact{{w.say("head/program"), p.Program, true}, {w.say("head/dispensed"), w.long(p.Dispensed), false}}
	if p.Start != p.Dispensed {
		facts = append(facts, headFact{w.say("head/start"), w.long(p.Start), false})
	}
	if p.AsOf != 0 {
		facts = append(facts, headFact{w.say("head/day"), strconv.Itoa(p.Day), false})
		facts = append(facts, headFact{w.say("head/as of"), w.long(p.AsOf), false})
		step := w.say("head/no step")
		if p.Step > 0 {
			step = w.say("head/step of", "step", p.Step, "steps", p.Steps)
		}
		if p.Steps > 0 {
			facts = append(facts, headFact{w.say("head/step"), step, false})
		}
		wear := w.say("head/no wear")
		if p.Wears {
			wear = w.say("head/wear out")
			if p.WearMin > 0 {
				wear = brief(time.Duration(p.WearMin) * time.Minute)
			}
		}
		facts = append(facts, headFact{w.say("head/wear"), wear, false})
	}
	if n := len(p.Visits); n > 0 {
		visit := p.Visits[n-1] // the next one, or the last there was
		if i := slices.IndexFunc(p.Visits, func(d rules.Date) bool { return d >= p.AsOf }); i >= 0 {
			visit = p.Visits[i]
		}
		facts = append(facts, headFact{w.say("head/review"), w.long(visit), false})
	}
	return append(facts, headFact{w.say("head/cautions"), w.cautions(p), true})
}

func (w reportWords) cautions(p *PatientReport) string {
	var list []string
	for _, c := range p.Cautions {
		list = append(list, w.say("caution/"+c))
	}
	if len(list) == 0 {
		return w.say("head/none")
	}
	return strings.Join(list, ", ")
}

// summary is the record in two lines: where the patient stands, and how it goes.
func (w reportWords) summary(p *PatientReport) []string {
	if p.AsOf == 0 {
		return []string{w.say("summary/not begun")}
	}
	state := w.shown(rules.Decision{State: p.State, Why: p.Why}, 0)
	where := w.say("summary/where wear", "day", p.Day, "state", state)
	if p.Step > 0 {
		where = w.say("summary/where", "day", p.Day, "step", p.Step, "steps", p.Steps, "state", state)
	}
	first := []string{where, w.heldFor(p)}
	if p.Answered == 0 {
		return []string{strings.Join(first, " "), w.say("summary/quiet")}
	}
	first = append(first, w.say("summary/answered", "n", p.Answered, "of", p.Messages))
	second := []string{w.painLately(p)}
	if due, done := sumDue(p.Weeks); due > 0 {
		second = append(second, w.say("summary/done", "percent", percent(float64(done)/2, float64(due)), "n", due))
	}
	reported, kept := 0, 0
	for _, k := range p.Wear {
		reported, kept = reported+k.Reported, kept+k.Kept
	}
	if reported > 0 {
		second = append(second, w.say("summary/wear", "percent", percent(float64(kept), float64(reported)), "n", reported))
	}
	if f := p.First; f.Base != nil && len(f.Answers) > 0 {
		last := f.Answers[len(f.Answers)-1].Score
		switch {
		case *f.Base == 0:
			second = append(second, w.say("summary/first zero", "to", last))
		case len(f.Answers) > 1 || f.Usual:
			second = append(second, w.say("summary/first", "from", *f.Base, "to", last, "verdict", w.verdict(f, last)))
		}
	}
	return []string{strings.Join(first, " "), strings.Join(second, " ")}
}

func sumDue(weeks []ReportWeek) (due, halves int) {
	for _, k := range weeks {
		due, halves = due+k.Due, halves+k.Halves
	}
	return due, halves
}

func (w reportWords) verdict(f ReportFirst, last int) string {
	switch {
	case f.Goal != nil && last <= *f.Goal:
		return w.say("first/verdict better")
	case last > *f.Base:
		return w.say("first/verdict worse")
	}
	return w.say("first/verdict same")
}

// heldFor counts the times that pain or a clinician stopped the plan.
func (w reportWords) heldFor(p *PatientReport) string {
	times, days := 0, 0
	for _, s := range p.Spans {
		if s.Stops() {
			times, days = times+1, days+s.Days
		}
	}
	if times == 0 {
		return w.say("summary/never held")
	}
	return w.say("summary/held", "n", times, "days", w.words.Day.of(days))
}

// Stops tells a hold or a pause from other times in which the plan waits.
func (s ReportSpan) Stops() bool {
	return slices.Contains([]string{"pain", "back", "pause", "clinic"}, s.Kind)
}

// painLately is the range of the last answers, and the worst of all.
func (w reportWords) painLately(p *PatientReport) string {
	all := allScores(p.Days)
	if len(all) == 0 {
		return w.say("summary/no pain")
	}
	worst, on := -1, rules.Date(0)
	for _, d := range p.Days {
		if d.Score != nil && *d.Score > worst {
			worst, on = *d.Score, d.Date
		}
	}
	last := all[max(0, len(all)-7):]
	low, high := slices.Min(last), slices.Max(last)
	key := "summary/pain"
	if low == high {
		key = "summary/pain same"
	}
	return w.say(key, "low", low, "high", high, "worst", worst, "date", w.words.shortDate(on))
}

// HasBand tells whether a chart shows a time hatched like that.
func (v patientPage) HasBand(class string) bool {
	return slices.ContainsFunc(v.Spans, func(s ReportSpan) bool { return bandOf(s.Kind) == class })
}

// bandOf is how a time is hatched; empty: not at all.
func bandOf(kind string) string {
	switch kind {
	case "pain", "back", "clinic":
		return "held"
	case "pause":
		return "paused"
	case "away", "silent", "off":
		return "away"
	}
	return ""
}

// PainOf is a day's score, or why there is none.
func (v patientPage) PainOf(d ReportDay) string {
	switch {
	case d.Score != nil:
		return number(d.Score)
	case d.Asked && !d.Answered:
		return v.say("table/no answer")
	case !d.Asked:
		return v.say("table/not asked")
	}
	return v.say("table/nothing")
}

// StateOf is the word for a state.
func (v patientPage) StateOf(s rules.InState) string {
	return v.shown(rules.Decision{State: s}, 0)
}

// Done is the days done, half for some of it.
func (k ReportWeek) Done() string { return halves(k.Halves) }

// Percent is the days done of those due, or a dash.
func (k ReportWeek) Percent() string {
	if k.Due == 0 {
		return number(nil)
	}
	return strconv.Itoa(percent(float64(k.Halves)/2, float64(k.Due)))
}

// halves writes a number of halves.
func halves(n int) string {
	if n%2 == 0 {
		return strconv.Itoa(n / 2)
	}
	return strconv.Itoa(n/2) + ".5"
}

// HoursAsked and HoursWorn are those of the days reported.
func (k ReportWearWeek) HoursAsked() string { return hoursOf(k.AskedMin) }
func (k ReportWearWeek) HoursWorn() string  { return hoursOf(k.WornMin) }

func hoursOf(minutes int) string { return unitsOf(float64(minutes) / 60) }
