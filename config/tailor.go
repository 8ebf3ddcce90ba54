package config

import (
	"fmt"

	"stepgate/rules"
)

// tailored is one change for one patient, with the places in it.
type tailored struct {
	rules.Tailor
	exerciseAt, formAt, sideAt, setsAt rules.Pos
}

// tailor reads what is changed in the program for one patient.
func (r *reading) tailor(p *patient, list []tailorShape) {
	if len(list) == 0 {
		return
	}
	w := p.wait()
	for _, s := range list {
		if s.At.Bad {
			continue
		}
		t, ok := r.oneTailor(s)
		if !ok {
			continue
		}
		for _, first := range w.tailoring {
			if what := contradicts(first.Tailor, t.Tailor); what != "" {
				r.wrong(t.At, fmt.Sprintf("this %s %s, as does the one at %s", what, quoted(t.Exercise), first.At), "keep one of them")
				ok = false
				break
			}
		}
		if ok {
			w.tailoring = append(w.tailoring, t)
			p.Tailoring = append(p.Tailoring, t.Tailor)
		}
	}
}

// oneTailor reads one change: an exercise to leave out, or one with a form,
// with fewer sets, or both.
func (r *reading) oneTailor(s tailorShape) (tailored, bool) {
	t := tailored{exerciseAt: s.Exercise.At, formAt: s.Form.At, sideAt: s.Side.At, setsAt: s.Sets.At}
	t.At = s.At.Pos
	before := len(r.list)
	switch out, in := s.At.has("leave out"), s.At.has("exercise"); {
	case out && in:
		r.wrong(t.At, "this both leaves an exercise out and changes one", "write an item for each")
	case out:
		t.LeaveOut, t.Exercise, t.exerciseAt = true, s.LeaveOut.Text, s.LeaveOut.At
		for _, v := range []Value{s.Form, s.Side, s.Sets} {
			if v.written() {
				r.wrong(v.At, v.Key+" does not go with leave out", "take it away, or write exercise: instead of leave out:")
			}
		}
	case in:
		t.Exercise = s.Exercise.Text
		t.Form = s.Form.Text
		t.Side, _ = r.choice(s.Side, affectedWords[:2]...)
		t.Sets, _ = r.whole(s.Sets, 1, maxSets)
		if !s.At.has("form") && !s.At.has("sets") {
			r.wrong(t.At, "nothing is changed in the exercise", "write form: or sets: beside it, or leave out: in place of exercise:")
		}
		if s.At.has("side") && !s.At.has("form") {
			r.wrong(t.sideAt, "side says on which side the form is done, and there is no form", "write form: beside it, or take side away")
		}
	default:
		r.wrong(t.At, "this names no exercise", "write leave out: with an exercise, or exercise: with what is changed")
	}
	if r.need(s.At, "by", "write the name of the clinician who changed this") {
		t.By, _ = r.line(s.By, 80)
	}
	if r.need(s.At, "on", "write the date of the change, like 2026-10-05") {
		t.On, _ = r.date(s.On)
	}
	return t, len(r.list) == before && t.Exercise != ""
}

// contradicts says what two changes both do to one exercise, or "".
func contradicts(a, b rules.Tailor) string {
	switch {
	case a.Exercise != b.Exercise:
		return ""
	case a.LeaveOut && b.LeaveOut:
		return "leaves out"
	case a.LeaveOut || b.LeaveOut:
		return "changes or leaves out"
	case a.Form != "" && b.Form != "": // a dose has one form, also where it is for one side
		return "gives a form to"
	case a.Sets > 0 && b.Sets > 0:
		return "sets the sets of"
	}
	return ""
}

