package templates

import (
	"strings"

	"stepgate/rules"
)

// visit is what the templates of a visit see.
type visit struct {
	Clinic Clinic
	Greet  string
	Date   rules.Date // of the text
	Visit  rules.Date
}

// Visit renders the reminder of a review visit, to be sent the day before it:
// on is the date of the visit itself. It asks for nothing, so a number that
// comes back answers the question asked before.
func (s *Set) Visit(c Clinic, p Patient, on rules.Date) Message {
	l := s.in(p.Language)
	who := dayFacts{Name: p.Name, hand: handOf(c, p)}
	if p.Proxy != "" {
		who.Name, who.For = p.Proxy, p.Name
	}
	v := visit{Clinic: who.hand.clinic(c), Date: on - 1, Visit: on}
	v.Greet, _, _ = l.greetings(who)
	out, _ := who.hand.write(l.lines("visit", v))
	m := Message{Text: out}
	if !p.TextOnly {
		v.Clinic, v.Greet = c, l.greetPage(who)
		m.Subject = l.line("subject/visit", v)
		m.HTML = l.answerMail(m.Subject, strings.Split(l.lines("visit", v), "\n"))
	}
	return m
}
