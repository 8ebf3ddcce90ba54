package rules_test

import (
	"testing"

	"stepgate/rules"
)

// TestReportByPhone: a report that the clinic takes by phone counts like a
// text that came in the moment before the date is decided.
func TestReportByPhone(t *testing.T) {
	runRows(t, []row{
		{name: "a score over the hold line holds", program: quick(1, 2), days: "d0 d0 @5 - -", p: "1 2 2 2 2", why: "first_day tick 3xpain_hold"},
		{name: "easy ones clear it", days: "d0 d5 - @0 @d0 -", p: "1 2 2 2 3 4", why: "first_day tick pain_hold pain_hold tick tick"},
		{name: "the worst of the day counts", days: "d0 d0 d1/@0 d5 @0 -", p: "1 2 3 4 4 4"},
		{name: "a danger word pauses until a release", days: "d0 d0 @red - release/@0 -", state: "active active paused paused eased eased", send: "y y n n y y"},
		{name: "a pause written before a release is ended by it, as after a text", days: "d0 d0 @8/release -", why: "first_day tick block_again pain_hold"},
		{name: "that text", days: "d0 d0/8 release -", why: "first_day tick block_again pain_hold"},
		{name: "one written after the release stands", days: "d0 d0 release/@8 -", state: "active active paused paused", why: "first_day tick paused paused"},
		{name: "a done counts toward the next step", program: quick(1, 2), days: "7x@d0 @d0 -", step: "7x1 2 2"},
		{name: "stop ends the messages, start does not begin them again", days: "d0 @stop @start @d0 start -", send: "y n n n n y"},
		{name: "a wrong number does too", days: "d0 @wrong - confirm", send: "y n n y"},
		{name: "it ends a silence", days: "d0 6x- @d0 -", send: "9xy"},
		{name: "before the first text", days: "@5 - -", p: "1 1 1"},
	})
}

// TestReportByPhoneCountsOnce: the same words again are the same report, other
// words another.
func TestReportByPhoneCountsOnce(t *testing.T) {
	p, e := plan(1, 3, 5), enrolled()
	e.Entries = []rules.Entry{{Kind: rules.EntryReport, On: monday, By: "front desk", Said: "P5 D"}}
	five := 5
	s, _ := rules.EnterReport(p, &e, rules.State{}, e.Entries[0], rules.Reading{Done: rules.DoneAll, Pain: &five}, monday, false)
	if got := rules.Pending(&e, s, monday); len(got) != 0 {
		t.Errorf("still to be read: %v", got)
	}
	if s.Heard.Score == nil || *s.Heard.Score != 5 || s.Heard.Halves != 2 || s.Rev < 2 {
		t.Errorf("heard %+v, revision %d", s.Heard, s.Rev)
	}
	e.Entries = append(e.Entries, e.Entries[0])
	e.Entries[1].Said = "P2 D"
	if got := rules.Pending(&e, s, monday); len(got) != 1 || got[0].Said != "P2 D" {
		t.Errorf("to be read: %v", got)
	}
}

// TestOldReportByPhone: one of a date before the latest decided one can worsen,
// and clears no hold, brings no device back and counts toward no step.
func TestOldReportByPhone(t *testing.T) {
	p, e := plan(1, 3, 5), enrolled()
	num := func(n int) *int { return &n }
	entry := rules.Entry{Kind: rules.EntryReport, On: monday, By: "front desk", Said: "x"}
	held := rules.State{Decided: monday + 3, P: 4, Hold: &rules.PainHold{Since: monday + 2}}
	s, h := rules.EnterReport(p, &e, held, entry, rules.Reading{Pain: num(0), Done: rules.DoneAll, SkinOK: true}, monday+3, false)
	if s.Heard != (rules.Heard{}) || len(h.Notices) != 0 || len(s.Read) != 1 {
		t.Errorf("an easy one: heard %+v, %+v", s.Heard, h)
	}
	s, _ = rules.EnterReport(p, &e, held, entry, rules.Reading{Pain: num(5), Done: rules.DoneAll}, monday+3, false)
	if s.Heard.Score == nil || *s.Heard.Score != 5 || s.Heard.Halves != 0 || s.Heard.Clean {
		t.Errorf("a worse one: %+v", s.Heard)
	}
	s, h = rules.EnterReport(p, &e, held, entry, rules.Reading{Flags: []rules.RedFlag{{Name: "numb", Tier: rules.UrgentClinic}}}, monday+3, false)
	if s.Pause == nil || len(h.Notices) == 0 {
		t.Errorf("a danger sign: %+v, %+v", s, h)
	}
	entry.On = monday + 3
	s, _ = rules.EnterReport(p, &e, held, entry, rules.Reading{Pain: num(0)}, monday+3, false)
	if s.Heard.Score == nil {
		t.Error("one of the day itself does not count")
	}
}
