package templates

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"stepgate/rules"
)

// Report is a text of a patient as it counted in a decision.
type Report struct {
	At   time.Time // in the patient's zone
	Text string
	Read rules.Reading
}

// storyQuote is how much of a report a story quotes, in characters.
const storyQuote = 80

// Explain tells a decision as a short story in plain words, of one to five
// sentences: what was reported on which day, which rule it met and where that
// stands, what became of the program day and the wear day, and what ends it.
// The reports are those behind the decision, oldest first. The pain lines of
// prog must be the patient's: for one with lines of their own give a copy that
// has them. Where the decision shows that it was made by other lines, the story
// names no number of them.
func (s *Set) Explain(lang string, prog *rules.Program, d rules.Decision, reports []Report) string {
	if prog == nil {
		prog = new(rules.Program)
	}
	l := s.in(lang)
	why := d.Why
	if why.Code == rules.PainHeld {
		why.Need = 0 // what ends the hold tells the count
	}
	came := ""
	if len(reports) > 0 || why.Code != rules.FirstDay { // there is no decision before the first
		came = l.reported(reports)
	}
	told := []string{
		came,
		l.line("explain/why", worded{Reason: why, Text: s.Why(lang, why)}),
		l.line("explain/days", moves(d)),
		l.ends(prog, d.Why),
	}
	if text := s.ownWear(lang, prog, d); text != "" {
		told = append(told, text)
	}
	return strings.Join(strings.Fields(strings.Join(told, " ")), " ")
}

// worded is a reason with its words.
type worded struct {
	rules.Reason
	Text string
}

// storyDay is a day with its reports, as the templates see it.
type storyDay struct {
	Date    rules.Date
	Reports []storyReport
}

type storyReport struct{ Text, Read string }

// reported is the sentence of the reports. A phone's echo of our own text is
// none.
func (l *language) reported(reports []Report) string {
	var days []storyDay
	for _, r := range reports {
		if r.Read.Echo {
			continue
		}
		on := rules.DateOf(r.At)
		if n := len(days); n == 0 || days[n-1].Date != on {
			days = append(days, storyDay{Date: on})
		}
		last := &days[len(days)-1]
		last.Reports = append(last.Reports, storyReport{cut(r.Text, storyQuote), l.reading(r.Read)})
	}
	if len(days) == 0 {
		return l.line("explain/none", nil)
	}
	return l.line("explain/reports", days)
}

// story is what the template of the two days sees.
type story struct {
	rules.Decision
	Program, Wear string // how the day moved; empty: there is none
	Hours         time.Duration
}

func moves(d rules.Decision) story {
	v := story{Decision: d, Hours: d.Wear}
	if d.P > 0 {
		v.Program = moved(d.Why.Code)
	}
	if d.W > 0 && d.WearWhy.Code != rules.WearNone {
		v.Wear = moved(d.WearWhy.Code)
		if d.WearWhy.Code == rules.Break {
			v.Wear = "again"
		}
	}
	return v
}

// moved names how a day moved for a reason.
func moved(c rules.Code) string {
	switch c {
	case rules.Tick:
		return "on"
	case rules.FirstDay:
		return "first"
	case rules.StepBack, rules.BlockAgain, rules.Break:
		return "back"
	case rules.DeviceNew:
		return "again"
	case rules.TableEnd, rules.Finished, rules.Discharged, rules.WearFull:
		return "stands"
	}
	return "stays"
}

// ending is what the templates of what ends a wait see.
type ending struct {
	rules.Reason
	Steady, Clear int
	Own           bool // the patient has lines that are not known here
}

// ends is the sentence of what ends a wait, or empty.
func (l *language) ends(prog *rules.Program, r rules.Reason) string {
	key := "ends/" + string(r.Code)
	if l.text.Lookup(key) == nil {
		return ""
	}
	v := ending{Reason: r, Steady: prog.Pain.Steady, Clear: prog.Pain.ClearDays}
	line := map[rules.Code]int{rules.PainHeld: prog.Pain.Hold, rules.StepBack: prog.Pain.StepBack,
		rules.BlockAgain: prog.Pain.StepBack}[r.Code]
	v.Own = prog.Pain == (rules.Lines{}) || r.Line > 0 && line > 0 && r.Line != line
	if r.Need > 0 && (r.Code == rules.PainHeld || r.Code == rules.FirstRise) {
		v.Own = v.Own || r.Need != v.Clear
		v.Clear = r.Need
	}
	return l.line(key, v)
}

// ownWear is the sentence of why the wear day moved, where it has a cause of
// its own.
func (s *Set) ownWear(lang string, prog *rules.Program, d rules.Decision) string {
	switch d.WearWhy.Code {
	case "", rules.WearNone, rules.Tick, rules.FirstDay, d.Why.Code:
		return ""
	case rules.PainHeld:
		switch d.Why.Code {
		case rules.StepBack, rules.BlockAgain, rules.FirstRise:
			return "" // the same hold, told already
		}
	}
	l := s.in(lang)
	text := l.line("explain/wear", worded{Reason: d.WearWhy, Text: s.Why(lang, d.WearWhy)})
	if end := l.ends(prog, d.WearWhy); end != "" {
		text = strings.TrimSuffix(text, ".") + "; " + uncapital(end)
	}
	return text
}

// capital begins a sentence.
func capital(s string) string { return begin(s, unicode.ToUpper) }

// uncapital joins a sentence to the one before.
func uncapital(s string) string { return begin(s, unicode.ToLower) }

func begin(s string, f func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(f(r)) + s[n:]
}

// sentence closes a sentence that its writer left open.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsAny(s[len(s)-1:], ".!?:") {
		return s
	}
	return s + "."
}
