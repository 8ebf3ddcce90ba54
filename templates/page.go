package templates

import (
	"slices"
	"strings"
)

// LinkPage is the small page behind a link of a patient's mail.
type LinkPage struct {
	Language string
	Clinic   string   // its name; empty: left out
	What     string   // what the link says: "done", "some", "none", "pain", "first step" or "stop"
	Score    *int     // of "pain" and "first step"
	Action   string   // where the form goes
	State    string   // "ask", "thanks", "expired", "used" or "bad"; another one is "bad"
	Answer   []string // what the clinic answers, for "thanks"
	Phone    string
	// Emergency is the emergency line; empty: left out, like Phone.
	Emergency string
}

// linkPage is what the template of it sees.
type linkPage struct {
	LinkPage
	Lang, Title string
}

// asked are the answers a link can stand for.
var asked = []string{"done", "some", "none", "pain", "first step", "stop"}

// LinkPage renders the page. Only one that asks has a form, and a form says
// what it sends: a link that nobody can make sense of is refused.
func (s *Set) LinkPage(p LinkPage) []byte {
	l := s.in(p.Language)
	numbered := p.What == "pain" || p.What == "first step"
	sound := slices.Contains(asked, p.What) && (!numbered || p.Score != nil && *p.Score >= 0 && *p.Score <= 10)
	switch p.State {
	case "ask":
		if !sound {
			p.State = "bad"
		}
	case "thanks":
		if slices.ContainsFunc(p.Answer, func(line string) bool { return strings.Contains(line, p.Phone) }) {
			p.Phone, p.Emergency = "", "" // the answer says whom to call, and better
		}
	case "expired", "used":
	default:
		p.State = "bad"
	}
	v := linkPage{LinkPage: p, Lang: l.code}
	v.Title = l.line("subject/link", v)
	return []byte(l.html("page/link", v))
}

// AlertPage is the page on which a clinician answers alerts.
type AlertPage struct {
	Language string // of the clinician; empty: that of the first item, or English
	Clinic   Clinic
	Items    []AlertPageItem
	Action   string       // where the forms go
	State    string       // "ask", "done", "expired" or "bad"; another one is "bad"
	Lines    []AnswerLine // what was done, for "done"
}

// AlertPageItem is one alert of a page. A form sends number, one of
// its commands as do, and with "hold" a date or nothing as until.
type AlertPageItem struct {
	Number int
	AlertData
	Done bool // answered already: no form
}

// alertPage is what the template of it sees.
type alertPage struct {
	Lang, Title, Clinic string
	Items               []alertForm
	State               string
	Lines               []string
}

// alertForm is one alert of it.
type alertForm struct {
	alert
	Number       int
	Head, Action string
	Commands     []command
	Done         bool
	From         string // the first date a hold may end on
}

// AlertPage renders the page: a form for each alert that is not answered yet.
// Nothing is chosen beforehand where there is a choice. A page that is expired
// or bad tells nothing of any patient.
func (s *Set) AlertPage(p AlertPage) []byte {
	if p.Language == "" && len(p.Items) > 0 {
		p.Language = p.Items[0].Language
	}
	l := s.in(p.Language)
	v := alertPage{Lang: l.code, Clinic: p.Clinic.Name, State: p.State}
	switch p.State {
	case "ask", "done":
		v.Lines = l.answeredLines(p.Lines)
		for _, it := range p.Items {
			it.Language = p.Language
			x := alertForm{alert: s.alertOf(p.Clinic, it.AlertData), Number: it.Number, Action: p.Action, Done: it.Done}
			x.Commands = l.commandsOf(it.AlertData)
			x.Head = l.line("alerts/head", inboxItem{alert: x.alert, Number: it.Number})
			if len(x.Commands) > 1 {
				x.Entries = nil // the form writes them
			}
			if from := max(it.Today, it.On); from != 0 {
				x.From = from.String()
			}
			v.Items = append(v.Items, x)
		}
	case "expired":
	default:
		v.State = "bad"
	}
	v.Title = l.line("subject/alert page", v)
	return []byte(l.html("page/alert", v))
}
