package config

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"stepgate/rules"
)

// MaxDays is the longest a patient's days can be played forward.
const MaxDays = maxWeeks * 7

// replies reads one line of a case's replies: a text on one day or on several.
func (l *caseLoader) replies(s *replyShape, p *rules.Program) []Reply {
	days := l.onDays(s.At, s.Day, s.Days, s.Every)
	r := Reply{At: s.At.Pos}
	if t, ok := l.clock(s.Time); ok {
		r.Time = &t
	}
	if l.need(s.At, "text", "write what the patient sends, like text: D2") {
		l.said(&r, s.Text, p)
	}
	out := make([]Reply, len(days))
	for i, d := range days {
		out[i] = r
		out[i].Day = d
	}
	return out
}

// maxText is the longest text a carrier delivers: 1,600 characters is the
// carrier's own limit for one message in parts.
const maxText = 1600

// said reads what a patient sends, or what stands for a clinician's entry.
func (n *notes) said(r *Reply, v Value, p *rules.Program) bool {
	switch r.Text = v.Text; {
	case !v.given():
		return false
	case len([]rune(v.Text)) > maxText:
		n.wrong(v.At, v.Key+" is longer than a phone can send", "write at most "+strconv.Itoa(maxText)+" letters")
		return false
	case strings.HasPrefix(v.Text, "!"):
		return n.directive(r, v, p)
	}
	return true
}

// directives are the entries a made-up clinician can write, as they are
// spelled behind the exclamation mark; N is a number.
var directives = map[string]rules.Entry{
	"hold":              {Kind: rules.EntryHold},
	"release":           {Kind: rules.EntryRelease},
	"release as before": {Kind: rules.EntryRelease, AsBefore: true},
	"release wear":      {Kind: rules.EntryWear},
	"cap N":             {Kind: rules.EntryCap},
	"cap none":          {Kind: rules.EntryCap},
	"strike":            {Kind: rules.EntryStrike}, // of that day's report
	"strike N":          {Kind: rules.EntryStrike}, // of day N's
	"review":            {Kind: rules.EntryReview},
	"discharge":         {Kind: rules.EntryDischarge},
}

// directive reads a text like !release or !cap 2.
func (n *notes) directive(r *Reply, v Value, p *rules.Program) bool {
	words := strings.Fields(strings.ToLower(strings.TrimPrefix(v.Text, "!")))
	number := 0
	for i, w := range words {
		if d, ok := digits(w); ok && i > 0 {
			number, words[i] = d, "N"
		}
	}
	entry, known := directives[strings.Join(words, " ")]
	good := known
	switch {
	case !known:
	case slices.Contains(words, "N") && entry.Kind == rules.EntryCap:
		entry.Step, good = number, number >= 1 && number <= len(p.Blocks)
	case slices.Contains(words, "N"):
		r.Report, good = number, number >= 1 && number <= MaxDays
	}
	if !good {
		n.noDirective(v, words, p)
		return false
	}
	r.Entry = &entry
	return true
}

// noDirective notes an entry that can't be read, with what could be meant.
func (n *notes) noDirective(v Value, words []string, p *rules.Program) {
	first := strings.Join(words[:min(1, len(words))], "")
	var names, forms []string
	for form := range directives {
		name, _, _ := strings.Cut(form, " ")
		if !slices.Contains(names, "!"+name) {
			names = append(names, "!"+name)
		}
		if name == first {
			forms = append(forms, "!"+form)
		}
	}
	if len(forms) == 0 {
		n.wrong(v.At, "no clinician's entry is called "+quoted(v.Text), suggest(v.Text, names))
		return
	}
	slices.Sort(forms)
	do := "write " + oneOf(forms)
	if first == "cap" {
		do += fmt.Sprintf("; N is the highest step, from 1 to %d", max(1, len(p.Blocks)))
	}
	n.wrong(v.At, "the clinician's entry can't be read: "+quoted(v.Text), do)
}

