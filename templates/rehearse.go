package templates

import (
	"fmt"
	"time"

	"stepgate/rules"
)

// rehearse renders every message once with nothing filled in and once with
// everything, so that a template that can't be rendered is found at the start
// and not when somebody waits for it. It returns what went wrong.
func (s *Set) rehearse() []error {
	var problems []error
	try := func(what, lang string, render func()) {
		defer func() {
			if r := recover(); r != nil {
				problems = append(problems, fmt.Errorf("language %s: %s: %v", lang, what, r))
			}
		}()
		render()
	}
	for _, lang := range s.Languages() {
		for _, full := range []bool{false, true} {
			m := mock(lang, full)
			for _, ask := range []rules.Question{rules.AskNothing, rules.AskPain, rules.AskPainNow, rules.AskFirstStep} {
				for _, first := range []bool{false, true} {
					m.decision.Ask, m.decision.First, m.answer.Ask = ask, first, ask
					try("daily", lang, func() { s.Daily(m.clinic, m.patient, m.program, m.decision) })
				}
				for _, d := range m.others() {
					try("daily", lang, func() { s.Daily(m.clinic, m.patient, m.program, d) })
				}
				try("visit", lang, func() { s.Visit(m.clinic, m.patient, m.decision.Date) })
				try("pause", lang, func() { s.StillPaused(m.clinic, m.patient, m.decision.Date) })
				s.rehearseInbox(lang, m, full, try)
				s.rehearseHandout(lang, m, full, try)
				short := s.in(lang).day(m.clinic, m.patient, m.program, m.decision)
				short.Short = true
				for _, key := range []string{"daily", "first"} {
					try("short "+key, lang, func() { s.in(lang).lines(key, short) })
				}
				for _, part := range parts {
					m.answer.Parts = []rules.Part{part}
					try(string(part), lang, func() { s.Answer(m.clinic, m.patient, m.program, m.answer) })
				}
			}
			for _, code := range codes {
				m.reason.Code = code
				try(string(code), lang, func() { s.Why(lang, m.reason) })
				m.decision.Why, m.decision.WearWhy = m.reason, m.reason
				try("explain "+string(code), lang, func() { s.Explain(lang, m.program, m.decision, m.reports) })
				m.decision.Why.Code = rules.Tick
				try("explain wear "+string(code), lang, func() { s.Explain(lang, m.program, m.decision, m.reports) })
			}
			for _, kind := range notices {
				m.alert.Notice.Kind = kind
				try(string(kind), lang, func() { s.Alert(m.clinic, m.alert) })
			}
			for _, state := range states {
				m.decision.State = state
				try(string(state), lang, func() { s.State(m.decision) })
			}
		}
	}
	return problems
}

// rehearseInbox renders what goes to the clinician's inbox, and the pages
// behind links.
func (s *Set) rehearseInbox(lang string, m mocked, full bool, try func(what, lang string, render func())) {
	mail := AlertMail{Alerts: []AlertData{m.alert}, Again: full}
	answer, row := AlertAnswer{Language: lang}, DigestRow{}
	if full {
		mail.Token, mail.Link, mail.Alerts = "x", "x", []AlertData{m.alert, m.alert, m.alert, m.alert}
		row = DigestRow{ID: "x", Name: "x", Step: "x", State: rules.InHeld, Why: m.reason, Since: m.decision.Date, Due: 1, Wear: "x",
			Days: []DigestDay{{Date: m.decision.Date}, {Date: m.decision.Date, Score: m.reason.Score, Done: "all"}}}
		for _, did := range append([]string{"hold until"}, commands...) {
			answer.Lines = append(answer.Lines, AnswerLine{ID: "x", Did: did, Until: m.decision.Date, File: "x", Line: 1})
		}
	}
	rows := []DigestRow{row}
	try("alerts", lang, func() { s.Alerts(m.clinic, mail) })
	try("alerts answered", lang, func() { s.AlertAnswered(m.clinic, answer) })
	try("digest", lang, func() { s.Digest(m.clinic, Digest{Language: lang}) })
	try("digest", lang, func() {
		s.Digest(m.clinic, Digest{lang, m.decision.Date, m.decision.Date, rows, rows, rows, rows, rows})
	})
	for _, state := range []string{"ask", "done", "thanks", "expired", "used", "bad"} {
		for _, what := range asked {
			page := LinkPage{Language: lang, What: what, Score: m.reason.Score, State: state, Answer: []string{"x"}}
			try("link page", lang, func() { s.LinkPage(page) })
		}
		items := []AlertPageItem{{1, mail.Alerts[0], false}, {2, mail.Alerts[0], true}}
		try("alert page", lang, func() { s.AlertPage(AlertPage{lang, m.clinic, items, "x", state, answer.Lines}) })
	}
}

