package rehearsal

import (
	"cmp"
	"maps"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"unicode/utf8"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// The kinds of text a patient gets.
const (
	FirstText  = "first"  // the first of an enrollment; once
	DailyText  = "daily"  // what a date brings: exercises, wear, a question, the end, a visit
	AnswerText = "answer" // to a text of the patient's
)

// Cost is the longest text of a kind that a program can produce in a language.
// Its JSON is a contract; see the README of the folder above.
type Cost struct {
	Program  string   `json:"program"`
	Language string   `json:"language"`
	Kind     string   `json:"kind"`
	Segments int      `json:"segments"`
	Units    int      `json:"units"`    // septets of GSM-7, or UTF-16 units of UCS-2
	Encoding string   `json:"encoding"` // GSM-7 or UCS-2
	Text     string   `json:"text"`
	Outside  []Letter `json:"outside"` // what its words hold that GSM-7 lacks
}

// Letter is a character outside the GSM 7 bit alphabet, and what goes out in
// its place: itself (then the text is UCS-2), a plainer one, or nothing.
type Letter struct {
	Character string `json:"character"`
	Code      string `json:"code"` // such as U+00EA
	Sent      string `json:"sent"`
}

// readers are those who get a program's texts in one language, taken as one
// patient who has the longest names and every caution among them. Where nobody
// is enrolled it is the made-up patient.
type readers struct {
	program    *rules.Program
	language   string
	name       string
	proxy      string
	cautions   rules.Cautions
	from       []int                // program days they may begin on
	tailorings [][]rules.Tailor     // each once; the first is none
	byText     []*config.Enrollment // who get them as SMS
}

// Costs finds the longest texts of every program in every language that it is
// read in, the clinic's own among them, and warns of those that cost too much
// where somebody gets them as SMS. They come by program, language and kind.
//
// The days are put together from the program's table and what may be said
// beside it, whether or not a patient ever meets both on one date: a text may
// be shorter than is said here, never of more segments. The first text is that
// of a patient who wrote nothing before it; the answers are those to a text
// that reports a day, and may say one thing more beside it.
func Costs(words *templates.Set, c *config.Clinic) ([]Cost, config.Problems) {
	all := readersOf(c)
	found := make([]*measuring, len(all))
	dates := map[string]rules.Date{}
	for _, r := range all {
		if _, known := dates[r.language]; !known {
			dates[r.language] = longestDate(words, r.language)
		}
	}
	var same sync.Map
	var next atomic.Int64
	var working sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(all)) {
		working.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(all); i = int(next.Add(1)) - 1 {
				found[i] = measure(words, c, all[i], dates[all[i].language], &same)
			}
		})
	}
	working.Wait()
	var costs []Cost
	var problems config.Problems
	for _, m := range found {
		costs = append(costs, m.costs()...)
		problems = append(problems, m.problems(c)...)
	}
	return costs, inPlace(problems)
}

// inPlace sorts problems by place, each once: what the clinic's name holds
// concerns every program.
func inPlace(ps config.Problems) config.Problems {
	slices.SortStableFunc(ps, func(a, b config.Problem) int {
		return cmp.Or(cmp.Compare(a.At.File, b.At.File), cmp.Compare(a.At.Line, b.At.Line),
			cmp.Compare(a.At.Column, b.At.Column), cmp.Compare(a.What, b.What))
	})
	return slices.Compact(ps)
}

func readersOf(c *config.Clinic) []*readers {
	type key struct{ program, language string }
	all := map[key]*readers{}
	of := func(program, language string) *readers {
		k := key{program, language}
		r := all[k]
		if r == nil {
			r = &readers{program: c.Programs[program], language: language, from: []int{1}, tailorings: [][]rules.Tailor{nil}}
			all[k] = r
		}
		return r
	}
	for id := range c.Programs {
		of(id, c.Language)
	}
	seen := map[string]bool{}
	for e := range c.Enrollments.All() {
		if c.Programs[e.Program] != nil && !discharged(e) {
			of(e.Program, e.Language).add(e, seen)
		}
	}
	list := slices.SortedFunc(maps.Values(all), func(a, b *readers) int {
		return cmp.Or(cmp.Compare(a.program.ID, b.program.ID), cmp.Compare(a.language, b.language))
	})
	for _, r := range list {
		r.name = cmp.Or(r.name, madeUpName)
	}
	return list
}

func discharged(e *config.Enrollment) bool {
	return slices.ContainsFunc(e.Entries, func(n rules.Entry) bool { return n.Kind == rules.EntryDischarge })
}

