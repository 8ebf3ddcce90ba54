package rules_test

import (
	"testing"
	"time"

	"stepgate/rules"
)

func TestMovedToAnotherProgram(t *testing.T) {
	other := change(quick(1, 2), func(p *rules.Program) { p.ID, p.Hash, p.Wear = "other", "0b", hourly })
	first := change(quick(1, 2), func(p *rules.Program) { p.Wear = hourly })
	runRows(t, []row{
		{name: "starts at one with both days", program: first, more: []*rules.Program{other},
			days: "9xd0 program0/d0 d0", p: "1-9 1 2", w: "1-8 8 1 2", why: "first_day 8xtick first_day tick",
			wearWhy: "first_day 7xtick full first_day tick"},
		{name: "a pain hold and what was reported come along", program: first, more: []*rules.Program{other},
			days: "9xd0 d4 program0/0 -", p: "1-10 1 2", why: "first_day 9xtick pain_hold tick"},
		{name: "a pause comes along", program: first, more: []*rules.Program{other},
			days: "d9 program0 -", send: "y n n"},
		{name: "the window begins anew", program: first,
			more: []*rules.Program{change(other, func(p *rules.Program) { p.Advance.Last = 8 })},
			days: "6xd0 program0/d0 8xd0", p: "1-6 1-7 7 8"},
	})
}

func TestEditedProgram(t *testing.T) {
	runRows(t, []row{
		{name: "P stays where a block is put before it, and the block is the same",
			program: quick(1, 3), more: []*rules.Program{quick(1, 2, 3)},
			days: "15xd0 program0/d0 d0", p: "1-17", step: "14x1 2 3 3"},
		{name: "a later block that P already lies in is entered by the advance rule, one at a time",
			program: quick(1, 5), more: []*rules.Program{quick(1, 2, 3, 4)},
			days: "23xd0 program0/d0 d0 d0 d0 d0", p: "1-23 23 23 23 24 25", step: "23x1 2 3 4 4 4"},
		{name: "a review before the block entered is waited for, one before the week P lies in already is not",
			program: quick(1, 6), more: []*rules.Program{change(quick(1, 2, 4, 5), func(p *rules.Program) { p.Reviews = []int{2, 5} })},
			days: "27xd0 program0/d0 d0 review/d0 d0 d0 d0 review/d0", p: "1-27 4x27 28 28 29", step: "29x1 2 3 3 3 4",
			why: "first_day 26xtick review review 3xtick review tick"},
		{name: "nor one in the midst of a block that P is past",
			program: quick(1, 6), more: []*rules.Program{change(quick(1, 2, 4, 5), func(p *rules.Program) { p.Reviews = []int{3} })},
			days: "27xd0 program0/d0 d0 d0", p: "1-27 27 27 28", step: "27x1 2 3 3"},
		{name: "a cap under that later block brings P down, also where the block served is under it",
			program: quick(1, 5), more: []*rules.Program{quick(1, 2, 3, 4)},
			days: "23xd0 program0/cap2/d0 cap0/d0 d0", p: "1-23 14 15 16", step: "23x1 2 3 3"},
		{name: "and not before its window is filled",
			program: quick(1, 5),
			more:    []*rules.Program{change(quick(1, 2, 3), func(p *rules.Program) { p.Advance = rules.DefaultAdvance() })},
			days:    "18xd0 program0/n n n 6xd0 -", p: "1-18 10x18", step: "26x1 2 3"},
		{name: "a block taken away goes back to the one before, and is entered anew",
			program: quick(1, 2, 3), more: []*rules.Program{quick(1, 2), change(quick(1, 2, 3), func(p *rules.Program) { p.Advance.Last = 30 })},
			days: "16xd0 program0/d0 program1/d0 d0", p: "1-17 17 17", step: "7x1 7x2 2x3 2 2 2", why: "first_day 16xtick waiting waiting"},
		{name: "a table made shorter ends by the advance rule, P stays",
			program: quick(1, 2, 3), more: []*rules.Program{change(quick(1, 2), func(p *rules.Program) { p.Weeks = 2 })},
			days: "16xd0 program0/d0 d0", p: "1-16 16 .", why: "first_day 15xtick finished ."},
		{name: "a full time made shorter brings the wear day down at once",
			program: wearing(hourly), more: []*rules.Program{wearing(&rules.Wear{First: time.Hour, Add: time.Hour, Every: 1, Full: 2 * time.Hour})},
			days: "6xd0 program0/d0 d0", w: "1-6 2 2"},
		{name: "an edit ends the protection of a step back",
			program: quick(1, 2, 3), more: []*rules.Program{change(quick(1, 2, 3), func(p *rules.Program) { p.Hash = "0c" })},
			days: "15xd0 d6 d0 program0/d6 -", p: "1-16 8 9 1"},
	})
}

// TestDatesMovedToLater: nothing is given before its date, and no block above
// the calendar week.
func TestDatesMovedToLater(t *testing.T) {
	p, e := change(quick(1, 2, 3), func(p *rules.Program) { p.Wear = hourly }), enrolled()
	out := play(p, e, nil, readDays(t, "16xd0"))
	s := out[15].evening
	for _, c := range []struct {
		name     string
		by       rules.Date
		p, w     int
		why      rules.Code
		dayBegun int
	}{
		{"not at all", 0, 17, 8, rules.Tick, 17},
		{"by five days", 5, 12, 8, rules.Tick, 12},
		{"by twelve days", 12, 5, 5, rules.Tick, 5},
		{"to the day", 16, 1, 1, rules.FirstDay, 1},
		{"to a day to come", 20, 0, 0, rules.NotBegun, -3},
	} {
		moved := e
		moved.Start, moved.Dispensed = e.Start+c.by, e.Dispensed+c.by
		_, dec := rules.Decide(p, &moved, s, monday+16, rules.Facts{})
		if dec.P != c.p || dec.W != c.w || dec.Why.Code != c.why || dec.Day != c.dayBegun {
			t.Errorf("start moved %s: P %d W %d on day %d (%s), want %d %d on %d (%s)",
				c.name, dec.P, dec.W, dec.Day, dec.Why.Code, c.p, c.w, c.dayBegun, c.why)
		}
	}
}
