package main

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/caseload"
	"stepgate/rules"
)

// morning is a board with somebody in many groups, as of now.
func madeBoard(at time.Time) *caseload.Board {
	row := func(id, name string, g caseload.Group, st rules.InState, cause string, scores ...int) caseload.Row {
		r := caseload.Row{ID: id, Name: name, Program: "steady-arches", Date: 20_000, Step: 2, Steps: 4, SinceDay: 16, State: st, Group: g, Cause: cause,
			DoneHalves: 9, Due: 7, WearMin: 210, WearFull: 480, WearDay: 5, Needs: []caseload.Group{}, Alerts: []caseload.Alert{}}
		for range 14 - len(scores) {
			r.Scores = append(r.Scores, -1)
		}
		r.Scores = append(r.Scores, scores...)
		return r
	}
	b := &caseload.Board{Clinic: "Willow Bend Foot Clinic", AsOf: at, Enrolled: 12, Decided: 11, Look: 5, Matching: 12, Gone: []string{"p-77"},
		Clinics: []caseload.Alert{{Kind: rules.NoticeStranger, At: at, Text: "message from an unknown contact"}},
		Rows: []caseload.Row{
			row("p-06", "Finn", caseload.Danger, rules.InPaused, `danger word "sudden pop", Mar 12; waits for your release`, 1, 2, 1, 2, 0),
			row("p-11", "Maximilian-Alexander", caseload.Paused, rules.InPaused, "pain 9, Mar 15; waits for your release; asked for a call", 2, 3, 5, 9),
			row("p-04", "Dev", caseload.Skin, rules.InActive, "a skin complaint, Mar 16, sensation reduced: devices out until you release wear", 0, 10),
			row("p-02", "Bên", caseload.Held, rules.InHeld, "pain 5, Mar 14; 0 of 2 clear dates so far; the last message did not go out", 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10),
			row("p-09", "李小龍", caseload.Held, rules.InHeld, "held by J. Marlowe DPM, Mar 2; waits for a release"),
			row("p-01", "Ana", caseload.OnCourse, rules.InMaintenance, "", 1, 1, 0),
			row("p-12", "Ola\x1b[31m", caseload.NotBegun, rules.InActive, "begins Mar 20"),
		},
		Groups: []caseload.Count{{Group: caseload.Danger, N: 1}, {Group: caseload.Paused, N: 1}, {Group: caseload.Skin, N: 1}, {Group: caseload.Held, N: 2},
			{Group: caseload.OnCourse, N: 5}, {Group: caseload.NotBegun, N: 1}}}
	b.Rows[2].WearMin = 0
	last := &b.Rows[6]
	last.Date, last.Step, last.SinceDay, last.Due, last.Scores = 0, 0, 0, 0, nil
	return b
}

func printed(b *caseload.Board, running bool, t terminal) string {
	var out bytes.Buffer
	t.out = &out
	(&boardPage{terminal: t, dir: "clinic", grouped: true}).print(b, running)
	return out.String()
}

const wide80 = `Willow Bend Foot Clinic, Tue Mar 17 2026 08:05: 12 enrolled, 5 need a look.
! not acknowledged: message from an unknown contact, Tue Mar 17 08:05
No longer in the files, with records kept: p-77. Look with stepgate patient
  clinic ID.

ID   Name          Day  Step  Done Pain, 14 days     Wear     State

! Danger word (1)
p-06 Finn           16   2/4 4.5/7 ·········▂▂▂▂▁ 0  3:30/8 h paused
    danger word "sudden pop", Mar 12; waits for your release

! Paused (1)
p-11 Maximilian-…   16   2/4 4.5/7 ··········▂▃▅▇ 9  3:30/8 h paused
    pain 9, Mar 15; waits for your release; asked for a call

! Skin complaint (1)
p-04 Dev            16   2/4 4.5/7 ············▁█ 10 out      active
    a skin complaint, Mar 16, sensation reduced: devices out until you release
    wear

! Held (2)
p-02 Bên            16   2/4 4.5/7 ···▁▂▂▃▄▅▅▆▇▇█ 10 3:30/8 h held
    pain 5, Mar 14; 0 of 2 clear dates so far; the last message did not go out
p-09 李小龍         16   2/4 4.5/7 ·············· -  3:30/8 h held
    held by J. Marlowe DPM, Mar 2; waits for a release

On course (1 of 5)
p-01 Ana            16   2/4 4.5/7 ···········▂▂▁ 0  3:30/8 h maintenance

Not begun (1)
p-12 Ola[31m         -     -     - -                 -        active
    begins Mar 20

7 of 12 shown; --limit 0 shows all.
Done: of the last 7 days with exercises. Pain: worst of each day, · no score,
then the last one. More: stepgate patient clinic ID.
`

