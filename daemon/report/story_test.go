package report

import (
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/daemon/outcomes"
	"stepgate/rules"
	"stepgate/templates"
)

func newStory() *story {
	return &story{zone: time.UTC, decided: map[rules.Date]*rules.Decision{}, talkOf: map[string]int{}, undo: map[string]*rules.Decision{},
		byKey: map[string]rules.Date{}}
}

// noon of a date far from any bound.
const noonOf rules.Date = 20_000

func noon(days int) time.Time { return (noonOf + rules.Date(days)).Time().Add(12 * time.Hour) }

// An entry answers for an alert only where it was read after it and written on
// a later date.
func TestWhatAnswersAnAlert(t *testing.T) {
	release := func(on rules.Date) rules.Entry {
		return rules.Entry{Kind: rules.EntryRelease, On: noonOf + on, By: "J. Marlowe DPM"}
	}
	ahead := release(2)
	ahead.OfHold = noonOf - 3
	for name, c := range map[string]struct {
		entry rules.Entry
		read  time.Time
		want  string
	}{
		"a day later":             {release(1), noon(1), "release"},
		"before it, the same day": {release(0), noon(0).Add(-time.Hour), ""},
		"before it, dated ahead":  {release(1), noon(-1), ""},
		"dated before it":         {release(-1), noon(1), ""},
		"written with a hold":     {ahead, noon(2), ""},
		"a report taken by phone": {rules.Entry{Kind: rules.EntryReport, On: noonOf + 1, By: "T. Okafor"}, noon(1), ""},
	} {
		r := newStory()
		r.take(&journal.Event{At: c.read, Kind: journal.Revised, Entry: &c.entry})
		a := templates.ReportAlert{At: noon(0)}
		if r.acted(&a); a.How != c.want || a.Acked.IsZero() != (c.want == "") {
			t.Errorf("%s: %q by %q, answered %s; want %q", name, a.How, a.By, a.Acked, c.want)
		}
	}
}

// A message taken back before it was handed over undoes its date's decision;
// after that the date stands.
func TestDecisionStandsFromHandOver(t *testing.T) {
	for _, handed := range []bool{false, true} {
		r := newStory()
		r.take(&journal.Event{At: noon(0), Kind: journal.Intended, Out: &journal.Out{Key: "day/p/1", Kind: "daily", Decision: &rules.Decision{Date: noonOf}}})
		if handed {
			r.take(&journal.Event{At: noon(0), Kind: journal.HandedOut, Key: "day/p/1"})
			r.take(&journal.Event{At: noon(0), Kind: journal.Settled, Key: "day/p/1", Result: &journal.Result{Status: "retry"}})
		}
		r.take(&journal.Event{At: noon(0), Kind: journal.Withdrawn, Key: "day/p/1", Why: "not wanted any more"})
		if got := r.decided[noonOf] != nil; got != handed {
			t.Errorf("handed over %v, then taken back: the decision stands %v", handed, got)
		}
	}
}

// A release ends what stands open before the next date is decided: the reason
// that is shown is what is left, and the hold is told as ended.
func TestAReleaseBeforeTheNextDate(t *testing.T) {
	r := newStory()
	r.decided[noonOf] = &rules.Decision{Date: noonOf, State: rules.InPaused, Why: rules.Reason{Code: rules.Paused, By: "sudden pop"}}
	r.take(&journal.Event{At: noon(2), Kind: journal.Revised, Entry: &rules.Entry{Kind: rules.EntryRelease, On: noonOf + 2, By: "J. Marlowe DPM"}})
	days := []journal.Day{{Date: noonOf, State: rules.InPaused, Why: rules.Paused}}
	out := &templates.PatientReport{Made: noon(2), Lines: templates.ReportLines{Clear: 2},
		Spans: []templates.ReportSpan{{Kind: "pause", From: noonOf, To: noonOf, Open: true, Days: 1}}}
	p := &journal.Person{State: rules.State{Eased: true, Hold: &rules.PainHold{Since: noonOf - 1}}}
	stand(out, p, r, days, rules.InEased)
	if out.Why.Code != rules.PainHeld || out.Why.Since != noonOf-1 || out.Why.Need != 2 {
		t.Errorf("why: %+v", out.Why)
	}
	r.endOpen(out, p.State)
	if s := out.Spans[0]; s.Open || s.Ended != "release" || s.EndBy != "J. Marlowe DPM" || s.EndOn != noonOf+2 {
		t.Errorf("the pause: %+v", s)
	}
	p.State.Pause = &rules.Pause{Cause: "sudden pop"}
	out.Spans[0] = templates.ReportSpan{Kind: "pause", From: noonOf, To: noonOf, Open: true}
	if r.endOpen(out, p.State); !out.Spans[0].Open {
		t.Error("a pause that stands is told as ended")
	}
	p.State = rules.State{}
	if stand(out, p, r, days, rules.InActive); out.Why.Code != "" {
		t.Errorf("with nothing left: %+v", out.Why)
	}
}

// Today's date counts as held once it is decided, though it is not over.
func TestTodayIsHeld(t *testing.T) {
	days := []journal.Day{{Date: noonOf, D: 1, State: rules.InActive, Why: rules.FirstDay}, {Date: noonOf + 1, D: 2, State: rules.InHeld, Why: rules.PainHeld}}
	out := &templates.PatientReport{}
	fill(out, outcomes.Of(outcomes.Patient{Start: noonOf, Today: noonOf + 1, Days: days}), days)
	if len(out.Weeks) != 1 || out.Weeks[0].Held != 1 {
		t.Errorf("weeks %+v", out.Weeks)
	}
}

// A score that came the next morning stands with the day it is of.
func TestAScoreStandsWithItsDay(t *testing.T) {
	r, six := newStory(), 6
	r.take(&journal.Event{At: noon(1).Add(-4 * time.Hour), Kind: journal.Heard, In: &journal.In{Text: "P6", Day: noonOf, Reading: rules.Reading{Pain: &six}}})
	if got := r.dayOf(6, rules.PainHeld, noonOf+1); got != noonOf {
		t.Errorf("it stands with %s, want %s", got, noonOf)
	}
}

// A report that the clinic took by phone is not shown as a text of the patient's.
func TestAReportByPhoneIsToldSo(t *testing.T) {
	r := newStory()
	r.take(&journal.Event{At: noon(0), Kind: journal.Heard, In: &journal.In{Text: "P2 D"}})
	r.take(&journal.Event{At: noon(1), Kind: journal.Heard, In: &journal.In{Text: "P3"}, Entry: &rules.Entry{Kind: rules.EntryReport, By: "T. Okafor"}})
	if len(r.talk) != 2 || r.talk[0].Kind != "in" || r.talk[1].Kind != "phone" {
		t.Errorf("%+v", r.talk)
	}
}
