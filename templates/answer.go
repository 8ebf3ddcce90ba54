package templates

import (
	"slices"
	"strings"

	"stepgate/rules"
)

// AnswerData is what an answer to a patient's text speaks of. A part that
// needs a fact which is not given is said without it.
type AnswerData struct {
	Parts     []rules.Part
	Score     *int           // the pain score heard, echoed
	FirstStep *int           // the first-step score heard
	Wear      *float64       // hours worn, as reported
	Lines     rules.Lines    // the patient's own lines; zero: the program's
	Away      rules.Date     // last date away
	Due       []rules.Due    // the day's exercises, in the order of the daily text
	How       int            // how-to asked of: 0 all, n the nth of Due
	Ask       rules.Question // the number the answer asks for
	Support   bool           // the patient is to hold a firm support
	// WearStopped: reduced sensation, so that after a skin complaint the devices
	// stay out until the clinician releases wear.
	WearStopped bool
	Left        int // a low score in a hold: clear dates still wanted; 0: none
}

// answer is what the answer templates see.
type answer struct {
	answerFacts
	How []item
}

// answerFacts are all of an answer but its list.
type answerFacts struct {
	Clinic            Clinic
	Score, FirstStep  *int
	Wear              *float64
	Steady, ClearDays int
	Left              int
	Away              rules.Date
	Ask               rules.Question
	Serious           bool
	Safety            bool // a safety text leads the answer
	Numbers           bool // the last line says whom to call
	Support           bool
	WearStopped       bool
}

// urgency is what a part calls for besides its own words.
type urgency struct {
	stops   bool // the exercises stop until the clinic says so
	contact int  // shortContact or fullContact
}

const (
	shortContact = 1 + iota
	fullContact
)

var urgencies = map[rules.Part]urgency{
	rules.SayEmergency:   {stops: true, contact: fullContact},
	rules.SayUrgent:      {stops: true, contact: fullContact},
	rules.SayClinic:      {stops: true, contact: fullContact},
	rules.SayPause:       {stops: true, contact: fullContact},
	rules.SayStillPaused: {contact: fullContact},
	rules.SayStepBack:    {contact: shortContact},
	rules.SayHold:        {contact: shortContact},
	rules.SaySkin:        {contact: shortContact},
	rules.SayCall:        {contact: fullContact},
	rules.SayHelp:        {contact: fullContact},
}

// Answer renders the answer to a patient's text: its parts, most urgent
// first, then whom to call, then the number it asks for.
//
// Of several safety texts only the most urgent is said, and the numbers to
// call are said once. Nothing about a plan is said to a wrong person, nor
// after an end or a stop.
func (s *Set) Answer(c Clinic, p Patient, prog *rules.Program, d AnswerData) Message {
	l := s.in(p.Language)
	v := answer{answerFacts: answerFacts{Clinic: c, Score: d.Score, FirstStep: d.FirstStep, Wear: d.Wear, Away: d.Away, Ask: d.Ask,
		Support: d.Support, WearStopped: d.WearStopped}}
	lines := d.Lines
	if lines == (rules.Lines{}) && prog != nil {
		lines = prog.Pain
	}
	v.Steady, v.ClearDays, v.Left = lines.Steady, lines.ClearDays, d.Left
	said := inOrder(d.Parts)
	if slices.Contains(said, rules.SayHow) && prog != nil {
		v.How, _ = l.items(p, prog, d.Due, true)
	}
	_, v.Serious = needs(said)
	v.Safety = v.Serious && said[0] != rules.SayPause
	m := Message{Text: l.answerText(said, v, d.How, handOf(c, p))}
	if !p.TextOnly {
		m.Subject = l.line("subject/answer", v)
		m.HTML = l.answerMail(m.Subject, l.answerLines(said, v, d.How, 0))
	}
	return m
}

// answerKey is all that the text of an answer depends on which lists nothing.
type answerKey struct {
	facts answerFacts
	said  [4]rules.Part
	hand  hand
}