// TestBoardPage: a board on 80 columns, read as a clinician reads it.
func TestBoardPage(t *testing.T) {
	at := time.Date(2026, 3, 17, 8, 5, 0, 0, time.UTC)
	got := printed(madeBoard(at), true, terminal{width: 80})
	if got != wide80 {
		t.Errorf("the board is\n%s", got)
	}
	for _, width := range []int{20, 33, 40, 59, 60, 72, 80, 120, 160} {
		for _, ascii := range []bool{true, false} {
			for line := range strings.Lines(printed(madeBoard(at), false, terminal{width: width, ascii: ascii})) {
				if n := cells(strings.TrimRight(line, "\n")); n > width {
					t.Errorf("%d columns of %d: %q", n, width, line)
				}
			}
		}
	}
}

// TestBoardColor: color is added on top, and says nothing of its own.
func TestBoardColor(t *testing.T) {
	at := time.Date(2026, 3, 17, 8, 5, 0, 0, time.UTC)
	plain, colored := printed(madeBoard(at), true, terminal{width: 80}), printed(madeBoard(at), true, terminal{width: 80, color: true})
	if !strings.Contains(colored, "\x1b[1;31m! Danger word (1)\x1b[0m") {
		t.Errorf("no color in\n%s", colored)
	}
	for _, code := range []string{"\x1b[1;31m", "\x1b[1m", "\x1b[2m", "\x1b[0m"} {
		colored = strings.ReplaceAll(colored, code, "")
	}
	if colored != plain {
		t.Errorf("without its codes the colored board is\n%s", colored)
	}
}

// TestHonestWhenEmpty: nobody, nothing yet, and data of long ago.
func TestHonestWhenEmpty(t *testing.T) {
	nobody := &caseload.Board{Clinic: "Harbor", AsOf: time.Now()}
	if got := printed(nobody, true, terminal{width: 80}); !strings.Contains(got, ": 0 enrolled.\nNobody is enrolled. ") || strings.Contains(got, "No service") {
		t.Errorf("with nobody:\n%s", got)
	}
	early := &caseload.Board{Clinic: "Harbor", AsOf: time.Now().Add(-73 * time.Hour), Enrolled: 2, Matching: 2}
	got := strings.Join(strings.Fields(printed(early, false, terminal{width: 80})), " ")
	for _, want := range []string{"2 enrolled, nobody needs a look.", "No service runs.", "written, 3 days ago;", "Nothing was decided yet"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
}

// TestCSV is read back by another reader, and holds no formula.
func TestCSV(t *testing.T) {
	b := madeBoard(time.Now())
	b.Rows[0].Name = "=1+1"
	var out bytes.Buffer
	if err := printCSV(&out, b.Rows); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil || len(rows) != len(b.Rows)+1 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	cell := func(row int, name string) string {
		for i, c := range rows[0] {
			if c == name {
				return rows[row][i]
			}
		}
		t.Fatalf("no column %s", name)
		return ""
	}
	for name, want := range map[string]string{"id": "p-06", "name": "'=1+1", "group": "danger", "done": "4.5", "due": "7", "last_pain": "0",
		"pain": ". . . . . . . . . 1 2 1 2 0", "wear_minutes": "210", "last_report": "", "cause": `danger word "sudden pop", Mar 12; waits for your release`} {
		if got := cell(1, name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if cell(7, "done") != "" || cell(7, "date") != "" {
		t.Errorf("before the first date: %q", rows[7])
	}
}