// add takes one more among the readers. seen are the tailorings met so far.
func (r *readers) add(e *config.Enrollment, seen map[string]bool) {
	r.name = longer(r.name, e.Name)
	if e.Proxy != nil {
		r.proxy = longer(r.proxy, e.Proxy.Name)
	}
	r.cautions.ReducedSensation = r.cautions.ReducedSensation || e.Cautions.ReducedSensation
	r.cautions.FragileSkin = r.cautions.FragileSkin || e.Cautions.FragileSkin
	r.cautions.Balance = r.cautions.Balance || e.Cautions.Balance
	if e.FromDay > 1 && !slices.Contains(r.from, e.FromDay) {
		r.from = append(r.from, e.FromDay)
	}
	if e.Address.Channel == "sms" {
		r.byText = append(r.byText, e)
	}
	if len(e.Tailoring) == 0 {
		return
	}
	plain := make([]rules.Tailor, len(e.Tailoring))
	for i, t := range e.Tailoring {
		plain[i] = rules.Tailor{Exercise: t.Exercise, LeaveOut: t.LeaveOut, Form: t.Form, Side: t.Side, Sets: t.Sets}
	}
	k := string(contents([]byte(e.Program+"\n"+e.Language+"\n"), &plain))
	if !seen[k] {
		seen[k] = true
		r.tailorings = append(r.tailorings, plain)
	}
}

func longer(a, b string) string {
	if utf8.RuneCountInString(b) > utf8.RuneCountInString(a) {
		return b
	}
	return a
}

// enrollment is the readers as one patient with one of their tailorings.
func (r *readers) enrollment(c *config.Clinic, tailoring []rules.Tailor) *config.Enrollment {
	e := madeUp(c)
	e.Program, e.Name, e.Language, e.Cautions, e.Tailoring = r.program.ID, r.name, r.language, r.cautions, tailoring
	if r.proxy != "" {
		e.Proxy = &config.Proxy{Name: r.proxy}
	}
	return e
}

// measuring finds the longest texts of one program and language.
type measuring struct {
	*readers
	words   *templates.Set
	e       *config.Enrollment // without tailoring
	clinic  templates.Clinic
	patient templates.Patient
	date    rules.Date // one that takes the most room in a text
	wear    []rules.Decision
	longest map[string]*rendered // by kind
	how     map[string]*rendered // by exercise: the how-to of it alone
	letters map[rune]string      // see [measuring.sent]
	same    *sync.Map            // see [measuring.said]
}

// rendered is a text and what it is made of.
type rendered struct {
	text  string
	count notify.Count
	step  int         // from 1; 0: no exercises
	dues  []rules.Due // those it speaks of
	how   bool        // it tells how to do them
}

// over tells whether a text takes more than another.
func (t *rendered) over(o *rendered) bool {
	return o == nil || t.count.Segments > o.count.Segments ||
		t.count.Segments == o.count.Segments && t.count.Units > o.count.Units
}

func measure(words *templates.Set, c *config.Clinic, r *readers, date rules.Date, same *sync.Map) *measuring {
	m := &measuring{readers: r, words: words, clinic: daemon.ClinicWords(c), e: r.enrollment(c, nil),
		longest: map[string]*rendered{}, how: map[string]*rendered{}, letters: map[rune]string{}, date: date, same: same}
	m.patient = daemon.PatientWords(m.e)
	m.patient.TextOnly = true
	m.e.Start, m.e.Dispensed = m.date, m.date
	m.wear = m.wears()
	steps := m.steps(c)
	m.days(steps)
	m.answers(steps)
	return m
}

// render counts a text as the carrier is given it.
func render(msg templates.Message) *rendered {
	t := &rendered{text: notify.Plain(msg.Text)}
	t.count = notify.Segments(t.text)
	return t
}

func (m *measuring) take(kind string, t *rendered) {
	if t.over(m.longest[kind]) {
		m.longest[kind] = t
	}
}

// kinds are the kinds in the order they are told.
var kinds = []string{FirstText, DailyText, AnswerText}

func (m *measuring) costs() []Cost {
	var out []Cost
	for _, kind := range kinds {
		t := m.longest[kind]
		if t == nil {
			continue
		}
		out = append(out, Cost{Program: m.program.ID, Language: m.language, Kind: kind,
			Segments: t.count.Segments, Units: t.count.Units, Encoding: t.count.Encoding, Text: t.text, Outside: m.outside(t)})
	}
	return out
}