func (l *language) answerText(said []rules.Part, v answer, how int, h hand) string {
	v.Clinic, v.How = h.clinic(v.Clinic), h.items(v.How)
	var pain, first bool
	v.Score, pain = known(v.Score)
	v.FirstStep, first = known(v.FirstStep)
	k := answerKey{facts: v.answerFacts, hand: h}
	if l.answers == nil || copy(k.said[:], said) < len(said) || len(v.How) > 0 || v.Wear != nil || !pain || !first {
		out, _ := h.write(strings.Join(l.answerLines(said, v, how, howMax), " "))
		return out
	}
	return l.answers.get(k, func(k answerKey) string {
		said := slices.DeleteFunc(k.said[:], func(p rules.Part) bool { return p == "" })
		out, _ := k.hand.write(strings.Join(l.answerLines(said, answer{answerFacts: k.facts}, 0, howMax), " "))
		return out
	})
}

// howMax is the most septets of how-to in a text; more becomes a list to
// choose from. Four segments.
const howMax = 4 * joined

// answerLines gives the sentences of an answer, a line for each part.
func (l *language) answerLines(said []rules.Part, v answer, how, most int) []string {
	var out []string
	contact, stops := needs(said)
	v.Numbers = contact > 0
	for _, part := range said {
		line := ""
		if part == rules.SayHow {
			line, part = l.how(v, how, most), rules.SayNoHow
		}
		if line == "" {
			line = l.line("part/"+string(part), v)
		}
		if line != "" {
			out = append(out, line)
		}
	}
	if stops && !impersonal(said) {
		out = append(out, l.line("no exercises", v))
	}
	switch contact {
	case fullContact:
		out = append(out, l.line("contact/full", v.Clinic))
	case shortContact:
		out = append(out, l.line("contact/short", v.Clinic))
	}
	if !asks(said) && !impersonal(said) {
		if ask := l.line("then ask", v); ask != "" {
			out = append(out, ask)
		}
	}
	return out
}

// how is the how-to of the exercise asked for, of all, or a list to choose
// from where all would take more than most septets (0: no limit) or the number
// asked for is not on the list. Empty: nothing is due.
func (l *language) how(v answer, n, most int) string {
	if len(v.How) == 0 {
		return ""
	}
	all := v.How
	switch {
	case n >= 1 && n <= len(all):
		v.How = all[n-1 : n]
	case n != 0 && len(all) > 1:
		return l.line("part/how list", v)
	}
	text := l.line("part/"+string(rules.SayHow), v)
	if most > 0 && size(text) > most && len(v.How) > 1 {
		return l.line("part/how list", v)
	}
	return text
}

// inOrder sorts the parts as [rules.Part] declares them, each once, and keeps
// only the most urgent of the safety texts.
func inOrder(given []rules.Part) []rules.Part {
	var out []rules.Part
	safety := false
	for _, part := range parts {
		if !slices.Contains(given, part) {
			continue
		}
		switch part {
		case rules.SayEmergency, rules.SayUrgent, rules.SayClinic:
			if safety {
				continue
			}
			safety = true
		}
		out = append(out, part)
	}
	return out
}

// impersonal tells whether the answer may go to somebody who has no plan, or
// not any more.
func impersonal(said []rules.Part) bool {
	return slices.ContainsFunc(said, func(p rules.Part) bool {
		return p == rules.SayWrong || p == rules.SayStranger || p == rules.SayStopped || p == rules.SayEnded
	})
}

// asks tells whether a part asks for a number itself.
func asks(said []rules.Part) bool {
	return slices.Contains(said, rules.SayAskNumber) || slices.Contains(said, rules.SayWhyNot)
}

// needs gathers what the parts call for besides their own words.
func needs(said []rules.Part) (contact int, stops bool) {
	for _, p := range said {
		u := urgencies[p]
		contact, stops = max(contact, u.contact), stops || u.stops
	}
	return contact, stops
}
