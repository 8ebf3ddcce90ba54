package templates

import (
	"time"

	"stepgate/rules"
	"stepgate/rules/reply"
)

// handoutKeys are the words of the handout.
func handoutKeys() []string {
	keys := []string{
		"lead", "draft", "draft/says", "approved", "first", "call us", "open", "after hours", "emergency", "nobody",
		"weeks", "weeks/about", "weeks/when", "weeks/what", "weeks/of", "weeks/starts", "weeks/review", "weeks/none", "weeks/stays",
		"days", "list", "exercises", "exercises/sharp", "support", "why", "need", "easier", "care", "ways", "side", "side/of",
		"wear", "wear/about", "wear/days", "wear/look", "wear/out", "wear/out first", "wear/ok", "wear/ok first",
		"answers", "answers/about",
		"answer/done", "answer/some", "answer/none", "answer/pain", "answer/first step", "answer/wear", "answer/skin",
		"answer/skin ok", "answer/how", "answer/away", "answer/call", "answer/stop",
		"pain", "pain/range", "band/go", "band/ask", "band/hold", "band/back", "band/stop", "pain/first step",
		"signs", "signs/emergency", "signs/urgent", "signs/clinic", "signs/pain", "signs/skin", "signs/stop",
	}
	for i, key := range keys {
		keys[i] = "handout/" + key
	}
	return keys
}

// rehearseHandout renders the handout of a program that has everything, for
// nobody and for a patient, and of one that has nothing.
func (s *Set) rehearseHandout(lang string, m mocked, full bool, try func(what, lang string, render func())) {
	h := Handout{Clinic: m.clinic, Language: lang, Program: m.program}
	l := s.in(lang)
	page, err := l.handoutPage()
	hand := func() {
		try("handout", lang, func() {
			if err == nil {
				_, err = l.fillHandout(page, h)
			}
			if err != nil {
				panic(err)
			}
		})
	}
	hand()
	if !full {
		return
	}
	p := *m.program
	p.Approved, p.Weeks, p.Reviews, p.FirstStep = &rules.Approval{By: "x", On: m.decision.Date}, 12, []int{3}, rules.DefaultFirstStep()
	p.Wear = &rules.Wear{First: 1, Add: 1, Every: 1, Full: 3}
	p.Pain = rules.Lines{Steady: 2, Hold: 4, StepBack: 6, Pause: 8, ClearDays: 2}
	dose := func(on rules.Schedule) rules.Dose {
		return rules.Dose{Do: "x", Sets: 2, Reps: 2, Sessions: 1, Side: rules.SideEach, Form: "x", On: on}
	}
	p.Blocks = []rules.Block{{Week: 1, Doses: []rules.Dose{dose(rules.Schedule{})}}, {Week: 2}, {Week: 3, Doses: []rules.Dose{
		dose(rules.Schedule{Kind: rules.EveryOtherDay}), dose(rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 3}),
		dose(rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Saturday, time.Sunday}})}}}
	p.After = &rules.Maintenance{Doses: p.Blocks[0].Doses, PerWeek: 2, Months: 6}
	h.Program, h.Vocabulary = &p, &reply.Vocabulary{RedFlags: []reply.Danger{{Name: "x", Tier: rules.UrgentEmergency}}}
	hand()
	h.Name = "x"
	h.Enrollment = &rules.Enrollment{Affected: "left", Start: m.decision.Date, FromDay: 15,
		Cautions: rules.Cautions{ReducedSensation: true, Balance: true},
		Entries:  []rules.Entry{{Kind: rules.EntryCap, Step: 2}}}
	for _, h.Enrollment.Affected = range []string{"left", "right", "both"} {
		hand()
	}
	p.Blocks, p.After = nil, nil
	hand()
}