// tailoringSuits checks the changes against the program.
func (l *loader) tailoringSuits(p *patient, program *rules.Program) {
	if p.waits == nil || len(p.waits.tailoring) == 0 {
		return
	}
	left := map[string]bool{}
	for _, t := range p.waits.tailoring {
		x := program.Exercises[t.Exercise]
		if x == nil {
			l.wrong(t.exerciseAt, "the program "+quoted(program.ID)+" has no exercise "+quoted(t.Exercise), suggest(t.Exercise, keys(program.Exercises)))
			continue
		}
		left[t.Exercise] = left[t.Exercise] || t.LeaveOut
		if t.Sets > 0 {
			most := 0
			for _, d := range dosesOf(program, t.Exercise) {
				most = max(most, d.Sets)
			}
			if t.Sets >= most {
				l.wrong(t.setsAt, fmt.Sprintf("the program asks for %s of %s at the most, so this leaves nothing out", plural(most, "set"), quoted(t.Exercise)),
					"write fewer, or take sets away")
			}
		}
		if t.Form != "" {
			l.formSuits(p, t, program, x)
		}
	}
	for _, b := range tables(program) {
		rest, at := 0, rules.Pos{}
		for _, d := range b.doses {
			if !left[d.Do] {
				rest++
			}
		}
		if len(b.doses) == 0 || rest > 0 {
			continue
		}
		for _, t := range p.waits.tailoring {
			if t.LeaveOut && t.Exercise == b.doses[0].Do {
				at = t.At
			}
		}
		what, do := b.name+" has nothing left to do for this patient", "leave one of its exercises in"
		if b.waits {
			what, do = what+", and the program day waits at its end", do+", or cap the patient at the step before"
		}
		l.warn(at, what, do)
	}
}

// formSuits checks a form chosen for a patient. Doses of several forms on one
// day would all become the same, and double it.
func (l *loader) formSuits(p *patient, t tailored, program *rules.Program, x *rules.Exercise) {
	if x.Forms[t.Form] == nil {
		l.noForm(t.formAt, x, t.Form)
		return
	}
	bySide := false
	for _, d := range dosesOf(program, x.ID) {
		switch sideOf(program, d) {
		case rules.SideEach, rules.SideAlternate:
			bySide = true
		case rules.SideAffected:
			bySide = bySide || p.Affected == "both" || p.Affected == t.Side
		}
	}
	if t.Side != "" && !bySide {
		l.warn(t.sideAt, fmt.Sprintf("%s is never done on the %s side alone, so this form is never used", quoted(x.ID), t.Side), "take side away, or the whole change")
	}
	for _, b := range tables(program) {
		if b.formsMeet(x.ID) {
			l.wrong(t.formAt, fmt.Sprintf("%s asks for %s in several forms on one day, and this would make them one form done twice", b.name, quoted(x.ID)),
				"write the patient a program of their own, or take the form away")
			return
		}
	}
}

// table is a list of doses with its name in complaints.
type table struct {
	name  string
	doses []rules.Dose
	waits bool // the advance rule ends it
}

// tables are the blocks of a program, and its maintenance.
func tables(p *rules.Program) []table {
	var out []table
	for i, b := range p.Blocks {
		out = append(out, table{fmt.Sprintf("week %d", b.Week), b.Doses, i+1 < len(p.Blocks) || p.Weeks > 0})
	}
	if p.After != nil {
		out = append(out, table{"maintenance", p.After.Doses, false})
	}
	return out
}

// formsMeet tells whether doses of one exercise in different forms can fall on
// the same day.
func (b table) formsMeet(exercise string) bool {
	for start := range 7 {
		for day := range 14 { // every pattern of due days comes round in two weeks
			form, due := "", false
			for _, d := range b.doses {
				if d.Do != exercise || !d.On.Due(day+1, rules.NewDate(2026, 1, 5+start)+rules.Date(day)) {
					continue
				}
				if due && d.Form != form {
					return true
				}
				form, due = d.Form, true
			}
		}
	}
	return false
}

// dosesOf are all doses of an exercise.
func dosesOf(p *rules.Program, exercise string) []rules.Dose {
	var out []rules.Dose
	for _, t := range tables(p) {
		for _, d := range t.doses {
			if d.Do == exercise {
				out = append(out, d)
			}
		}
	}
	return out
}

func keys[V any](m map[string]V) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	return out
}
