package main

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/rules"
)

// TestExplainOnAPhone: at 40 columns no line is longer, and no word is broken.
func TestExplainOnAPhone(t *testing.T) {
	story := &caseload.Story{Row: caseload.Row{ID: "p-01", Name: "Rosa"}, Quick: true, Decision: &rules.Decision{Date: 20_000, Day: 9, P: 9, W: 9, Step: 1, Steps: 3},
		Text:   "On Mon Oct 5 came \"P5\" (pain 5). Pain 5 reached the hold line 4 (programs/easy-start.yaml:27).",
		Events: []caseload.Step{{At: time.Date(2026, 10, 5, 18, 30, 0, 0, time.UTC), Kind: "answer", Text: "5 noted. No more exercises today. Your plan waits for easier days."}}}
	var out bytes.Buffer
	printStory(terminal{out: &out, width: 40, ascii: true}, story, "")
	var words []string
	for line := range strings.Lines(out.String()) {
		if n := cells(strings.TrimRight(line, "\n")); n > 40 {
			t.Errorf("%d columns: %s", n, line)
		}
		words = append(words, strings.Fields(line)...)
	}
	flat := strings.Join(words, " ")
	for _, want := range []string{"! Quick time", story.Text, story.Events[0].Text, "program day 9"} {
		if !strings.Contains(flat, want) {
			t.Errorf("%q is not whole in\n%s", want, out.String())
		}
	}
}

// TestQuickTimeOnTheTerminal: each page that looks says so in its head.
func TestQuickTimeOnTheTerminal(t *testing.T) {
	for _, quick := range []bool{false, true} {
		var out bytes.Buffer
		screen := terminal{out: &out, width: 80}
		(&boardPage{terminal: screen}).print(&caseload.Board{Quick: quick}, true)
		(&coursePage{terminal: screen}).print(&caseload.Timeline{Quick: quick}, true, "")
		printHealth(&out, daemon.Health{OK: true, Quick: quick})
		want := 0
		if quick {
			want = 3
		}
		if n := strings.Count(out.String(), "! Quick time"); n != want {
			t.Errorf("quick time %v is said %d times in\n%s", quick, n, out.String())
		}
	}
}

// TestAReportByPhoneOnTheTerminal names who took it.
func TestAReportByPhoneOnTheTerminal(t *testing.T) {
	var out bytes.Buffer
	p := &coursePage{terminal: terminal{out: &out, width: 80}, last: map[string]string{}}
	p.item(&caseload.Item{Kind: "reply", Text: "pain 2", Read: "pain 2", Phone: "T. Okafor"})
	if !strings.Contains(out.String(), `"pain 2" (pain 2) [by phone, T. Okafor]`) {
		t.Errorf("told as %s", out.String())
	}
}
