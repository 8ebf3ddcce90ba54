package config

import (
	"fmt"
	"regexp"
	"strconv"

	"stepgate/rules"
)

// firstStepWords are the ways to write first step as one word.
var firstStepWords = []string{"weekly", "off"}

// firstStep reads how often first-step pain is asked.
func (l *loader) firstStep(p *rules.Program, s firstStepShape) rules.FirstStep {
	out := rules.DefaultFirstStep()
	mark(p, "first step", s.At.Pos)
	switch {
	case s.At.Bad || s.Word.Text == firstStepWords[0]:
		return out
	case s.Word.Text == firstStepWords[1]:
		return rules.FirstStep{}
	case s.Word.given():
		l.unreadable(s.Word, "weekly, off, or {every: 7 days, rise: 2}")
		return out
	}
	if every, ok := l.days(s.Every, 1, 28); ok {
		out.Every = every
	}
	if rise, ok := l.whole(s.Rise, 1, 10); ok {
		out.Rise = rise
	}
	// On the dates it is asked no daily score is, so this many can come in
	// at the most.
	a := p.Advance
	if left := a.Last - a.Last/out.Every; left < a.Scores && a.Scores <= a.Last {
		at := s.Every.At
		if !s.Every.written() {
			at = p.At("advance")
		}
		l.warn(at, fmt.Sprintf("first-step pain is asked instead of the daily score, so %s can't bring the %s that advance asks for",
			plural(a.Last, "day"), plural(a.Scores, "score")), "ask it less often, or make advance: scores smaller")
	}
	return out
}

// reviews reads the weeks that begin only once a review is recorded.
func (l *loader) reviews(p *rules.Program, s *programShape) {
	v := s.Reviews
	if len(v.Items) == 0 {
		return
	}
	mark(p, "review before week", v.At)
	most := p.Weeks
	if most == 0 {
		most = maxWeeks
	}
	last := 0
	for _, item := range v.Items {
		week, ok := digits(item.Text)
		switch {
		case !ok:
			l.unreadable(item, "the number of a week, or a list of them like [6, 12]")
		case week < 2 || week > most:
			l.outside(item, "a week from 2 to "+strconv.Itoa(most))
		case week == last:
			l.wrong(item.At, fmt.Sprintf("%s names week %d twice", v.Key, week), "keep one of them")
		case week < last:
			l.wrong(item.At, fmt.Sprintf("%s has week %d after week %d", v.Key, week, last), "write the weeks in order")
		default:
			last = week
			p.Reviews = append(p.Reviews, week)
		}
	}
	if len(p.Blocks) == 0 {
		l.wrong(v.At, v.Key+" stops the dose table, and there is none", "write weeks: with the doses, or take this line away")
	}
}

// maxMonths is the longest maintenance can last.
const maxMonths = 24

var (
	monthsForm = regexp.MustCompile(`^(\d{1,3}) ?months?$`)
	aWeekForm  = regexp.MustCompile(`^([1-7]) (?:times )?a week$`)
)

// after reads the maintenance that follows the dose table.
func (l *loader) after(p *rules.Program, s *programShape, used map[string]bool) {
	m := s.After
	if m == nil || m.At.Bad {
		return
	}
	out := &rules.Maintenance{At: m.At.Pos}
	mark(p, "maintenance", m.At.Pos)
	if l.need(m.At, "for", "write how long it goes on, like 6 months") {
		out.Months, _ = l.months(m.For)
	}
	if l.need(m.At, "messages", "write how many messages go out, like 2 a week") && m.Messages.given() {
		if found := aWeekForm.FindStringSubmatch(m.Messages.Text); found != nil {
			out.PerWeek, _ = strconv.Atoi(found[1])
		} else {
			l.unreadable(m.Messages, "how many a week from 1 to 7, like 2 a week")
		}
	}
	if l.need(m.At, "doses", "write its doses as a list, like those of a week") {
		if out.Doses = l.doses(p, m.Doses, out.At, "maintenance", used); len(m.Doses) == 0 {
			l.wrong(out.At, "maintenance has no doses", "write what should go on, or take maintenance away")
		}
		l.workload(p, out.Doses, out.At, "maintenance", false)
	}
	switch {
	case !s.At.has("weeks"):
		l.wrong(out.At, "maintenance follows the dose table, and there is none", "write weeks: with the doses, or take maintenance away")
	case !s.At.has("length"):
		l.wrong(out.At, "maintenance follows the end of the table, and the program has no length", "write length:, like length: 12 weeks")
	}
	p.After = out
}

// months reads a number of months, such as 6 months.
func (n *notes) months(v Value) (int, bool) {
	if !v.given() {
		return 0, false
	}
	m := monthsForm.FindStringSubmatch(v.Text)
	if m == nil {
		n.unreadable(v, "a number of months, like 6 months")
		return 0, false
	}
	months, _ := strconv.Atoi(m[1])
	if months < 1 || months > maxMonths {
		n.outside(v, "from 1 month to "+plural(maxMonths, "month"))
		return 0, false
	}
	return months, true
}
