package rules_test

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// monday is the date that histories start on unless they say otherwise.
var monday = rules.NewDate(2026, time.October, 5)

// day is what happens on one local date: the files change, entries are read,
// the date is decided at the message time, then texts come in.
type day struct {
	program *rules.Program    // in force from this date on
	enroll  *rules.Enrollment // likewise; its entries are those so far
	entries []rules.Entry
	phoned  map[string]rules.Reading // what the words of reports by phone among them are read as
	skip    bool                     // the daemon slept through the message time
	unheard bool
	untaken bool // the carrier takes nothing on this date
	texts   []rules.Reading
}

// outcome is what a date came to. dec is nil where it was not decided.
type outcome struct {
	date     rules.Date
	dec      *rules.Decision
	morning  rules.State // with the entries read
	state    rules.State // after the decision and the carrier's word
	evening  rules.State // after the texts
	hearings []rules.Hearing
	optedOut bool // in the morning
	outAtEnd bool // opted out in the evening
}

// play lives through a history with the engine's own functions in the order
// the daemon calls them. Texts of before come in before the first date.
func play(p *rules.Program, e rules.Enrollment, before []rules.Reading, days []day) []outcome {
	var o outcome
	o.date = e.First() - 1
	o.hear(p, &e, before)
	return playOn(p, e, o, days)
}

func (o *outcome) hear(p *rules.Program, e *rules.Enrollment, texts []rules.Reading) {
	for _, r := range texts {
		next, h := rules.Hear(p, e, o.evening, r, o.date, o.outAtEnd)
		o.evening, o.outAtEnd = next, (o.outAtEnd || h.OptOut) && !h.OptIn
		o.hearings = append(o.hearings, h)
	}
}

// playOn lives through the dates that follow what a date came to.
func playOn(p *rules.Program, e rules.Enrollment, last outcome, days []day) []outcome {
	var out []outcome
	for _, today := range days {
		s := last.evening
		o := outcome{date: last.date + 1, optedOut: last.outAtEnd, outAtEnd: last.outAtEnd}
		if today.program != nil {
			p = today.program
		}
		if today.enroll != nil {
			entries := e.Entries
			e = *today.enroll
			e.Entries = entries
		}
		e.Entries = append(e.Entries[:len(e.Entries):len(e.Entries)], today.entries...)
		for _, n := range rules.Pending(&e, s, o.date) {
			if n.Kind != rules.EntryReport {
				s = rules.Enter(s, n, o.date)
				continue
			}
			next, h := rules.EnterReport(p, &e, s, n, today.phoned[n.Said], o.date, o.optedOut)
			s, o.optedOut, o.outAtEnd = next, o.optedOut || h.OptOut, o.outAtEnd || h.OptOut
			o.hearings = append(o.hearings, h)
		}
		o.morning = s
		if !today.skip && rules.Decidable(&e, s, o.date) {
			next, dec := rules.Decide(p, &e, s, o.date, rules.Facts{Unheard: today.unheard, OptedOut: o.optedOut})
			s, o.dec = next, &dec
			if dec.Send && today.untaken {
				s = rules.Untaken(s, dec.Date)
			}
		}
		o.state, o.evening = s, s
		o.hear(p, &e, today.texts)
		out = append(out, o)
		last = o
	}
	return out
}

var (
	scoreToken = regexp.MustCompile(`^([dsn]?)(\d*)$`)
	doneToken  = map[string]rules.Done{"d": rules.DoneAll, "s": rules.DoneSome, "n": rules.DoneNone}
)

// readDays reads a history written a word a date:
//
//   - nothing           d3     done, pain 3 (also s, n, a bare number)
//     b          skin              w2.5   hours worn
//     a5         away five days    f4     first-step pain 4
//     red        a danger word     usual  a danger word that may be usual
//     ok         skin looked at    denied, wrong, stop, start, call: what they say
//     skip       slept through     unheard, untaken
//     hold, release, asbefore, cap2, confirm, letwear, review, discharge,
//     strike4, replace4=1 (of the report of date 4): entries read before deciding
//     @d3        the same said by phone: read before deciding too
//
// Several things on one date are joined by "/". A number and "x" before a
// word repeats the date: 3xd0.
func readDays(t testing.TB, words string, programs ...*rules.Program) []day {
	t.Helper()
	var days []day
	for _, word := range strings.Fields(words) {
		times := 1
		if n, rest, ok := strings.Cut(word, "x"); ok {
			if v, err := strconv.Atoi(n); err == nil {
				times, word = v, rest
			}
		}
		for range times {
			var d day
			for _, piece := range strings.Split(word, "/") {
				d.read(t, piece, len(days), programs)
			}
			days = append(days, d)
		}
	}
	return days
}