// mocked is one of everything that is rendered.
type mocked struct {
	clinic   Clinic
	patient  Patient
	program  *rules.Program
	decision rules.Decision
	answer   AnswerData
	reason   rules.Reason
	alert    AlertData
	reports  []Report
}

// others are the days unlike the usual ones.
func (m mocked) others() []rules.Decision {
	list := make([]rules.Decision, 8)
	for i := range list {
		list[i] = m.decision
	}
	list[0].Weekly, list[1].Closing, list[2].Rest = true, true, true
	list[3].WearOut, list[3].Skin, list[3].WearWhy.Code = true, true, rules.SkinStop
	list[4].Skin, list[4].Support, list[4].WearWhy.Code = true, true, rules.DeviceNew
	list[5].State, list[6].Eased = rules.InMaintenance, true
	list[7].Why.Code, list[7].WearWhy.Code = rules.Break, rules.Break
	return list
}

// mock is one of everything, filled in or as empty as it can be.
func mock(lang string, full bool) mocked {
	m := mocked{patient: Patient{Language: lang}, program: new(rules.Program), alert: AlertData{Language: lang}}
	if !full {
		return m
	}
	score, hours := 5, 2.5
	due := rules.Due{Exercise: "x", Side: rules.SideEach, Sets: 2, Reps: 2, Hold: time.Minute, Sessions: 2,
		Form: "x", Only: "left", Rest: time.Minute, RM: 2, Load: rules.Text{lang: "x"}, Tempo: rules.Tempo{Up: 1, Hold: 2, Down: 3}}
	other := due
	other.Reps, other.Tempo, other.Only = 3, rules.Tempo{Down: 3}, "right"
	date := rules.NewDate(2026, time.October, 5)
	words := rules.Text{lang: "x"}
	m.clinic = Clinic{Name: "x", Phone: "x", Hours: "x", AfterHours: "x", Emergency: "x"}
	m.patient.Name, m.patient.Proxy, m.patient.Affected = "x", "x", "left"
	m.patient.Links = &DayLinks{Done: "x", Some: "x", None: "x", Pain: [11]string{"x"}, Stop: "x"}
	m.program.Exercises = map[string]*rules.Exercise{"x": {Name: words, How: words, Easier: words, Care: words,
		Why: words, Forms: map[string]rules.Text{"x": words}, Needs: []string{"x"}}}
	m.program.Pain, m.program.Blocks = rules.DefaultLines(), []rules.Block{{Week: 1}}
	m.reason = rules.Reason{Rule: "pain.hold", At: rules.Pos{File: "x", Line: 1}, Score: &score, Line: 4,
		Since: date, Have: 1, Need: 2, Short: "done", By: "x"}
	m.decision = rules.Decision{Date: date, P: 1, W: 1, Step: 1, Steps: 2, Why: m.reason,
		Wear: time.Hour, WearNow: true, Doses: []rules.Due{due, other}}
	m.answer = AnswerData{Score: &score, FirstStep: &score, Wear: &hours, Away: date, Due: m.decision.Doses,
		Support: true, WearStopped: true}
	m.alert = AlertData{Language: lang, ID: "x", Name: "x", On: date, Quote: "x", Why: m.reason, State: "x",
		Detail: "x", Paused: true, NoAnswer: true, WearStopped: true, File: "x", Today: date, Commands: commands,
		Notice: rules.Notice{Score: &score, Since: date, Flags: []rules.RedFlag{{Name: "x"}}}}
	m.reports = []Report{{Text: "x", Read: everything(&score, &hours)}}
	return m
}

// everything is a reading that says all there is to say.
func everything(n *int, hours *float64) rules.Reading {
	flags := []rules.RedFlag{{Name: "x"}}
	return rules.Reading{Done: rules.DoneAll, Pain: n, FirstStep: n, Side: "left", Skin: true, SkinOK: true, Wear: hours,
		How: n, Away: n, Call: true, Stop: true, Start: true, Help: true, Wrong: true, Flags: flags, Denied: flags,
		AskStop: true, Unread: true}
}
