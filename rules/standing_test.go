package rules_test

import (
	"testing"

	"stepgate/rules"
)

func TestStanding(t *testing.T) {
	two := change(plan(1, 3), func(p *rules.Program) { p.Wear = hourly })
	runRows(t, []row{
		{name: "a clinician's hold waits and keeps sending, a release ends it",
			program: two, days: "d0 d0 hold/d0 d0 release/d0 d0", p: "1 2 2 2 3 4", w: "1 2 2 2 3 4",
			why: "first_day tick clinic_hold clinic_hold tick tick", state: "active active held held active active", send: "6xy"},
		{name: "pain comes before a clinician's hold",
			program: quick(1, 2), days: "9xd0 d6 hold -", p: "1-10 1 1", why: "first_day 9xtick step_back pain_hold"},
		{name: "the pain hold outlives the clinician's release",
			days: "d4 hold release - -", p: "5x1", why: "first_day 4xpain_hold"},
		{name: "away two: the next two dates wait, nothing is sent",
			program: two, days: "d0 d0/a2 - - d0", p: "1 2 2 2 3", w: "1 2 2 2 3",
			why: "first_day tick away away tick", state: "active active away away active", send: "y y n n y"},
		{name: "away one is one date", days: "a1 - -", why: "first_day away tick"},
		{name: "away twenty-eight is the longest", days: "a28 29x-", why: "first_day 13xaway break 14xaway break"},
		{name: "away nought and twenty-nine change nothing", days: "a0 a29 d0", why: "first_day tick tick"},
		{name: "away said on a date slept through counts from the date before it",
			days: "d0 skip skip/a2 - - -", why: "first_day . . away tick tick"},
		{name: "away before the first date", before: "a2", days: "- - -", why: "away away tick", p: "1 1 2"},
		{name: "opted out waits and sends nothing until START",
			program: two, days: "d0 d0/stop - - start/d0 -", p: "1 2 2 2 2 3", w: "1 2 2 2 2 3",
			why: "first_day tick 3xopted_out tick", state: "active active 3xopted_out active", send: "y y n n n y"},
		{name: "the wrong person suspends, a confirmed contact goes on",
			program: two, days: "d0 d0/wrong - confirm/- d0", p: "1 2 2 3 4", w: "1 2 2 3 4",
			why: "first_day tick suspended tick tick", state: "active active suspended active active", send: "y y n y y"},
		{name: "reports of a suspended contact are not the patient's",
			days: "d0/wrong 9/b/red confirm -", why: "first_day suspended tick tick"},
		{name: "no consent waits and sends nothing",
			program: two, enroll: func(e *rules.Enrollment) { e.Consent = false },
			days: "- - -", p: "3x1", w: "3x1", why: "3xno_consent", send: "n n n"},
		{name: "unheard waits and sends all the same",
			program: two, days: "d0 d0/unheard d0", p: "1 1 2", w: "1 1 2", why: "first_day unheard tick", send: "y y y"},
		{name: "what was read before still counts when the rest is unheard",
			days: "d4 unheard", why: "first_day pain_hold"},
		{name: "after a message the carrier never took the next settlement waits",
			program: two, days: "d0 d0/untaken d0 d0", p: "1 2 2 3", w: "1 2 2 3", why: "first_day tick not_sent tick", send: "4xy"},
		{name: "discharge ends it: no date is decided any more", days: "d0 discharge d0", p: "1 . ."},
	})
}

func TestConsentWithdrawnThenGiven(t *testing.T) {
	p, e := plan(1, 3), enrolled()
	e.Consent = false
	s, dec := rules.Decide(p, &e, rules.State{}, monday, rules.Facts{})
	if dec.Why.Code != rules.NoConsent || dec.Send || s.P != 1 || dec.Why.At != e.At {
		t.Fatalf("without consent: %+v", dec)
	}
	e.Consent = true
	if _, dec = rules.Decide(p, &e, s, monday+1, rules.Facts{}); dec.Why.Code != rules.Tick || !dec.Send || !dec.First {
		t.Errorf("with consent: %+v, want a tick and the first text", dec)
	}
}

func TestUntakenOfAnOlderDateChangesNothing(t *testing.T) {
	p, e := plan(1, 3), enrolled()
	s1, first := rules.Decide(p, &e, rules.State{}, monday, rules.Facts{})
	s2, _ := rules.Decide(p, &e, s1, monday+1, rules.Facts{})
	if got := rules.Untaken(s2, first.Date); got.NotSent || got.Rev != s2.Rev {
		t.Errorf("late news of an older date: %+v", got)
	}
	if got := rules.Untaken(s1, first.Date); !got.NotSent || got.Greeted || got.Rev == s1.Rev {
		t.Errorf("news of the last date: %+v, want not sent and not greeted", got)
	}
}