func (d *day) read(t testing.TB, piece string, i int, programs []*rules.Program) {
	t.Helper()
	number := func() int {
		v, err := strconv.Atoi(strings.TrimLeft(piece, "abcdefghijklmnopqrstuvwxyz"))
		if err != nil {
			t.Fatalf("history word %q: %v", piece, err)
		}
		return v
	}
	text := func(r rules.Reading) { d.texts = append(d.texts, r) }
	switch {
	case piece == "-":
	case piece[0] == '@':
		var by day
		by.read(t, piece[1:], i, programs)
		for _, r := range by.texts {
			d.phone(monday+rules.Date(i), r)
		}
	case piece == "skip":
		d.skip = true
	case piece == "unheard":
		d.unheard = true
	case piece == "untaken":
		d.untaken = true
	case d.readEntry(piece, i):
	case strings.HasPrefix(piece, "program"):
		d.program = programs[number()]
	case strings.HasPrefix(piece, "f"):
		v := number()
		text(rules.Reading{FirstStep: &v})
	case regexp.MustCompile(`^a\d+$`).MatchString(piece):
		v := number()
		text(rules.Reading{Away: &v})
	case regexp.MustCompile(`^w[\d.]+$`).MatchString(piece):
		v, err := strconv.ParseFloat(piece[1:], 64)
		if err != nil {
			t.Fatalf("history word %q: %v", piece, err)
		}
		text(rules.Reading{Wear: &v})
	case words[piece] != nil:
		text(*words[piece])
	case scoreToken.MatchString(piece):
		m := scoreToken.FindStringSubmatch(piece)
		r := rules.Reading{Done: doneToken[m[1]]}
		if m[2] != "" {
			v := number()
			r.Pain = &v
		}
		text(r)
	default:
		t.Fatalf("history word %q is not known", piece)
	}
}

// phone adds a report taken by phone.
func (d *day) phone(on rules.Date, r rules.Reading) {
	n := rules.Entry{Kind: rules.EntryReport, On: on, By: "front desk", Said: fmt.Sprint("call ", len(d.phoned)),
		At: rules.Pos{File: "enrollments.yaml", Line: 9, Column: 5}}
	if d.phoned == nil {
		d.phoned = map[string]rules.Reading{}
	}
	d.phoned[n.Said], d.entries = r, append(d.entries, n)
}

// readEntry reads a clinician's entry, if the word is one.
func (d *day) readEntry(piece string, i int) bool {
	n := rules.Entry{Kind: plainEntries[piece], On: monday + rules.Date(i), By: "Dr. Example",
		Why: fmt.Sprint("day ", i), At: rules.Pos{File: "enrollments.yaml", Line: 40 + i, Column: 7}}
	if piece == "asbefore" {
		n.Kind, n.AsBefore = rules.EntryRelease, true
	}
	if m := numbered.FindStringSubmatch(piece); m != nil {
		v, _ := strconv.Atoi(m[2])
		if n.Kind = rules.EntryKind(m[1]); n.Kind == rules.EntryCap {
			n.Step = v
		} else {
			n.Report = monday + rules.Date(v)
		}
		if v, err := strconv.Atoi(m[3]); err == nil {
			n.Score = &v
		}
	}
	if n.Kind != "" {
		d.entries = append(d.entries, n)
	}
	return n.Kind != ""
}

var plainEntries = map[string]rules.EntryKind{
	"hold": rules.EntryHold, "release": rules.EntryRelease, "confirm": rules.EntryConfirm,
	"discharge": rules.EntryDischarge, "letwear": rules.EntryWear, "review": rules.EntryReview,
}

var numbered = regexp.MustCompile(`^(strike|replace|cap)(\d+)=?(\d*)$`)

var words = map[string]*rules.Reading{
	"b":      {Skin: true},
	"red":    {Flags: []rules.RedFlag{{Name: "calf", Tier: rules.UrgentToday}}},
	"denied": {Denied: []rules.RedFlag{{Name: "numb", Tier: rules.UrgentClinic}}},
	"wrong":  {Wrong: true},
	"stop":   {Stop: true},
	"start":  {Start: true},
	"call":   {Call: true},
	"usual":  {Flags: []rules.RedFlag{{Name: "numb", Tier: rules.UrgentClinic}}},
	"ok":     {SkinOK: true},
}

