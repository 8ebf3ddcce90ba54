package templates

import (
	"slices"
	"strings"

	"stepgate/rules"
)

// holdRow is a time in which the plan did not go on, in words.
type holdRow struct {
	Number          int
	Kind, From, To  string
	Days            int
	Reported, Quote string
	Line, Ended     string
	Open, Screen    bool // Screen: not printed
}

// quoteShort is how much of a patient's words a table carries, in characters.
const quoteShort = 90

// holdRows are the rows, the newest first; the older ones stay off paper.
func (s *Set) holdRows(w reportWords, p *PatientReport) []holdRow {
	var rows []holdRow
	for i, x := range p.Spans {
		row := holdRow{Number: i + 1, Kind: w.say("hold/" + x.Kind), From: w.words.shortDate(x.From), Days: x.Days,
			To: w.say("holds/open"), Open: x.Open, Line: w.line(x), Reported: s.reported(w, x), Ended: s.ended(w, p, x)}
		if !x.Open {
			row.To = w.words.shortDate(x.To)
		}
		if x.Quote != "" {
			row.Quote = w.say("reported/quote", "text", cut(x.Quote, quoteShort))
		}
		rows = append(rows, row)
	}
	slices.Reverse(rows)
	for i := range rows {
		rows[i].Screen = i >= holdsOnPaper
	}
	return rows
}

// reported says what the patient, or the clinician, said.
func (s *Set) reported(w reportWords, x ReportSpan) string {
	var said []string
	for _, r := range x.Scores {
		switch {
		case x.Line == "first":
			said = append(said, w.say("reported/first", "n", r.Score))
		case r.On != 0:
			said = append(said, w.say("reported/pain on", "n", r.Score, "date", w.words.shortDate(r.On)))
		default:
			said = append(said, w.say("reported/pain", "n", r.Score))
		}
	}
	if x.Word != "" {
		said = append(said, w.say("reported/word", "word", w.words.danger(x.Word)))
	}
	if x.By != "" {
		said = append(said, w.say("reported/by", "by", x.By))
	}
	switch {
	case len(said) > 0:
	case x.Line == "after":
		return w.say("reported/after")
	case x.Kind == "off" || x.Kind == "silent" || x.Kind == "away" || x.Kind == "waiting" || x.Kind == "cap" || x.Kind == "review":
		return capital(s.plainWhy(w, x.Why))
	default:
		return w.say("reported/none")
	}
	return strings.Join(said, ", ")
}

func (w reportWords) line(x ReportSpan) string {
	if x.Line == "" {
		return number(nil)
	}
	return w.say("line/"+x.Line, "n", x.LineAt)
}

// ended says what ended it.
func (s *Set) ended(w reportWords, p *PatientReport, x ReportSpan) string {
	switch x.Ended {
	case "":
		return number(nil)
	case "clear":
		return w.say("ended/clear", "n", p.Lines.Clear, "steady", p.Lines.Steady)
	case "release", "review":
		if x.EndBy == "" {
			return w.say("ended/" + x.Ended + " plain")
		}
		return w.say("ended/"+x.Ended, "by", x.EndBy, "date", w.words.shortDate(x.EndOn))
	case "other":
		why := x.Next
		why.At = rules.Pos{}
		return w.say("ended/other", "why", s.Why(w.code, why))
	}
	return w.say("ended/" + x.Ended)
}

// alertRow is an alert in words.
type alertRow struct {
	When, What, Done string
	Open, Screen     bool
}

func (s *Set) alertRows(w reportWords, p *PatientReport) []alertRow {
	var rows []alertRow
	for _, a := range p.Alerts {
		v := s.alertOf(Clinic{Name: p.Clinic.Name}, AlertData{Language: w.code, ID: p.ID, Name: p.Name, Notice: a.Notice})
		row := alertRow{When: w.words.shortDate(rules.DateOf(a.At)) + " " + a.At.Format("15:04"), What: capital(v.Short)}
		switch {
		case a.Acked.IsZero() && !a.Needs:
			row.Done = w.say("alerts/information")
		case a.Acked.IsZero():
			row.Done, row.Open = w.say("alerts/open"), true
		case a.By == "":
			row.Done = w.say("alerts/by nobody", "how", w.how(a.How), "date", w.words.shortDate(rules.DateOf(a.Acked)))
		default:
			row.Done = w.say("alerts/by", "how", w.how(a.How), "by", a.By, "date", w.words.shortDate(rules.DateOf(a.Acked)))
		}
		rows = append(rows, row)
	}
	slices.Reverse(rows)
	for i := range rows {
		rows[i].Screen = i >= alertsOnPaper
	}
	return rows
}

// how says what was done about an alert; what this version has no words for is
// given as it stands.
func (w reportWords) how(done string) string {
	if p, ok := w.phrases["how/"+done]; ok {
		return p.One
	}
	return done
}

// sayingRow is a message in words.
type sayingRow struct {
	When, Who, Text, Fate string
	In                    bool
}

func (w reportWords) sayings(p *PatientReport) []sayingRow {
	var rows []sayingRow
	for _, t := range p.Talk[max(0, len(p.Talk)-mostSayings):] {
		row := sayingRow{When: w.words.shortDate(rules.DateOf(t.At)) + " " + t.At.Format("15:04"), Who: w.say("talk/" + t.Kind), Text: t.Text, In: t.Kind == "in" || t.Kind == "phone"}
		if t.Fate != "" {
			row.Fate = w.say("fate/" + t.Fate)
		}
		rows = append(rows, row)
	}
	return rows
}
