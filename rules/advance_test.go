package rules_test

import (
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// TestAdvanceRule: at the end of a two-week block with the default rule, 70%
// of the last 7 dates with an exercise due, two scores, none over steady.
func TestAdvanceRule(t *testing.T) {
	onDays := func(on rules.Schedule) func(*rules.Program) {
		return func(p *rules.Program) {
			for i := range p.Blocks {
				p.Blocks[i].Doses = []rules.Dose{{Do: "raise", Sets: 2, Reps: 10, Sessions: 1, On: on}}
			}
		}
	}
	tendonLines := func(p *rules.Program) { p.Pain = tendon }
	for _, c := range []struct {
		name   string
		change func(*rules.Program)
		week   string // the last seven dates of the block
		short  string // empty: met
		have   int
		need   int
	}{
		{name: "everything done", week: "7xd0"},
		// 0.7 x 7 = 4.9, to the nearest whole 5.
		{name: "five of seven done are 70% to the nearest whole", week: "d0 d0 d d d n n"},
		{name: "four of seven are not", week: "d0 d0 d d n n n", short: "done", have: 4, need: 5},
		{name: "some of it counts half", week: "d0 d0 d d s s n"},
		{name: "four and a half are not five", week: "d0 d0 d d s n n", short: "done", have: 4, need: 5},
		{name: "a day's best counts: some, then done", week: "s0/d0 s/d0 s/d s/d d/s n n"},
		{name: "two scores are enough", week: "d0 d d d d d d3"},
		{name: "one score is not", week: "d d d d d d d3", short: "scores", have: 1, need: 2},
		{name: "no score where the rule asks none", change: func(p *rules.Program) { p.Advance.Scores = 0 }, week: "7xd"},
		{name: "a score over steady under the hold line", change: tendonLines, week: "d0 d0 d4 d0 d0 d0 d0", short: "over steady"},
		{name: "a score at steady", change: tendonLines, week: "d0 d0 d3 d0 d0 d0 d0"},
		{name: "scores and nothing done", week: "7x0", short: "done", have: 0, need: 5},
		// 4 due on odd days of the calendar (9, 11, 13 fall in days 8 to 14): 3 due, 0.7 x 3 = 2.1, 2 needed.
		{name: "every other day: two of three done", change: onDays(rules.Schedule{Kind: rules.EveryOtherDay}), week: "0 d0 - n - d -"},
		{name: "every other day: one of three done", change: onDays(rules.Schedule{Kind: rules.EveryOtherDay}), week: "0 d0 - n - n -",
			short: "done", have: 1, need: 2},
		{name: "a done on a day with nothing due does not stand in", change: onDays(rules.Schedule{Kind: rules.EveryOtherDay}),
			week: "d0 d0 d n d n d", short: "done", have: 1, need: 2},
		{name: "one due date is not two", change: onDays(rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 1}), week: "7xd0",
			short: "due dates", have: 1, need: 2},
		{name: "two due dates are", change: onDays(rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Monday, time.Thursday}}),
			week: "d0 - - d0 - - -"},
		{name: "half of five rounds up to three", change: func(p *rules.Program) { p.Advance = rules.Advance{Done: 50, Last: 5, Scores: 2} },
			week: "n n d0 d0 n n n", short: "done", have: 2, need: 3},
		{name: "more dates than there are", change: func(p *rules.Program) { p.Advance.Last = 20 }, week: "7xd0", short: "dates", have: 14, need: 20},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plan(1, 3)
			if c.change != nil {
				c.change(p)
			}
			dec := only(t, row{program: p, days: "7xd0 " + c.week + " -"}.play(t), 14)
			if met := c.short == ""; met {
				if dec.P != 15 || dec.Step != 2 || dec.Why.Code != rules.Tick || dec.Why.Rule != "advance" || dec.Why.At.File == "" {
					t.Errorf("%+v, want day 15 of step 2 by the advance rule", dec)
				}
				return
			}
			why := dec.Why
			if dec.P != 14 || why.Code != rules.Waiting || why.Short != c.short || why.Have != c.have || why.Need != c.need ||
				why.Rule != "advance" || why.At.File == "" {
				t.Errorf("P %d, why %+v; want 14, waiting short of %q: %d of %d", dec.P, why, c.short, c.have, c.need)
			}
			if dec.State != rules.InWaiting || dec.Rest || len(dec.Notices) > 0 && dec.Notices[0].Kind == rules.NoticeHeldLong {
				t.Errorf("waiting is not a hold: %+v", dec)
			}
		})
	}
}

func TestAdvanceWindow(t *testing.T) {
	runRows(t, []row{
		{name: "the rule is asked only where the next day begins a block", days: "13x0 -", p: "1-14"},
		{name: "waiting ends on the first date the window allows",
			days: "7xd0 7xn d0 d0 d d d d0 -", p: "1-14 5x14 15 16"},
		{name: "dates away do not count, the ones before them do",
			days: "6xd0 d0/a2 - - 6xd0 - -", p: "1-7 7 7 8-14 15"},
		{name: "a date slept through is not decided and does not count",
			days: "8xd0 skip 5xd0 d0 -", p: "1-8 . 9-15"},
		{name: "the window begins anew with a release",
			days: "10xd0 hold/d0 release/d0 6xd0 -", p: "1-10 10 11-14 14 14 14 15"},
		{name: "the window begins anew with a release that released nothing",
			days: "10xd0 release/d0 6xd0 -", p: "1-14 14 14 14 15"},
		{name: "dates before the exercises start are not in it",
			program: change(quick(1, 2), func(p *rules.Program) { p.Advance.Last = 7; p.Advance.Done = 70; p.Wear = hourly }),
			enroll:  func(e *rules.Enrollment) { e.Start = monday + 7 },
			days:    "7xd0 7xn -", p: "7x0 1-7 7"},
		{name: "without a length the last block goes on", program: quick(1), days: "30xd0", p: "1-30"},
	})
}

func TestWhyOfScoreOverSteady(t *testing.T) {
	p := change(plan(1, 3), func(p *rules.Program) { p.Pain = tendon })
	out := row{program: p, days: "7xd0 d0 d0 d5 d0 d0 d0 d0 -"}.play(t)
	why := only(t, out, 14).Why
	if why.Score == nil || *why.Score != 5 || why.Since != monday+9 {
		t.Errorf("why %+v, want the 5 of %v", why, monday+9)
	}
}

// TestTheWholeTableInTwelveWeeks plays a patient who does everything through
// six blocks: each begins on its own calendar day.
func TestTheWholeTableInTwelveWeeks(t *testing.T) {
	p := change(plan(1, 3, 5, 7, 9, 11), func(p *rules.Program) { p.Weeks = 12 })
	runRows(t, []row{{name: "never late, never early", program: p, days: "84xd0", p: "1-84",
		step: strings.TrimSpace("14x1 14x2 14x3 14x4 14x5 14x6")}})
}