// plan is a program with blocks at the given weeks, one exercise every day.
func plan(weeks ...int) *rules.Program {
	p := &rules.Program{
		ID: "plan", Exercises: map[string]*rules.Exercise{"raise": {ID: "raise", Side: rules.SideEach}},
		Pain: rules.DefaultLines(), Advance: rules.DefaultAdvance(),
		Where: map[string]rules.Pos{"program": {File: "programs/plan.yaml", Line: 1, Column: 1}},
	}
	for i, week := range weeks {
		p.Blocks = append(p.Blocks, rules.Block{Week: week, Doses: []rules.Dose{
			{Do: "raise", Sets: 2 + i, Reps: 10, Sessions: 1},
		}})
	}
	return p
}

// change returns a changed copy of a program; blocks are copied too.
func change(p *rules.Program, how func(*rules.Program)) *rules.Program {
	q := *p
	q.Blocks = append([]rules.Block(nil), p.Blocks...)
	how(&q)
	return &q
}

func enrolled() rules.Enrollment {
	return rules.Enrollment{ID: "e1", Program: "plan", Dispensed: monday, Start: monday, Consent: true,
		Affected: "left", At: rules.Pos{File: "enrollments.yaml", Line: 3, Column: 3}}
}

// row is one history and what its dates come to, a word a date: "." where the
// date is not decided. Expectations left empty are not looked at.
type row struct {
	name    string
	program *rules.Program // nil: blocks at weeks 1, 3 and 5
	enroll  func(*rules.Enrollment)
	more    []*rules.Program // for program0, program1 ...
	before  string           // one date's words that come before the first date
	days    string
	p, w    string // program day, wear day
	step    string
	why     string // reasons of the program day, blanks written _
	wearWhy string
	send    string // y or n
	ask     string // pain, pain_now, first-step; none
	state   string
}

func runRows(t *testing.T, rows []row) {
	t.Helper()
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) { r.run(t) })
	}
}

func (r row) play(t testing.TB) []outcome {
	t.Helper()
	p, e := r.program, enrolled()
	if p == nil {
		p = plan(1, 3, 5)
	}
	if r.enroll != nil {
		r.enroll(&e)
	}
	var before []rules.Reading
	for _, d := range readDays(t, r.before) {
		before = append(before, d.texts...)
	}
	return play(p, e, before, readDays(t, r.days, r.more...))
}

func (r row) run(t *testing.T) {
	t.Helper()
	out := r.play(t)
	compare := func(what, want string, of func(rules.Decision) string) {
		t.Helper()
		if want == "" {
			return
		}
		var got []string
		for _, o := range out {
			if o.dec == nil {
				got = append(got, ".")
				continue
			}
			got = append(got, strings.ReplaceAll(of(*o.dec), " ", "_"))
		}
		if w := unroll(want); strings.Join(got, " ") != strings.Join(w, " ") {
			t.Errorf("%s\n days %s\n got  %s\n want %s", what, r.days, strings.Join(got, " "), strings.Join(w, " "))
		}
	}
	compare("program day", r.p, func(d rules.Decision) string { return strconv.Itoa(d.P) })
	compare("wear day", r.w, func(d rules.Decision) string { return strconv.Itoa(d.W) })
	compare("step", r.step, func(d rules.Decision) string { return strconv.Itoa(d.Step) })
	compare("why", r.why, func(d rules.Decision) string { return string(d.Why.Code) })
	compare("wear why", r.wearWhy, func(d rules.Decision) string { return string(d.WearWhy.Code) })
	compare("state", r.state, func(d rules.Decision) string { return string(d.State) })
	compare("ask", r.ask, func(d rules.Decision) string {
		if d.Ask == rules.AskNothing {
			return "none"
		}
		return string(d.Ask)
	})
	compare("send", r.send, func(d rules.Decision) string {
		if d.Send {
			return "y"
		}
		return "n"
	})
}

// unroll writes out ranges (1-7) and repeats (3xtick).
func unroll(words string) []string {
	var out []string
	for _, w := range strings.Fields(words) {
		if n, rest, ok := strings.Cut(w, "x"); ok {
			if v, err := strconv.Atoi(n); err == nil {
				for range v {
					out = append(out, rest)
				}
				continue
			}
		}
		if a, b, ok := strings.Cut(w, "-"); ok {
			from, err1 := strconv.Atoi(a)
			to, err2 := strconv.Atoi(b)
			if err1 == nil && err2 == nil {
				for v := from; v <= to; v++ {
					out = append(out, strconv.Itoa(v))
				}
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// only returns the decision of the i-th date, counting from 0.
func only(t testing.TB, out []outcome, i int) rules.Decision {
	t.Helper()
	if out[i].dec == nil {
		t.Fatalf("date %d was not decided", i)
	}
	return *out[i].dec
}
