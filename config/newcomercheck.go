package config

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
)

// RowProblem is something wrong with a newcomer.
type RowProblem struct {
	Row    int    // which one, from 0
	Column string // "": the whole
	Problem
}

// newFile is the made-up file that newcomers are checked in. It comes after
// every other, so that what two enrollments can't share is told of the new one.
const newFile = "~new"

var newEnrollment = regexp.MustCompile(`new enrollment \d+`)

var inNewFile = regexp.MustCompile(regexp.QuoteMeta(newFile) + `:(\d+)(?::\d+)?`)

// Check gives everything wrong, or worth a look, with newcomers: what is
// missing, and what the checks of the files say.
func (x *Enrolling) Check(list []Newcomer) []RowProblem {
	var out []RowProblem
	for i, n := range list {
		for _, name := range n.missing() {
			column, do := name, "write where the messages go"
			if c := columnOf(name); c == nil {
				column = ""
			} else {
				do = "write: " + c.Help
			}
			out = append(out, RowProblem{i, column, Problem{What: name + " is missing", Do: do}})
		}
	}
	return append(out, x.check(list, false)...)
}

// check looks at what newcomers say. What they lack is filled with something
// harmless, so that the rest is looked at too. alone leaves the enrollments
// there are out.
func (x *Enrolling) check(list []Newcomer, alone bool) []RowProblem {
	l, where := x.load(list, alone)
	var out []RowProblem
	for _, p := range l.sorted() {
		if p.At.File != newFile || p.At.Line > len(where) {
			continue
		}
		at := where[p.At.Line-1]
		if at.filled {
			continue
		}
		p.What = inNewFile.ReplaceAllStringFunc(p.What, func(s string) string { return newName(s, where) })
		out = append(out, RowProblem{at.row, at.column, p})
	}
	return append(out, x.beyondFiles(list)...)
}

// newName names a newcomer by the place in the made-up file.
func newName(place string, where []newLine) string {
	var line int
	if _, err := fmt.Sscanf(inNewFile.FindStringSubmatch(place)[1], "%d", &line); err != nil || line < 1 || line > len(where) {
		return "another new one"
	}
	return fmt.Sprintf("new enrollment %d", where[line-1].row+1)
}

// beyondFiles are the problems that the checks of the files tell of another
// place, or can't know.
func (x *Enrolling) beyondFiles(list []Newcomer) []RowProblem {
	var out []RowProblem
	for i, n := range list {
		p := x.Clinic.Programs[n["program"]]
		if p != nil && p.Approved == nil && (n[onSMS] != "" || n[onEmail] != "") {
			out = append(out, RowProblem{i, "program", Problem{What: "the program " + quoted(p.ID) + " is not approved, so it is served on the spool only",
				Do: "have a clinician add approved: {by: NAME, on: DATE} to " + p.At("program").File + ", or give a name on the spool instead"}})
		}
		if x.taken(n["id"]) {
			out = append(out, RowProblem{i, "id", Problem{What: "the record knows somebody under the id " + quoted(n["id"]) + " already", Do: "give a new one"}})
		}
	}
	return out
}

// newLine is what stands on a line of the made-up file.
type newLine struct {
	row    int
	column string
	filled bool // with something harmless
}

// load reads the clinic's files with the newcomers in a file of their own, a
// value a line.
func (x *Enrolling) load(list []Newcomer, alone bool) (*loader, []newLine) {
	var text strings.Builder
	var where []newLine
	line := func(at newLine, format string, args ...any) {
		fmt.Fprintf(&text, format+"\n", args...)
		where = append(where, at)
	}
	line(newLine{filled: true}, "enrollments:")
	for i, n := range list {
		full := x.filled(n, i)
		lead := "  - "
		for _, p := range full.pairs() {
			at := newLine{i, p.column.Name, n[p.column.Name] == ""}
			if len(p.inner) == 0 {
				line(at, "%s%s: %s", lead, p.key, p.text)
			} else {
				line(at, "%s%s:", lead, p.key)
				for _, q := range p.inner {
					line(newLine{i, q.column.Name, n[q.column.Name] == ""}, "      %s: %s", q.key, q.text)
				}
			}
			lead = "    "
		}
	}
	l, ok := newLoader(x.Clinic.Dir, nil)
	if !ok {
		return l, where
	}
	files := []File{NewFile(newFile, []byte(text.String()))}
	for _, f := range x.Clinic.Files {
		if !alone || f.Path == settingsFile || strings.HasPrefix(f.Path, programFolder+"/") {
			files = append(files, f)
		}
	}
	if c, _ := l.load(files); c != nil {
		l.clinic = c
	}
	return l, where
}

// filled is a newcomer with something harmless where it says nothing.
func (x *Enrolling) filled(n Newcomer, row int) Newcomer {
	full := maps.Clone(n)
	fill := func(name, text string) {
		if full[name] == "" {
			full[name] = text
		}
	}
	fill("id", fmt.Sprintf("new-%d-of-none", row))
	fill("name", "X")
	fill("program", x.Programs()[0])
	fill("dispensed", x.Today().String())
	fill("consent on", x.Today().String())
	fill("consent how", "X")
	fill("consent by", "X")
	fill("time", x.Clinic.Texting.From.String())
	if full["proxy name"] != "" {
		fill("proxy relation", "X")
	} else if full["proxy relation"] != "" {
		fill("proxy name", "X")
	}
	if full[onSpool]+full[onSMS]+full[onEmail] == "" {
		full[onSpool] = fmt.Sprintf("new-%d-of-none", row)
	}
	return full
}

// enrolled are the newcomers as they will read.
func (x *Enrolling) enrolled(list []Newcomer) []*Enrollment {
	l, _ := x.load(list, false)
	var out []*Enrollment
	for _, r := range l.rolls {
		if r.Len() > 0 && r.At(0).At.File == newFile {
			out = slices.AppendSeq(out, r.All())
		}
	}
	return out
}
