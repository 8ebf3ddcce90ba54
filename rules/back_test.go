package rules_test

import (
	"testing"
	"time"

	"stepgate/rules"
)

// quick is a program that climbs fast: a block a week, three dates of any
// report are enough to enter the next.
func quick(weeks ...int) *rules.Program {
	return change(plan(weeks...), func(p *rules.Program) {
		p.Advance = rules.Advance{Done: 0, Last: 3, Scores: 0}
		p.Pain.ClearDays = 1
	})
}

func TestStepBack(t *testing.T) {
	runRows(t, []row{
		{name: "to the first day of the previous block",
			program: quick(1, 2, 3), days: "9xd0 d6 - -", p: "1-10 1 1", step: "7x1 3x2 1 1",
			why: "first_day 9xtick step_back pain_hold"},
		{name: "from the third block to the second",
			program: quick(1, 2, 3), days: "15xd0 d7 -", p: "1-16 8"},
		{name: "within seven dates, only to the first day of the current block",
			program: quick(1, 2, 3), days: "15xd0 d6 d0 d0 d0 d0 d0 d0 d6 -",
			p: "1-16 8-14 8", why: "first_day 15xtick step_back 6xtick block_again"},
		{name: "on the seventh date the block is still kept, on the eighth it is lost",
			program: change(quick(1, 3, 5), func(p *rules.Program) { p.Advance.Last = 2 }),
			days:    "29xd0 d6 7xd0 d6 -", step: "14x1 14x2 2x3 8x2 1"},
		{name: "a worse date in between does not lengthen the protection",
			program: change(quick(1, 3, 5), func(p *rules.Program) { p.Advance.Last = 2 }),
			days:    "29xd0 d6 3xd0 d6 3xd0 d6 -", step: "14x1 14x2 2x3 8x2 1"},
		{name: "at the first block P is 1",
			program: quick(1, 2), days: "4xd0 d6 - -", p: "1-5 1 1", why: "first_day 4xtick block_again pain_hold"},
		{name: "the fresh window must fill again",
			program: change(quick(1, 2), func(p *rules.Program) { p.Advance.Last = 10; p.Pain.ClearDays = 1 }),
			days:    "d6 d0 10xd0", p: "1 1 2 3 4 5 6 7 7 7 7 8"},
	})
}

func TestStepBackIsARestDay(t *testing.T) {
	out := row{program: quick(1, 2), days: "9xd0 d6 - d0"}.play(t)
	rest := only(t, out, 10)
	if !rest.Rest || len(rest.Doses) != 0 || !rest.Send || rest.Ask != rules.AskPainNow || rest.Eased {
		t.Errorf("the date of the step back: %+v, want a rest day with the pain question", rest)
	}
	if next := only(t, out, 11); next.Rest || len(next.Doses) != 1 || next.Doses[0].Sets != 2 {
		t.Errorf("the date after: %+v, want the first block's two sets", next)
	}
}

func TestHoldOnADateWithNothingDueIsARestDay(t *testing.T) {
	p := change(plan(1), func(p *rules.Program) { p.Blocks[0].Doses = everyOther(p.Blocks[0].Doses) })
	out := row{program: p, days: "d4 - -"}.play(t)
	for i, rest := range []bool{false, true, false} {
		if dec := only(t, out, i); dec.Rest != rest || !dec.Send {
			t.Errorf("date %d: rest %v send %v, want rest %v and a message", i, dec.Rest, dec.Send, rest)
		}
	}
}

func everyOther(doses []rules.Dose) []rules.Dose {
	var out []rules.Dose
	for _, d := range doses {
		d.On = rules.Schedule{Kind: rules.EveryOtherDay}
		out = append(out, d)
	}
	return out
}

