package templates

import (
	"fmt"
	"slices"
	"strings"

	"stepgate/rules"
)

// AlertMail is what a mail of alerts says besides the alerts.
type AlertMail struct {
	Alerts []AlertData // the most urgent first; numbered from 1 where there are several
	Again  bool        // they went out before, and nobody answered
	Token  string      // stands in the subject, and is how an answer is known; empty: answers can't be read
	Link   string      // page to answer on; empty: none
}

// inbox is what the templates of a mail of alerts see.
type inbox struct {
	Lang, Title, Clinic string
	Items               []inboxItem
	Patients, Others    int // different patients, and alerts about none
	Again, Several      bool
	Token, Link         string
	Commands            []command // of all alerts, each once
	Examples            []string
}

// inboxItem is one of several alerts, or the only one.
type inboxItem struct {
	alert
	Number   int // 0: the only one
	Commands []command
}

// command is a word an alert can be answered with. Word is what the reader of
// answers knows, in every language the same.
type command struct{ Name, Word, Says string }

// commands are those that are known, in the order in which they are offered.
var commands = []string{"seen", "release", "release wear", "hold", "discharge", "confirm"}

// holdFor is for how many days the hold lasts that a mail gives as an example.
const holdFor = 14

// Alerts renders a mail of one alert or of several. For an SMS, where the
// alerts are brief, it is one line.
func (s *Set) Alerts(c Clinic, m AlertMail) Message {
	if len(m.Alerts) == 0 {
		return Message{}
	}
	l := s.in(m.Alerts[0].Language)
	if m.Alerts[0].Brief {
		return Message{Text: l.briefs(m)}
	}
	v := s.inboxOf(c, m)
	sections := []string{l.lines("alerts/lead", v)}
	for _, x := range v.Items {
		text := l.lines("alert", x.alert)
		if v.Several {
			text = l.line("alerts/head", x) + "\n" + text
			if m.Token != "" {
				text += "\n" + l.line("alerts/answers", x)
			}
		}
		sections = append(sections, text)
	}
	sections = append(sections, l.lines("alerts/how", v))
	sections = slices.DeleteFunc(sections, func(s string) bool { return s == "" })
	out := Message{Subject: v.Title, Text: wrap(strings.Join(sections, "\n\n")), HTML: l.html("mail/alerts", v)}
	if m.Token != "" {
		out.Subject += " [" + m.Token + "]"
	}
	return out
}

func (s *Set) inboxOf(c Clinic, m AlertMail) inbox {
	l := s.in(m.Alerts[0].Language)
	v := inbox{Lang: l.code, Clinic: c.Name, Again: m.Again, Token: m.Token, Link: m.Link, Several: len(m.Alerts) > 1}
	ids := map[string]bool{}
	for i, a := range m.Alerts {
		a.Language = m.Alerts[0].Language
		x := inboxItem{alert: s.alertOf(c, a), Commands: l.commandsOf(a)}
		if v.Several {
			x.Number = i + 1
		}
		v.Items = append(v.Items, x)
		if a.ID == "" {
			v.Others++
		}
		ids[a.ID] = true
		for _, cmd := range x.Commands {
			if !slices.ContainsFunc(v.Commands, func(o command) bool { return o.Name == cmd.Name }) {
				v.Commands = append(v.Commands, cmd)
			}
		}
	}
	delete(ids, "")
	v.Patients = len(ids)
	slices.SortStableFunc(v.Commands, func(a, b command) int {
		return slices.Index(commands, a.Name) - slices.Index(commands, b.Name)
	})
	for _, x := range v.Items[:min(2, len(v.Items))] {
		i := min(x.Number-1, len(x.Commands)-1) // the second example shows another word, if it has one
		v.Examples = append(v.Examples, fmt.Sprintf("%d %s", x.Number, x.Commands[max(0, i)].Word))
	}
	v.Title = l.line("subject/alerts", v)
	return v
}

// commandsOf are the words an alert can be answered with.
func (l *language) commandsOf(a AlertData) []command {
	given := a.Commands
	if len(given) == 0 {
		given = commands[:1]
	}
	from := max(a.Today, a.On)
	var out []command
	for _, name := range given {
		if !slices.Contains(commands, name) {
			continue // a word no mail explains is not offered
		}
		cmd := command{Name: name, Word: name, Says: l.line("command/"+name, nil)}
		if name == "hold" && from != 0 {
			cmd.Word = "hold until " + (from + holdFor).String()
		}
		out = append(out, cmd)
	}
	return out
}

// briefs is the one line of an SMS: who and what kind, as many as fit into
// one segment, and how many more.
func (l *language) briefs(m AlertMail) string {
	v := struct {
		On    rules.Date
		Again bool
		List  string
		More  int
	}{Again: m.Again}
	for _, a := range m.Alerts {
		v.On = max(v.On, a.On)
	}
	line := ""
	for i, a := range m.Alerts {
		if i > 0 {
			v.List += "; "
		}
		v.List += strings.TrimSpace(a.ID + " " + string(a.Notice.Kind))
		v.More = len(m.Alerts) - 1 - i
		next := l.line("alerts/brief", v)
		next, _ = fold(next)
		if i > 0 && segments(size(next)) > 1 {
			break
		}
		line = next
	}
	return line
}
