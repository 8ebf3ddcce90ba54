package caseload

import (
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// popped is Rosa's course with a danger word on Oct 6, which pauses the plan and
// takes it back from program day 9 to 1.
func popped(t *testing.T) *book {
	t.Helper()
	b := newBook(t)
	b.sent("2026-10-05", 8, rules.Tick)
	b.sent("2026-10-06", 9, rules.Tick)
	st := rules.State{Rev: b.rev, Decided: b.date("2026-10-06"), P: 9, W: 9, WearMin: 90, Pause: &rules.Pause{Since: b.date("2026-10-06"), Cause: "sudden pop"},
		Heard: rules.Heard{Any: true, Flag: true}}
	b.add("2026-10-06 12:00", journal.Event{Kind: journal.Heard, ID: rosa, State: &st, In: &journal.In{Channel: "spool", ID: "pop", From: "rosa",
		Text: "felt a pop", Day: st.Decided, Reading: rules.Reading{Flags: []rules.RedFlag{{Name: "sudden pop"}}}}})
	dec := rules.Decision{Date: b.date("2026-10-07"), Day: 3, P: 1, W: 9, Step: 1, Steps: 3, State: rules.InPaused, Eased: true,
		Why: rules.Reason{Code: rules.Paused, By: "sudden pop", Since: st.Decided}}
	st.Decided, st.P, st.Heard, st.Hold = dec.Date, 1, rules.Heard{}, &rules.PainHold{Since: st.Decided}
	b.add("2026-10-07 09:00", journal.Event{Kind: journal.Decided, ID: rosa, Decision: &dec, State: &st})
	return b
}

// TestAReleasedDangerWord: what is left of it is told as what it was, with the
// release, and not as pain.
func TestAReleasedDangerWord(t *testing.T) {
	b := popped(t)
	if row := b.row(); row.Group != Danger || row.Cause != `danger word "sudden pop", Oct 6; waits for your release` {
		t.Errorf("paused: %s, %q", row.Group, row.Cause)
	}
	release := rules.Entry{Kind: rules.EntryRelease, On: b.date("2026-10-08"), By: "J. Marlowe DPM"}
	b.view.Clinic.Enrollments = b.view.Clinic.Enrollments.Changed(func(e *config.Enrollment) {
		if e.ID == rosa {
			e.Entries = append(e.Entries, release)
		}
	})
	st := rules.State{Rev: b.rev, Decided: b.date("2026-10-07"), P: 1, W: 9, WearMin: 90, Hold: &rules.PainHold{Since: b.date("2026-10-06")}}
	b.add("2026-10-08 08:00", journal.Event{Kind: journal.Revised, ID: rosa, Entry: &release, State: &st})
	if row := b.row(); row.Group != Held || row.Cause != "danger word, Oct 6, released Oct 8; 0 of 2 clear dates so far" {
		t.Errorf("released: %s, %q", row.Group, row.Cause)
	}
}

// TestAPauseTellsItsStepBack: the plan went back, and no dose is asked meanwhile.
func TestAPauseTellsItsStepBack(t *testing.T) {
	b := popped(t)
	text := b.explain(rosa, "2026-10-07").Text
	if !strings.Contains(text, "It went back from program day 9 to 1.") || strings.Contains(text, "eased") {
		t.Errorf("explained as %q", text)
	}
	days := b.timeline(rosa, Span{}).Dates
	for _, it := range days[len(days)-1].Items {
		if it.Kind == "decided" && it.Text != text {
			t.Errorf("told as %q, explained as %q", it.Text, text)
		}
	}
	if text := b.explain(rosa, "2026-10-06").Text; strings.Contains(text, "went back") {
		t.Errorf("a day on is told as %q", text)
	}
}

// TestAReportByPhone is told with who took it.
func TestAReportByPhone(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	b.add("2026-10-05 15:00", journal.Event{Kind: journal.Heard, ID: rosa, State: b.reported(2), Entry: &rules.Entry{Kind: rules.EntryReport, By: "T. Okafor", Said: "pain 2"},
		In: &journal.In{Channel: "phone", ID: "1", From: "rosa", Text: "pain 2", Day: b.date("2026-10-05")}})
	items := b.timeline(rosa, Span{}).Dates[0].Items
	if it := items[len(items)-1]; it.Kind != "reply" || it.Phone != "T. Okafor" {
		t.Errorf("told as %+v", it)
	}
}

// TestQuickTimeIsSaid: whatever looks at a made-up calendar says so.
func TestQuickTimeIsSaid(t *testing.T) {
	b := newBook(t)
	for _, quick := range []bool{false, true} {
		b.view.Quick = quick
		if board, line, story := b.board(Query{}), b.timeline(rosa, Span{}), b.explain(rosa, ""); board.Quick != quick || line.Quick != quick || story.Quick != quick {
			t.Errorf("quick time %v: board %v, course %v, story %v", quick, board.Quick, line.Quick, story.Quick)
		}
	}
}
