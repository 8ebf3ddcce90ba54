package rules_test

import (
	"reflect"
	"slices"
	"testing"

	"stepgate/rules"
)

func tailored(list ...rules.Tailor) func(*rules.Enrollment) {
	return func(e *rules.Enrollment) { e.Tailoring = list }
}

func TestTailoring(t *testing.T) {
	p := plan(1, 3)
	p.Exercises["curl"] = &rules.Exercise{ID: "curl", Side: rules.SideAffected}
	p.Blocks[0].Doses = []rules.Dose{{Do: "raise", Sets: 4, Reps: 10, Sessions: 1}, {Do: "curl", Sets: 1, Reps: 20, Sessions: 2, Form: "seated"}}
	full := []rules.Due{{Exercise: "raise", Side: rules.SideEach, Sets: 4, Reps: 10, Sessions: 1},
		{Exercise: "curl", Side: rules.SideAffected, Sets: 1, Reps: 20, Sessions: 2, Form: "seated"}}
	with := func(how func(raise, curl *rules.Due)) []rules.Due {
		list := slices.Clone(full)
		how(&list[0], &list[1])
		return list
	}
	for _, c := range []struct {
		name   string
		tailor []rules.Tailor
		days   string // the last date is looked at
		want   []rules.Due
	}{
		{"none", nil, "-", full},
		{"an exercise left out", []rules.Tailor{{Exercise: "raise", LeaveOut: true}}, "-", full[1:]},
		{"all of them", []rules.Tailor{{Exercise: "raise", LeaveOut: true}, {Exercise: "curl", LeaveOut: true}}, "-", nil},
		{"fewer sets", []rules.Tailor{{Exercise: "raise", Sets: 3}}, "-", with(func(r, _ *rules.Due) { r.Sets = 3 })},
		{"never more", []rules.Tailor{{Exercise: "raise", Sets: 9}, {Exercise: "curl", Sets: 2}}, "-", full},
		{"the fewest of two", []rules.Tailor{{Exercise: "raise", Sets: 2}, {Exercise: "raise", Sets: 3}}, "-", with(func(r, _ *rules.Due) { r.Sets = 2 })},
		{"a form on one side", []rules.Tailor{{Exercise: "raise", Form: "knee-bent", Side: "left"}}, "-",
			with(func(r, _ *rules.Due) { r.Form, r.Only = "knee-bent", "left" })},
		{"a form instead of the dose's", []rules.Tailor{{Exercise: "curl", Form: "standing"}}, "-", with(func(_, c *rules.Due) { c.Form = "standing" })},
		{"an exercise of no dose", []rules.Tailor{{Exercise: "other", LeaveOut: true}}, "-", full},
		{"eased from what is left of it", []rules.Tailor{{Exercise: "raise", Sets: 3}}, "6 - -",
			with(func(r, c *rules.Due) { r.Sets, c.Reps = 2, 10 })},
		{"eased from one set: half the reps", []rules.Tailor{{Exercise: "raise", Sets: 1}}, "6 - -",
			with(func(r, c *rules.Due) { r.Sets, r.Reps, c.Reps = 1, 5, 10 })},
	} {
		out := row{program: p, enroll: tailored(c.tailor...), days: c.days}.play(t)
		last := out[len(out)-1]
		if got := last.dec.Doses; !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
		e := enrolled()
		e.Tailoring = c.tailor
		if got := p.Listed(&e, last.state); len(got) != len(c.want) || len(got) > 0 && !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: listed %+v, want what was sent", c.name, got)
		}
	}
}

// TestNothingIsNotDone: with every exercise left out no date is due, so the
// advance rule is not met by doing nothing.
func TestNothingIsNotDone(t *testing.T) {
	out := row{enroll: tailored(rules.Tailor{Exercise: "raise", LeaveOut: true}), days: "14xd0 -"}.play(t)
	dec := only(t, out, 14)
	if why := dec.Why; dec.Send || dec.P != 14 || why.Code != rules.Waiting || why.Short != "due dates" || why.Have != 0 || why.Need != 2 {
		t.Errorf("%+v, want it to wait for two due dates, and nothing sent", dec)
	}
}

