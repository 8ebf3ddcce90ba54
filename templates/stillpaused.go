package templates

import (
	"strings"

	"stepgate/rules"
)

// paused is what the templates of the reminder of a pause see.
type paused struct {
	Clinic Clinic
	Greet  string
	Date   rules.Date // of the text
}

// StillPaused renders the one reminder to a patient who was paused and whom
// nobody has released yet: no exercises, and whom to call. It asks for nothing
// and tells no reason.
func (s *Set) StillPaused(c Clinic, p Patient, date rules.Date) Message {
	l := s.in(p.Language)
	named := dayFacts{Name: p.Name, hand: handOf(c, p)}
	if p.Proxy != "" {
		named.Name, named.For = p.Proxy, p.Name
	}
	v := paused{Clinic: named.hand.clinic(c), Date: date}
	long, short, _ := l.greetings(named)
	v.Greet = short
	out, _ := named.hand.write(l.lines("paused", v))
	v.Greet = long
	if full, _ := named.hand.write(l.lines("paused", v)); named.hand.segments(full) <= named.hand.segments(out) {
		out = full
	}
	m := Message{Text: out}
	if !p.TextOnly {
		v.Clinic, v.Greet = c, l.greetPage(named)
		m.Subject = l.line("subject/paused", v)
		m.HTML = l.answerMail(m.Subject, strings.Split(l.lines("paused", v), "\n"))
	}
	return m
}
