package main

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/caseload"
	"stepgate/rules"
)

func course(t *caseload.Timeline, width int) string {
	var out bytes.Buffer
	p := coursePage{terminal: terminal{out: &out, width: width}, last: map[string]string{}}
	p.print(t, true, "clinic p-1")
	return out.String()
}

// TestPatientWhoIsGone: a record outlives the files, and says so.
func TestPatientWhoIsGone(t *testing.T) {
	at := time.Date(2026, 3, 17, 9, 0, 0, 0, time.UTC)
	gone := &caseload.Timeline{Row: caseload.Row{ID: "p-1", Program: "old", State: rules.InHeld, Date: 20_529, Step: 1, Steps: 2}, Gone: true, AsOf: at,
		Dates: []caseload.DateOf{{Date: 20_529, Items: []caseload.Item{{At: at, Kind: "reply", Text: "P5\x1b[2J\u202e", Read: "pain 5"}}}}}
	got := course(gone, 80)
	if !strings.Contains(got, "! No longer in the clinic's files: ") || !strings.Contains(got, "state     held\n") ||
		!strings.HasSuffix(got, "\nTue Mar 17\n  09:00  reply    \"P5[2J\" (pain 5)\n") || strings.Contains(got, "cautions") {
		t.Errorf("gone:\n%s", got)
	}
	gone.Erased = true
	if got := course(gone, 80); !strings.HasPrefix(got, "! An earlier patient was erased who had the id p-1;") {
		t.Errorf("enrolled anew after an erasure:\n%s", got)
	}
	if got := course(&caseload.Timeline{Row: caseload.Row{ID: "p-1"}, Gone: true, Erased: true}, 80); got != "! The record of p-1 was erased; nothing of it is left to show.\n" {
		t.Errorf("erased:\n%s", got)
	}
}

// TestPatientHead says what a clinician wrote for this patient alone.
func TestPatientHead(t *testing.T) {
	line := &caseload.Timeline{Row: caseload.Row{ID: "p-1", Name: "Rosa", Program: "easy", Dispensed: 20_500, SinceDay: 30, Visit: 20_535, State: rules.InActive},
		Title: "Easy start", Cautions: []string{"reduced sensation", "growing"},
		Lines: &caseload.Lines{Steady: 2, Hold: 3, StepBack: 5, Pause: 7, By: "J. Marlowe DPM"}}
	got := course(line, 80)
	for _, want := range []string{"p-1 Rosa\n", "  program   Easy start (easy)\n", "  cautions  reduced sensation, growing\n",
		"  lines     steady 2, hold 3, step back 5, pause 7, this patient's own, by J.\n            Marlowe DPM\n", "  review    Mon Mar 23 2026\n",
		"Nothing happened on the dates asked for."} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not in\n%s", want, got)
		}
	}
	for _, width := range []int{24, 40, 80} {
		for l := range strings.Lines(course(line, width)) {
			if n := cells(strings.TrimRight(l, "\n")); n > width {
				t.Errorf("%d columns of %d: %q", n, width, l)
			}
		}
	}
}