func TestOwnLines(t *testing.T) {
	own := func(l rules.Lines) func(*rules.Enrollment) {
		return func(e *rules.Enrollment) {
			e.Lines, e.LinesAt = &l, rules.Pos{File: "enrollments.yaml", Line: 17, Column: 5}
		}
	}
	strict := own(rules.Lines{Steady: 1, Hold: 2, StepBack: 3, Pause: 4, ClearDays: 3})
	loose := own(rules.Lines{Steady: 5, Hold: 7, StepBack: 8, Pause: 9, ClearDays: 1})
	runRows(t, []row{
		{name: "stricter than the program's: hold", enroll: strict, days: "2 1 1 1 1", p: "1 1 1 1 2", why: "first_day 3xpain_hold tick"},
		{name: "stricter: step back", program: quick(1, 2), enroll: strict, days: "9xd0 3 -", p: "1-10 1"},
		{name: "stricter: pause", enroll: strict, days: "4 -", send: "y n"},
		{name: "stricter: none over steady in the window", program: change(plan(1, 2), func(p *rules.Program) { p.Pain = tendon }),
			enroll: own(rules.Lines{Steady: 1, Hold: 3, StepBack: 4, Pause: 5, ClearDays: 1}), days: "3xd0 d2 3xd0 -", p: "1-7 7"},
		{name: "looser: goes on with five", enroll: loose, days: "5xd5", p: "1-5"},
		{name: "looser: one clear date ends a hold", enroll: loose, days: "7 5 -", p: "1 1 2"},
		{name: "looser: step back and pause", program: quick(1, 2), enroll: loose, days: "9xd5 8 5 9 -", p: "1-10 1 2 1", send: "12xy n"},
	})
	out := row{program: quick(1, 2), enroll: strict, days: "9xd0 2 3 4 -"}.play(t)
	for i, rule := range map[int]string{10: "pain.hold", 11: "pain.step back", 12: "pain.pause"} {
		if why := only(t, out, i).Why; why.Rule != rule || why.At.Line != 17 {
			t.Errorf("date %d: %+v, want %s on line 17 of the enrollment", i, why, rule)
		}
	}
	if parts := out[9].hearings[0].Parts; !slices.Equal(parts, []rules.Part{rules.SayHold}) {
		t.Errorf("a 2 over the patient's own hold line is answered %v", parts)
	}
}

func TestStartingDay(t *testing.T) {
	from := func(day int) func(*rules.Enrollment) {
		return func(e *rules.Enrollment) { e.FromDay = day }
	}
	runRows(t, []row{
		{name: "the first decided date is that day", enroll: from(15), days: "3xd0", p: "15 16 17", step: "2 2 2", why: "first_day tick tick"},
		{name: "its block must be met like any", enroll: from(15), days: "14xd0 -", p: "15-29", step: "14x2 3"},
		{name: "one is the first day", enroll: from(1), days: "d0 d0", p: "1 2"},
		{name: "a cap under it comes first", enroll: from(15), days: "cap1/d0 d0 cap0/d0 -", p: "4x14", step: "4x1", why: "first_day cap waiting waiting"},
		{name: "in the middle of a block that begins later", enroll: from(20), days: "d6 - d0 d0 d0", p: "20 1 1 1 2", step: "2 1 1 1 1"},
		{name: "a step back to before it", program: quick(1, 2, 3), enroll: from(15), days: "d6 0 7xd0", step: "3 7x2 3"},
		{name: "exercises that begin later, wear before them",
			program: change(plan(1, 3), func(p *rules.Program) { p.Wear = hourly }),
			enroll:  func(e *rules.Enrollment) { e.Start, e.FromDay = monday+3, 15 }, days: "5xd0", p: "0 0 0 15 16", w: "1-5"},
		{name: "another program begins at it too", program: quick(1, 2), more: []*rules.Program{change(quick(1, 2, 3), func(p *rules.Program) { p.ID = "other" })},
			enroll: from(8), days: "d0 d0 program0/d0 d0", p: "8 9 8 9"},
	})
}

func TestCautions(t *testing.T) {
	for _, c := range []struct {
		name          string
		cautions      rules.Cautions
		skin, support bool
	}{
		{"none", rules.Cautions{Growing: true}, false, false},
		{"reduced sensation", rules.Cautions{ReducedSensation: true}, true, false},
		{"fragile skin", rules.Cautions{FragileSkin: true}, true, false},
		{"balance", rules.Cautions{Balance: true}, false, true},
	} {
		out := row{program: wearing(hourly), enroll: func(e *rules.Enrollment) { e.Cautions = c.cautions }, days: "6/b - -"}.play(t)
		if first := only(t, out, 0); first.Skin != c.skin || first.Support != c.support {
			t.Errorf("%s: asks for a look at the skin %v, a support %v", c.name, first.Skin, first.Support)
		}
		if rest := only(t, out, 1); rest.Skin || rest.Support {
			t.Errorf("%s: on a rest day with the devices out: %+v", c.name, rest)
		}
	}
}