func TestDecisionMadeWhileDischarged(t *testing.T) {
	p, e := plan(1, 3), enrolled()
	_, dec := rules.Decide(p, &e, rules.State{Discharged: true}, monday, rules.Facts{})
	if dec.Send || dec.State != rules.InDischarged {
		t.Errorf("send %v state %q, want none, discharged", dec.Send, dec.State)
	}
}

func TestCap(t *testing.T) {
	runRows(t, []row{
		{name: "waits on the last day of the capped block",
			program: quick(1, 2, 3), days: "cap1/d0 9xd0", p: "1-7 7 7 7", why: "first_day 6xtick 3xcap"},
		{name: "the capped block itself is entered",
			program: quick(1, 2, 3), days: "cap2/d0 16xd0", p: "1-14 3x14", why: "first_day 13xtick 3xcap"},
		{name: "under the current block sends P there",
			program: quick(1, 2, 3), days: "16xd0 cap1/d0 d0", p: "1-16 7 7", step: "7x1 7x2 3 3 1 1", why: "first_day 15xtick cap cap"},
		{name: "sends P there whatever else stands", program: quick(1, 2), days: "9xd0 d4 cap1/- -", p: "1-10 7 7", why: "first_day 9xtick pain_hold pain_hold"},
		{name: "also while away", program: quick(1, 2), days: "9xd0 a3 cap1/- -", p: "1-10 7 7", why: "first_day 9xtick away away"},
		{name: "a step back on the same date goes back from there",
			program: quick(1, 2, 3), days: "15xd0 d6 cap2/- -", p: "1-16 1 1", why: "first_day 15xtick step_back pain_hold"},
		{name: "lifting the cap lets the advance rule speak again",
			program: quick(1, 2), days: "cap1/d0 8xd0 cap0/d0 -", p: "1-7 7 7 8 9"},
		{name: "a cap over the last block changes nothing", program: quick(1, 2), days: "cap9/d0 8xd0", p: "1-9"},
	})
	out := row{program: quick(1, 2), days: "cap1/d0 7xd0"}.play(t)
	if why := only(t, out, 7).Why; why.Need != 1 || why.Rule != "entry" || why.At.Line != 40 {
		t.Errorf("why of a cap: %+v, want step 1 by the entry on line 40", why)
	}
	out = row{program: quick(1, 2), days: "cap2/d0 6xd0 cap1/d0"}.play(t)
	if why := only(t, out, 7).Why; why.Code != rules.Capped || why.At.Line != 47 {
		t.Errorf("why of a cap read this morning: %+v, want the entry on line 47", why)
	}
}

func TestEntriesCountOnce(t *testing.T) {
	e := enrolled()
	e.Entries = []rules.Entry{
		{Kind: rules.EntryHold, On: monday, By: "A"},
		{Kind: rules.EntryRelease, On: monday + 1, By: "A"},
		{Kind: rules.EntryCap, On: monday + 5, By: "A", Step: 1},
	}
	var s rules.State
	if got := rules.Pending(&e, s, monday-1); len(got) != 0 {
		t.Fatalf("before their dates: %v", got)
	}
	for _, want := range []struct {
		on   rules.Date
		kind rules.EntryKind
	}{{monday, rules.EntryHold}, {monday + 1, rules.EntryRelease}, {monday + 5, rules.EntryCap}} {
		due := rules.Pending(&e, s, want.on)
		if len(due) != 1 || due[0].Kind != want.kind {
			t.Fatalf("on %v: %v, want %s alone", want.on, due, want.kind)
		}
		rev := s.Rev
		if s = rules.Enter(s, due[0], want.on); s.Rev == rev {
			t.Errorf("%s does not void a decision made before it", want.kind)
		}
		if (s.Held != nil) != (want.kind == rules.EntryHold) {
			t.Errorf("after %s: held %+v", want.kind, s.Held)
		}
	}
	if s.Cap != 1 || len(rules.Pending(&e, s, monday+50)) != 0 {
		t.Errorf("cap %d, still pending %v", s.Cap, rules.Pending(&e, s, monday+50))
	}
	// A cap whose date has not come yet is not where the cap in force stands.
	p := quick(1, 2)
	e.Entries = append(e.Entries, rules.Entry{Kind: rules.EntryCap, On: monday + 90, Step: 2, At: rules.Pos{File: "later", Line: 9}})
	s.P, s.Week, s.Decided, s.Program = 7, 1, monday+20, p.ID
	if _, dec := rules.Decide(p, &e, s, monday+21, rules.Facts{}); dec.Why.Code != rules.Capped || dec.Why.At.File == "later" {
		t.Errorf("why: %+v", dec.Why)
	}
}