func TestEasedAtTheFirstBlock(t *testing.T) {
	for _, c := range []struct {
		name       string
		dose, want rules.Dose
	}{
		{"half the sets", rules.Dose{Sets: 4, Reps: 10, Sessions: 2}, rules.Dose{Sets: 2, Reps: 10, Sessions: 2}},
		{"rounded up", rules.Dose{Sets: 3, Reps: 10, Sessions: 2}, rules.Dose{Sets: 2, Reps: 10, Sessions: 2}},
		{"with one set half the reps, rounded up", rules.Dose{Sets: 1, Reps: 15, Sessions: 2}, rules.Dose{Sets: 1, Reps: 8, Sessions: 2}},
		{"with one rep half the sessions", rules.Dose{Sets: 1, Reps: 1, Sessions: 3}, rules.Dose{Sets: 1, Reps: 1, Sessions: 2}},
		{"with one session half the hold", rules.Dose{Sets: 1, Reps: 1, Sessions: 1, Hold: 15 * time.Second},
			rules.Dose{Sets: 1, Reps: 1, Sessions: 1, Hold: 8 * time.Second}},
		{"an even hold", rules.Dose{Sets: 1, Reps: 1, Sessions: 1, Hold: 10 * time.Second},
			rules.Dose{Sets: 1, Reps: 1, Sessions: 1, Hold: 5 * time.Second}},
		{"nothing to halve", rules.Dose{Sets: 1, Reps: 1, Sessions: 1}, rules.Dose{Sets: 1, Reps: 1, Sessions: 1}},
	} {
		p := plan(1, 3)
		p.Blocks[0].Doses = []rules.Dose{c.dose}
		p.Blocks[0].Doses[0].Do = "raise"
		out := row{program: p, days: "d6 - d0 d0 d0"}.play(t)
		if first := only(t, out, 1); !first.Eased || !first.Rest {
			t.Errorf("%s: the rest day is %+v", c.name, first)
		}
		for _, i := range []int{2, 3} {
			dec := only(t, out, i)
			got := dec.Doses[0]
			if !dec.Eased || dec.State != rules.InEased || dec.P != 1 || got.Sets != c.want.Sets ||
				got.Reps != c.want.Reps || got.Sessions != c.want.Sessions || got.Hold != c.want.Hold {
				t.Errorf("%s, date %d: %+v, want eased %+v", c.name, i, dec, c.want)
			}
		}
		full := only(t, out, 4)
		if got := full.Doses[0]; full.Eased || full.P != 2 || got.Sets != c.dose.Sets || got.Reps != c.dose.Reps {
			t.Errorf("%s: after the hold %+v, want the full dose", c.name, full)
		}
	}
}

func TestPause(t *testing.T) {
	runRows(t, []row{
		{name: "a score at the pause line stops the messages and steps back",
			program: quick(1, 2), days: "9xd0 d8 - - -", p: "1-10 3x1", why: "first_day 9xtick 3xpaused",
			send: "10xy 3xn", state: "10xactive 3xpaused"},
		{name: "a danger word pauses and steps back without any score",
			program: quick(1, 2), days: "9xd0 red -", p: "1-10 1", send: "10xy n"},
		{name: "a danger word plainly denied does not pause",
			program: quick(1, 2), days: "9xd0 denied -", p: "1-11", send: "11xy"},
		{name: "reports during a pause count: they end the pain hold, never the pause",
			program: quick(1, 2), days: "9xd0 d8 0 0 0 release -",
			p: "1-10 4x1 2", why: "first_day 9xtick 3xpaused released tick", send: "10xy 3xn y y"},
		{name: "a release does not end the pain hold, and P stays where the step back left it",
			program: quick(1, 2), days: "9xd0 d8 - release 0 -",
			p: "1-10 3x1 2", why: "first_day 9xtick paused pain_hold pain_hold tick"},
		{name: "reports during a pause may step back once more",
			program: quick(1, 2, 3), days: "15xd0 d8 7x0 6 -", p: "1-16 8x8 1", send: "16xy 9xn"},
		{name: "a pause-line score during a pause is a new pause",
			program: quick(1, 2), days: "9xd0 d8 - 9 - release", send: "10xy 3xn y"},
		{name: "a pause after the release pauses again", days: "8 release/8 -", send: "y y n"},
		{name: "a release read before the report is settled still loses the block",
			program: quick(1, 2), days: "9xd0 d9 release -", p: "1-10 1 1", why: "first_day 9xtick step_back pain_hold", send: "12xy"},
		{name: "START does not end a pause", days: "8 start - -", send: "y n n n"},
	})
}
