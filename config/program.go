package config

import (
	"maps"
	"path"
	"slices"
	"strings"
	"time"

	"stepgate/rules"
)

// maxWeeks is the longest a program may be.
const maxWeeks = 104

// program turns one file under programs/ into a program.
func (l *loader) program(f File) {
	id := programID(f.Path)
	l.known[strings.ToLower(id)] = append(l.known[strings.ToLower(id)], f.Path)
	s := read[programShape](&l.notes, f, defaultProgram())
	if s == nil {
		l.programs[id] = nil // written, but unreadable: no enrollment is to blame
		return
	}
	p := &rules.Program{
		ID:    id,
		Hash:  f.Hash,
		Where: map[string]rules.Pos{"program": s.At.Pos},
	}
	l.programs[id] = p
	l.programID(s, id)
	if l.need(s.At, "title", "write what the patient may read as the program's title") {
		p.Title = s.Title.In
	}
	if s.Approved != nil {
		p.Approved = l.approval(s.Approved)
	}
	if weeks, ok := l.weeks(s.Length, 1, maxWeeks); ok {
		p.Weeks = weeks
		mark(p, "length", s.Length.At)
	}
	p.Pain = l.painLines(p, s.Pain)
	p.Advance = l.advance(p, s.Advance)
	if s.Wear != nil && !s.Wear.At.Bad {
		p.Wear = l.wear(p, s.Wear)
	}
	p.Exercises = l.exercises(s)
	p.FirstStep = l.firstStep(p, s.FirstStep)
	used := l.blocks(p, s)
	l.reviews(p, s)
	l.after(p, s, used)
	l.unused(p, used)
	if !s.At.Bad && !s.At.has("weeks") && !s.At.has("wear") {
		l.wrong(s.At.Pos, "the program asks for nothing", "write weeks: with the doses, or wear: with the wear-in schedule")
	}
}

// programID holds the id against the file's name: enrollments and records go
// by it, and two names for one program would be taken for two programs.
func (l *loader) programID(s *programShape, id string) {
	if l.need(s.At, "program", "write program: "+quoted(id)+", the file's name without .yaml") {
		if got, ok := l.id(s.Program); ok && got != id {
			l.wrong(s.Program.At, "the program is called "+quoted(got)+" but its file "+quoted(path.Base(programPath(id))),
				"give both the same name")
		}
	}
}

// approval reads who approved the program, and when. One with a mistake in it
// still counts as there, so that it is not called missing as well.
func (l *loader) approval(s *approvedShape) *rules.Approval {
	var a rules.Approval
	if s.At.Bad {
		return &a
	}
	if l.need(s.At, "by", "write the name of the clinician who approved the program") {
		a.By, _ = l.line(s.By, 80)
	}
	if l.need(s.At, "on", "write the date of the approval, like 2026-10-01") {
		var ok bool
		// A day of grace: the clinic may be ahead of this machine's zone. Only a
		// warning: it may be the machine's clock that is wrong.
		if a.On, ok = l.date(s.On); ok && a.On > rules.DateOf(time.Now())+1 {
			l.warn(s.On.At, "the approval is dated ahead, "+a.On.String(), "write the day on which the program was looked through")
		}
	}
	return &a
}

// exercises reads the exercises by id.
func (l *loader) exercises(s *programShape) map[string]*rules.Exercise {
	out := make(map[string]*rules.Exercise, len(s.Exercises))
	for _, id := range slices.Sorted(maps.Keys(s.Exercises)) {
		x := s.Exercises[id]
		l.id(Value{Text: id, Key: "the exercise's id", At: x.At.Pos})
		e := &rules.Exercise{
			ID: id, Name: x.Name.In, How: x.How.In, Easier: x.Easier.In, Care: x.Care.In, Why: x.Why.In,
			Forms: l.forms(x.Forms), Side: rules.SideTogether, At: x.At.Pos,
		}
		if l.need(x.At, "kind", "write "+oneOf(kinds)) {
			e.Kind, _ = l.choice(x.Kind, kinds...)
		}
		l.need(x.At, "name", "write what the patient should read as its name")
		if !x.At.has("how") && !x.At.Bad {
			l.warn(x.At.Pos, "the exercise "+quoted(id)+" says nothing on how it is done",
				"write how: with a sentence or two, for the patient who asks")
		}
		if side, ok := l.side(x.Side); ok {
			e.Side = side
		}
		for _, v := range x.Needs.Items {
			if need, ok := l.line(v, 40); ok {
				e.Needs = append(e.Needs, need)
			}
		}
		out[id] = e
	}
	return out
}

// forms reads the ways of doing an exercise, by id.
func (l *loader) forms(forms map[string]Words) map[string]rules.Text {
	if len(forms) == 0 {
		return nil
	}
	out := make(map[string]rules.Text, len(forms))
	for _, id := range slices.Sorted(maps.Keys(forms)) {
		w := forms[id]
		l.id(Value{Text: id, Key: "the form's id", At: w.At})
		out[id] = w.In
	}
	return out
}

// kinds are the kinds of exercise.
var kinds = []string{"stretch", "strength", "balance", "mobility", "other"}

// sides are what a dose can be done on.
var sides = []string{string(rules.SideEach), string(rules.SideAffected), string(rules.SideAlternate), string(rules.SideTogether)}

// side reads the side an exercise is done on.
func (n *notes) side(v Value) (rules.Side, bool) {
	s, ok := n.choice(v, sides...)
	return rules.Side(s), ok
}

// programID is the id of the program in a file.
func programID(file string) string { return strings.TrimSuffix(path.Base(file), ".yaml") }

// programPath is the file of a program.
func programPath(id string) string { return programFolder + "/" + id + ".yaml" }
