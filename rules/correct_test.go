package rules_test

import (
	"testing"

	"stepgate/rules"
)

// TestReleasedAsBefore: a pause that was a false alarm, "P8" for "P3". P is
// where it was, before and after the pause was settled; the pain hold that
// came with it clears in its own two dates.
func TestReleasedAsBefore(t *testing.T) {
	two := change(quick(1, 2, 3), func(p *rules.Program) { p.Pain.ClearDays = 2; p.Wear = hourly })
	runRows(t, []row{
		{name: "after the settlement", program: two, days: "9xd0 8 - asbefore/0 0 - -",
			p: "1-10 1 10 10 11 12", step: "7x1 3x2 1 2 2 2 2", w: "1-8 7x8",
			why: "first_day 9xtick paused pain_hold pain_hold tick tick", send: "10xy n 4xy"},
		{name: "before it", program: two, days: "9xd0 8 asbefore/0 0 -",
			p: "1-10 10 10 11", why: "first_day 9xtick pain_hold pain_hold tick", send: "13xy"},
		{name: "a danger word before the settlement", program: two, days: "9xd0 red asbefore/0 0 -", p: "1-10 10 10 11"},
		{name: "in a hold, whose count begins anew", program: two, days: "9xd0 5 0 8 asbefore/0 0 -", p: "1-10 10 10 10 10 11"},
		{name: "plainly released it is not undone", program: two, days: "9xd0 8 - release/0 0 -", p: "1-10 1 1 1 2"},
		{name: "eased at the first block, the dose stays eased while the hold stands", program: two, days: "4xd0 8 - asbefore/0 0 -",
			p: "1-5 1 5 5 6", state: "5xactive paused eased eased active"},
		{name: "a score over the step-back line during the pause was none", program: two, days: "15xd0 8 7x- 6 - asbefore/0 0 -",
			p: "1-16 8x8 1 1 1 2"},
		{name: "a second alarm during the pause is undone alone", program: two, days: "15xd0 8 8x- 9 - asbefore/0 0 -", p: "1-16 9x8 1 8 8 9"},
		{name: "an alarm beside it not settled yet stays undone, the first stays", program: two, days: "15xd0 8 - 9 asbefore/0 0 -", p: "1-16 8 8 8 8 9"},
		{name: "a break meanwhile takes one block", program: two, days: "15xd0 8 14x- asbefore 0 0 -", p: "1-16 17x8 9"},
		// "P stays where it was" is meant for an alarm that is soon seen to be
		// none. Where the break was counted from the lower block already, both
		// stand: the release comes after weeks without a report.
		{name: "a break that is counted already stands beside the one of the pause", program: two, days: "15xd0 8 15x- asbefore 0 0 -",
			p: "1-16 14x8 4x1 2"},
		{name: "a break that is over by then has taken one block from where it was", program: two,
			days: "15xd0 8 14x- 0 - asbefore/0 0 -", p: "1-16 14x8 1 1 8 9 10"},
		{name: "a cap meanwhile binds", program: two, days: "15xd0 8 cap1 asbefore/0 0 -", p: "1-16 1 7 7 7"},
		{name: "another program meanwhile begins at one", program: two, more: []*rules.Program{change(two, func(p *rules.Program) { p.ID = "other" })},
			days: "15xd0 8 program0 asbefore/0 0 -", p: "1-16 1 1 1 2"},
		{name: "also where the pause was settled in the one before", program: two, more: []*rules.Program{change(two, func(p *rules.Program) { p.ID = "other" })},
			days: "15xd0 8 - program0 asbefore/0 0 -", p: "1-16 8 1 1 1 2"},
		{name: "it leaves no protection behind", program: two, days: "9xd0 8 - asbefore/0 0 d0 6 -", p: "1-10 1 10 10 11 12 1"},
		{name: "of a clinician's hold alone", program: two, days: "3xd0 hold/d0 asbefore/d0 d0", p: "1 2 3 3 4 5"},
		{name: "in maintenance", program: kept(2, 1, 2), days: "16xd0 8 - asbefore/0 -", p: "1-17 8 17 18",
			state: "14xactive 3xmaintenance paused held maintenance"},
		{name: "before the first text", program: two, before: "8", days: "asbefore/0 0 -", p: "1 1 2"},
	})
}

func TestCorrectedReports(t *testing.T) {
	steady := change(plan(1, 2), func(p *rules.Program) { p.Pain = tendon })
	runRows(t, []row{
		{name: "struck before it is settled, the score does not count", days: "d0 d5 strike1/d0 d0", p: "1-4"},
		{name: "replaced before it is settled, the other does", days: "d0 d5 replace1=7 - -", why: "first_day tick block_again pain_hold pain_hold"},
		{name: "struck later, what was decided stays decided", days: "d0 d5 - strike1 0 0 -", why: "first_day tick 4xpain_hold tick"},
		{name: "the window has it no more", program: steady, days: "5xd0 d4 d0 strike5/d0 -", p: "1-9"},
		{name: "where without it the rule is not met", program: steady, days: "5xd0 d4 d0 d0 -", p: "1-7 7 7"},
		{name: "replaced by a worse one, it counts in the next settlement", days: "d0 d1 d0 replace1=5/d0 - -", p: "1 2 3 3 3 3",
			why: "first_day tick tick 3xpain_hold"},
		{name: "by a better one, it does not start a hold anew", days: "d0 d5 d0 d0 replace1=4/d0 -", p: "1 2 2 2 3 4"},
		{name: "not where a worse one was heard since", days: "d0 d1 d5 replace1=4/d0 - -", why: "first_day tick tick 3xpain_hold"},
		{name: "a report that nobody made", days: "d0 strike9 d0", p: "1-3"},
	})
	out := row{days: "d0 d1 d5 replace1=4/d0"}.play(t)
	if why := only(t, out, 3).Why; why.Score == nil || *why.Score != 5 {
		t.Errorf("%+v, want the worst, 5", why)
	}
}
