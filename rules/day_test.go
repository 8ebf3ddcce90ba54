package rules_test

import (
	"testing"

	"stepgate/rules"
)

func TestFirstDate(t *testing.T) {
	wear := func(p *rules.Program) { p.Wear = hourly }
	runRows(t, []row{
		{name: "the first decided date has P and W of 1, also when it comes late",
			program: change(plan(1, 3), wear), days: "skip skip skip d0 d0",
			p: ". . . 1 2", w: ". . . 1 2", why: ". . . first_day tick", wearWhy: ". . . first_day tick"},
		{name: "exercises that start later leave the wear-in alone",
			program: change(plan(1, 3), wear), enroll: func(e *rules.Enrollment) { e.Start = monday + 3 },
			days: "5xd0", p: "0 0 0 1 2", w: "1-5", step: "0 0 0 1 1", why: "3xnot_begun first_day tick", send: "5xy"},
		{name: "wear counts from the dispense date also when the exercises start first",
			program: change(plan(1, 3), wear), enroll: func(e *rules.Enrollment) { e.Dispensed = monday + 2 },
			days: "4xd0", p: "1-4", w: "0 0 1 2", wearWhy: "no_wear no_wear first_day tick"},
		{name: "a report before the first text counts",
			before: "5", days: "- d0", p: "1 1", why: "pain_hold pain_hold"},
		{name: "a step back before the first text eases the first day",
			before: "6", days: "-", p: "1", why: "block_again", state: "eased"},
		{name: "the first date waits for nothing but is still the first",
			days: "unheard d0", p: "1 2", why: "unheard tick"},
		{name: "a program of wear alone has no steps",
			program: change(plan(), wear), days: "3xd0", p: "1-3", w: "1-3", step: "3x0"},
	})
}

func TestFirstTextIsToldApart(t *testing.T) {
	out := row{days: "untaken - -"}.play(t)
	for i, first := range []bool{true, true, false} {
		if got := only(t, out, i).First; got != first {
			t.Errorf("date %d: first text %v, want %v", i, got, first)
		}
	}
}

func TestDecidable(t *testing.T) {
	e := enrolled()
	e.Start = monday + 2
	for _, c := range []struct {
		name string
		s    rules.State
		d    rules.Date
		want bool
	}{
		{"before anything begins", rules.State{}, monday - 1, false},
		{"on the dispense date", rules.State{}, monday, true},
		{"on the last decided date", rules.State{Decided: monday + 4}, monday + 4, false},
		{"on an earlier date, the clock set back", rules.State{Decided: monday + 4}, monday + 3, false},
		{"after downtime", rules.State{Decided: monday + 4}, monday + 9, true},
		{"after discharge", rules.State{Discharged: true}, monday + 9, false},
	} {
		if got := rules.Decidable(&e, c.s, c.d); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestHold(t *testing.T) {
	runRows(t, []row{
		{name: "a score at steady goes on", days: "d3 d3 d3", p: "1-3", why: "first_day tick tick"},
		{name: "a score between steady and hold goes on once",
			program: change(plan(1, 3), func(p *rules.Program) { p.Pain = tendon }), days: "d5 d0 d0", p: "1-3"},
		{name: "a score at the hold line holds until two clear dates are reported",
			days: "d0 d4 d3 d3 d0", p: "1 2 2 2 3", why: "first_day tick pain_hold pain_hold tick",
			state: "active active held held active"},
		{name: "a date over steady sets the count to nought",
			days: "d4 d0 d5 d0 d0 d0", p: "1 1 1 1 1 2"},
		{name: "a date without a score changes nothing",
			days: "4 0 - - 0 -", p: "5x1 2", why: "first_day 4xpain_hold tick"},
		{name: "a done without a number changes nothing", days: "4 0 d d 0 -", p: "5x1 2"},
		{name: "three clear dates where the program says three",
			program: change(plan(1), func(p *rules.Program) { p.Pain.ClearDays = 3 }),
			days:    "4 0 0 0 0", p: "1 1 1 1 2"},
		{name: "the worst of a day counts, whatever the order",
			days: "0/4/1 0 0 0", p: "1 1 1 2"},
		{name: "first-step pain is never a daily score", days: "f9 f9 f9", p: "1-3"},
		{name: "a report on a date slept through belongs to the last decided date",
			days: "d0 skip/4 - -", p: "1 . 1 1", why: "first_day . pain_hold pain_hold"},
	})
}

// TestDefaultLines: 0-3 keep going, 4-5 modify, 6-10 stop, of a public health
// service's self-help page; the pause line is ours. The advance rule is ours.
func TestDefaultLines(t *testing.T) {
	if got, want := rules.DefaultLines(), (rules.Lines{Steady: 3, Hold: 4, StepBack: 6, Pause: 8, ClearDays: 2}); got != want {
		t.Errorf("lines %+v, want %+v", got, want)
	}
	if got, want := rules.DefaultAdvance(), (rules.Advance{Done: 70, Last: 7, Scores: 2}); got != want {
		t.Errorf("advance %+v, want %+v", got, want)
	}
}

// tendon are lines with room between steady and hold: the starter advice for
// tendon loading, where pain up to 5 is allowed if it has settled by morning.
var tendon = rules.Lines{Steady: 3, Hold: 6, StepBack: 7, Pause: 8, ClearDays: 2}

func TestOverSteadyTwice(t *testing.T) {
	loading := change(plan(1, 3), func(p *rules.Program) { p.Pain = tendon })
	runRows(t, []row{
		{name: "an answer over steady after a score over steady counts as at the hold line",
			program: loading, days: "4 4 - -", p: "1 2 2 2", why: "first_day tick pain_hold pain_hold"},
		{name: "a silent date between does not forget the question",
			program: loading, days: "4 - 4 -", p: "1 2 3 3"},
		{name: "an answer at steady settles it", program: loading, days: "5 3 5 3", p: "1-4"},
		{name: "raised to a hold line that is also the pause line, it pauses",
			program: change(plan(1, 3), func(p *rules.Program) {
				p.Pain = rules.Lines{Steady: 3, Hold: 6, StepBack: 6, Pause: 6, ClearDays: 2}
			}), days: "4 4 -", state: "active active paused", send: "y y n"},
	})
	out := row{program: loading, days: "4 4 3"}.play(t)
	for i, want := range []rules.Question{rules.AskPain, rules.AskPainNow, rules.AskPainNow} {
		if got := only(t, out, i).Ask; got != want {
			t.Errorf("date %d asks %q, want %q", i, got, want)
		}
	}
	if got := out[1].hearings[0].Parts; len(got) != 1 || got[0] != rules.SayHold {
		t.Errorf("the second answer over steady is answered %v, want %v", got, rules.SayHold)
	}
}

func TestOneReasonSaysTheNumbers(t *testing.T) {
	out := row{days: "d0 d5 1 -"}.play(t)
	for i, want := range []struct {
		score, line, have int
	}{2: {5, 4, 0}, 3: {1, 0, 1}} {
		if i < 2 {
			continue
		}
		why := only(t, out, i).Why
		if why.Score == nil || *why.Score != want.score || why.Line != want.line || why.Have != want.have ||
			why.Need != 2 || why.Since != monday+1 || why.Rule != "pain.hold" {
			t.Errorf("date %d: %+v, want %+v of 2 since %v", i, why, want, monday+1)
		}
	}
}
