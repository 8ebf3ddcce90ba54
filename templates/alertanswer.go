package templates

import (
	"strings"

	"stepgate/rules"
)

// AlertAnswer is what came of a clinician's answer to a mail of alerts.
type AlertAnswer struct {
	Language string // of the clinician; empty: English
	Lines    []AnswerLine
	Problem  string // nothing was done, and why
}

// AnswerLine is what came of the answer to one alert.
type AnswerLine struct {
	ID, Name string
	Did      string     // "seen", "release", "release wear", "hold", "hold until", "discharge", "confirm"
	Until    rules.Date // the date the hold ends
	File     string     // where the entry was written; empty: nowhere
	Line     int
	Problem  string // nothing was done for this one, and why
}

// answered is what the templates of such an answer see.
type answered struct {
	Lines         []string
	Done, Refused int
	Problem       string
	Written       bool // a file was changed
}

// answeredLine is one of its lines.
type answeredLine struct {
	AnswerLine
	Who, Text, Where string
}

// AlertAnswered renders the short mail that tells a clinician what came of an
// answer.
func (s *Set) AlertAnswered(_ Clinic, a AlertAnswer) Message {
	l := s.in(a.Language)
	v := answered{Lines: l.answeredLines(a.Lines), Problem: a.Problem}
	for _, x := range a.Lines {
		if x.Problem != "" {
			v.Refused++
		} else {
			v.Done++
		}
		v.Written = v.Written || x.Problem == "" && x.File != ""
	}
	subject := l.line("subject/answered", v)
	lines := strings.Split(l.lines("answered", v), "\n")
	return Message{Subject: subject, Text: wrap(strings.Join(lines, "\n\n")), HTML: l.answerMail(subject, lines)}
}

// answeredLines says what was done, a line for each alert.
func (l *language) answeredLines(list []AnswerLine) []string {
	var out []string
	for _, x := range list {
		v := answeredLine{AnswerLine: x, Who: who(x.ID, x.Name), Text: x.Did}
		if key := "answered/" + x.Did; l.text.Lookup(key) != nil {
			v.Text = l.line(key, v)
		}
		if x.File != "" {
			v.Where = rules.Pos{File: x.File, Line: x.Line}.String()
		}
		out = append(out, l.line("answered/line", v))
	}
	return out
}