// expected reads one line of what must come of a case.
func (l *caseLoader) expected(s *expectedShape, p *rules.Program) []Expected {
	days := l.onDays(s.At, s.Day, s.Days, s.Every)
	x := Expected{At: s.At.Pos}
	for _, f := range []struct {
		v    Value
		into **int
		most int
	}{{s.Step, &x.Step, len(p.Blocks)}, {s.ProgramDay, &x.ProgramDay, MaxDays}, {s.WearDay, &x.WearDay, MaxDays}} {
		if n, ok := l.whole(f.v, 0, f.most); ok {
			*f.into = &n
		}
	}
	x.Wear = l.expectedWear(s.Wear)
	if state, ok := l.choice(s.State, stateNames()...); ok {
		x.State = rules.InState(state)
	}
	x.Why, _ = l.line(s.Why, 200)
	x.WearWhy, _ = l.line(s.WearWhy, 200)
	x.Due = l.expectedDue(s.Due, p)
	x.Message, x.Alert = texts(s.Message), texts(s.Alert)
	if len(x.Message) == 1 && x.Message[0] == "none" {
		x.Message, x.Silent = nil, true
	}
	if !slices.ContainsFunc(s.At.Keys, func(k string) bool { return k != "day" && k != "days" && k != "every" }) {
		l.wrong(s.At.Pos, "nothing is expected of the day", "write step, program day, wear, state, why, due or message beside it")
	}
	out := make([]Expected, len(days))
	for i, d := range days {
		out[i] = x
		out[i].Day = d
	}
	return out
}

func texts(o OneOrMore) []string {
	var out []string
	for _, v := range o.Items {
		out = append(out, v.Text)
	}
	return out
}

// expectedWear reads a wear time, or out.
func (l *caseLoader) expectedWear(v Value) *time.Duration {
	if v.Text == "out" {
		return new(time.Duration)
	}
	if d, ok := l.span(v, time.Minute, 24*time.Hour, "8h or 30 min, or out"); ok {
		return &d
	}
	return nil
}

// expectedDue reads the exercises that must be due, or none.
func (l *caseLoader) expectedDue(o OneOrMore, p *rules.Program) *[]string {
	if len(o.Items) == 0 {
		return nil
	}
	due := []string{}
	if len(o.Items) == 1 && o.Items[0].Text == "none" {
		return &due
	}
	known := make([]string, 0, len(p.Exercises))
	for id := range p.Exercises {
		known = append(known, id)
	}
	for _, v := range o.Items {
		if p.Exercises[v.Text] == nil {
			l.wrong(v.At, "the program has no exercise "+quoted(v.Text), suggest(v.Text, known))
			continue
		}
		due = append(due, v.Text)
	}
	slices.Sort(due)
	return &due
}

// stateNames are the states of a patient, as a case writes them.
func stateNames() []string {
	var names []string
	for _, s := range []rules.InState{rules.InDischarged, rules.InFinished, rules.InOptedOut, rules.InSuspended, rules.InPaused,
		rules.InAway, rules.InEased, rules.InHeld, rules.InWaiting, rules.InMaintenance, rules.InActive} {
		names = append(names, string(s))
	}
	return names
}

var dayRange = regexp.MustCompile(`^(\d{1,4})(?: ?- ?(\d{1,4}))?$`)

// onDays reads day: 9, or days: 1-8 or days: [1, 3, 5-8], and every: 2 days
// for each second day of a range.
func (l *caseLoader) onDays(at Place, day Value, days OneOrMore, every Value) []int {
	switch {
	case at.has("day") && at.has("days"):
		l.wrong(at.Pos, "day and days are both given", "keep one of them")
		return nil
	case at.has("day"):
		if at.has("every") {
			l.wrong(every.At, "every goes with days, not with one day", "write days: with a range, like 1-14")
		}
		d, ok := l.whole(day, 1, MaxDays)
		if !ok {
			return nil
		}
		return []int{d}
	case !at.has("days"):
		l.wrong(at.Pos, "day is missing", "write day: 9, or days: 1-8; day 1 is the first date")
		return nil
	}
	step, ok := l.days(every, 1, MaxDays)
	if !ok {
		step = 1
	}
	var out []int
	for _, v := range days.Items {
		m := dayRange.FindStringSubmatch(v.Text)
		if m == nil {
			l.unreadable(v, "a day or a range of days, like 9 or 1-8")
			continue
		}
		first, _ := strconv.Atoi(m[1])
		last, _ := strconv.Atoi(cmp.Or(m[2], m[1]))
		if first < 1 || last < first || last > MaxDays {
			l.outside(v, "days from 1 to "+strconv.Itoa(MaxDays)+", the first one first")
			continue
		}
		for d := first; d <= last; d += step {
			out = append(out, d)
		}
	}
	return out
}
