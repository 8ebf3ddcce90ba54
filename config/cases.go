package config

import (
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stepgate/rules"
)

// casesEnd is how the name of a file of rule cases ends. It stands beside its
// program: programs/NAME.cases.yaml beside programs/NAME.yaml. A program's id
// can't hold a dot, so no program is called that.
const casesEnd = ".cases.yaml"

// Case is a rule case: given these replies, this is what must come of it.
type Case struct {
	Program string     // id
	Name    string     // in the clinician's words
	Start   rules.Date // the first date; day 1
	Replies []Reply    // by day
	Expect  []Expected // by day
	At      rules.Pos
}

// Reply is one text of a made-up patient or, with Entry, what a made-up
// clinician writes.
type Reply struct {
	Day   int    // 1 is the first date
	Time  *Clock // local; nil: just after that day's message
	Text  string
	Entry *rules.Entry // its date and its writer are still to be filled in
	// Report is the day whose report a strike is about; 0: the entry's own.
	Report int
	At     rules.Pos
}

// Expected is what must come of one day. What is nil or empty is not looked at.
type Expected struct {
	Day        int
	Step       *int
	ProgramDay *int
	WearDay    *int
	Wear       *time.Duration // 0: the devices are out
	State      rules.InState
	Why        string    // the reason's name, or words out of its text
	WearWhy    string    // the same of the wear day
	Due        *[]string // ids of the exercises due, in any order
	Message    []string  // each stands in a text to the patient
	Silent     bool      // no text to the patient
	Alert      []string  // each stands in an alert to the clinician
	At         rules.Pos
}

// DefaultCaseStart is the first date of a case that names none: a Monday, so
// that a case does not depend on the day it is run.
var DefaultCaseStart = rules.NewDate(2026, time.January, 5)

// Days is how many dates must be lived to see whether the case holds.
func (c *Case) Days() int {
	last := 0
	for _, x := range c.Expect {
		last = max(last, x.Day)
	}
	return last
}

// LoadCases reads the rule cases beside the programs of a clinic that was
// read and found good. They are apart from the clinic, because a bad case must
// not keep a clinic from being served. A file with an error gives no cases.
func LoadCases(c *Clinic) ([]*Case, Problems) {
	l := &caseLoader{programs: c.Programs}
	folder := filepath.Join(c.Dir, programFolder)
	entries, err := os.ReadDir(folder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		l.wrong(rules.Pos{File: programFolder}, "the folder can't be read: "+plainError(err).Error(), "make it a folder that may be read")
	}
	var cases []*Case
	for _, e := range entries { // by name
		name := path.Join(programFolder, e.Name())
		if !isCases(name) {
			continue
		}
		data, err := readPlain(filepath.Join(folder, e.Name()))
		if err != nil {
			l.wrong(rules.Pos{File: name}, "the file can't be read: "+err.Error(), "make it a plain file that may be read")
			continue
		}
		cases = append(cases, l.file(NewFile(name, data))...)
	}
	return cases, l.sorted()
}

// isCases tells whether a file of the clinic's folder holds rule cases.
func isCases(name string) bool {
	folder, base := path.Split(name)
	return folder == programFolder+"/" && strings.HasSuffix(base, casesEnd) &&
		!strings.HasPrefix(base, ".") && !strings.HasPrefix(base, "#")
}

// caseLoader reads the files of cases.
type caseLoader struct {
	notes
	programs map[string]*rules.Program
}

// file reads one file of cases. It is nil where anything is wrong in it.
func (l *caseLoader) file(f File) []*Case {
	before := len(l.list)
	s := read[casesShape](&l.notes, f, "")
	if s == nil || s.At.Bad {
		return nil
	}
	id := strings.TrimSuffix(path.Base(f.Path), casesEnd)
	p := l.programs[id]
	if p == nil {
		known := make([]string, 0, len(l.programs))
		for k := range l.programs {
			known = append(known, k)
		}
		l.wrong(s.At.Pos, "these are cases for the program "+quoted(id)+", which is not there",
			"name the file after its program ("+suggest(id, known)+"), or delete it")
		return nil
	}
	l.need(s.At, "cases", "write cases: and the cases as a list below it")
	var cases []*Case
	seen := map[string]rules.Pos{}
	for i := range s.Cases {
		if s.Cases[i].At.Bad {
			continue
		}
		c := l.oneCase(&s.Cases[i], p)
		if first, twice := seen[c.Name]; twice && c.Name != "" {
			l.wrong(c.At, "a case of this name stands at "+first.String()+" already", "give every case a name of its own")
		}
		seen[c.Name] = c.At
		cases = append(cases, c)
	}
	if len(l.list) > before {
		return nil
	}
	return cases
}

// oneCase reads one case.
func (l *caseLoader) oneCase(s *caseShape, p *rules.Program) *Case {
	c := &Case{Program: p.ID, Start: DefaultCaseStart, At: s.At.Pos}
	if l.need(s.At, "case", "write in a few words what should come of it") {
		c.Name, _ = l.line(s.Case, 200)
	}
	if d, ok := l.date(s.Start); ok {
		c.Start = d
	}
	for i := range s.Replies {
		if x := &s.Replies[i]; !x.At.Bad {
			c.Replies = append(c.Replies, l.replies(x, p)...)
		}
	}
	if l.need(s.At, "expect", "write what must come of it, like expect: [{day: 10, step: 1}]") && len(s.Expect) == 0 {
		l.wrong(s.At.Pos, "the case expects nothing", "write what must come of it, like expect: [{day: 10, step: 1}]")
	}
	for i := range s.Expect {
		if x := &s.Expect[i]; !x.At.Bad {
			c.Expect = append(c.Expect, l.expected(x, p)...)
		}
	}
	slices.SortStableFunc(c.Replies, func(a, b Reply) int { return a.Day - b.Day })
	slices.SortStableFunc(c.Expect, func(a, b Expected) int { return a.Day - b.Day })
	return c
}
