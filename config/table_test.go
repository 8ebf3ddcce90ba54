package config

import (
	"strings"
	"testing"
)

// wearOnly is a program without a dose table.
const wearOnly = `program: steady
title: Wearing in
approved: {by: J. Marlowe DPM, on: 2026-10-01}
length: 6 weeks
wear: {first: 1h, add: 30 min, full: 8h}
review before week: 3
maintenance:
  for: 6 months
  messages: 2 a week
  doses:
    - {do: raise, reps: 3}
exercises:
  raise: {kind: strength, name: Heel raise, how: Rise.}
`

// TestNoTable: what hangs on a dose table has none to hang on.
func TestNoTable(t *testing.T) {
	files := base()
	files[steadyFile] = wearOnly
	files[enrollmentsFile] = edit(t, baseEnrollments[:strings.Index(baseEnrollments, "    entries:")], "affected: left", "starting day: 8")
	c, problems := LoadFiles("/clinic", filesOf(files), env)
	want := []string{
		"enrollments.yaml:14:19: the program has no dose table to start on a later day of; take starting day away",
		"programs/steady.yaml:6:21: review before week stops the dose table, and there is none; write weeks: with the doses, or take this line away",
		"programs/steady.yaml:7:1: maintenance follows the dose table, and there is none; write weeks: with the doses, or take maintenance away",
	}
	if c != nil || problems.Error() != strings.Join(want, "\n") {
		t.Errorf("problems:\n%v\nwant:\n%s", problems, list(want))
	}
}

// TestNoEnd: a program without length goes on in its last block, so any later
// day may be the first, and any later week may wait for a review.
func TestNoEnd(t *testing.T) {
	files := rich()
	text := edit(t, richProgram, "length: 12 weeks\n", "")
	text = text[:strings.Index(text, "maintenance:")]
	files[steadyFile] = edit(t, text, "[3, 6]", "[3, 80]")
	files[enrollmentsFile] = edit(t, richEnrollments, "starting day: 15", "starting day: 500")
	c := mustLoad(t, files)
	if got := c.Programs["steady"].Reviews; len(got) != 2 || got[1] != 80 || c.Enrollments.At(0).FromDay != 500 {
		t.Errorf("reviews %v, starting day %d", got, c.Enrollments.At(0).FromDay)
	}
}

// TestSideNeverAlone: a form for a side that the exercise is never done on
// alone.
func TestSideNeverAlone(t *testing.T) {
	for _, c := range []struct {
		name, side, affected string
		warned               bool
	}{
		{"together", "together", "left", true},
		{"each", "each", "left", false},
		{"alternate", "alternate", "left", false},
		{"the other side", "affected", "right", true},
		{"the affected side", "affected", "left", false},
		{"both affected", "affected", "both", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := base()
			text := edit(t, baseProgram, "    side: each\n", "    side: "+c.side+"\n")
			files[steadyFile] = edit(t, text, "    how: Lean in.\n", "    how: Lean in.\n    forms: {toes-in: Turn in.}\n")
			files[enrollmentsFile] = edit(t, baseEnrollments, "affected: left",
				"affected: "+c.affected+"\n    tailor: [{exercise: calf, form: toes-in, side: left, by: J. Marlowe DPM, on: 2026-10-05}]")
			clinic, problems := LoadFiles("/clinic", filesOf(files), env)
			want := ""
			if c.warned {
				want = `enrollments.yaml:15:52: warning: "calf" is never done on the left side alone, so this form is never used; take side away, or the whole change`
			}
			if clinic == nil || problems.Error() != want {
				t.Errorf("got %v, want %s", problems, want)
			}
		})
	}
}

// TestDischargedOutlivesProgram: a patient who has left does not keep the
// program from changing.
func TestDischargedOutlivesProgram(t *testing.T) {
	files := rich()
	gone := edit(t, richEnrollments, "{exercise: raise, sets: 3,", "{leave out: gone,")
	files[enrollmentsFile] = edit(t, gone, "    email: ben@example.com\n",
		"    email: ben@example.com\n    starting day: 500\n    usual: {pain: 9}\n    pain: {hold: 4, by: J. Marlowe DPM, on: 2024-10-05}\n")
	e := mustLoad(t, files).Enrollments.At(1)
	if e.Lines == nil || e.Lines.Hold != 4 || e.Lines.Steady != 2 {
		t.Errorf("the lines of a patient who has left: %+v", e.Lines)
	}
}
