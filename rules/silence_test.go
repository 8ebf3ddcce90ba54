package rules_test

import (
	"slices"
	"testing"

	"stepgate/rules"
)

// TestSilence: an alert after 3 dates, after 7 messages one question a week
// instead of the daily one, after 21 dates nothing until the clinic confirms
// the contact; after 14 dates back a block, and wear from the start.
func TestSilence(t *testing.T) {
	two := change(plan(1, 3), func(p *rules.Program) { p.Wear = hourly })
	runRows(t, []row{
		{name: "silent from the first day", program: two, days: "30x-",
			p: "1-7 7x7 16x1", w: "1-3 11x3 16x1",
			why:   "first_day 6xtick 7xthree_silent 7xbreak 7xsilent break silent",
			send:  "7xy 6xn y 6xn y 9xn",
			state: "21xactive 9xsuspended"},
		{name: "messages count to the weekly question, not dates",
			program: change(plan(1), func(p *rules.Program) { p.Blocks[0].Doses = everyOther(p.Blocks[0].Doses) }),
			days:    "20x-", send: "y n y n y n y n y n y n y n n n n n n n"},
		{name: "a weekly question that the carrier did not take is asked the next day",
			days: "13x- untaken 7x-", send: "7xy 6xn y y 6xn"},
		{name: "an answer brings the daily messages back; the program goes on a date later",
			days: "10x- d0 d0 d0", p: "1-7 7 7 7 7 7 8", send: "7xy 3xn n y y"},
		{name: "a report while nothing goes out counts, and brings nothing back",
			program: two, days: "25x- d0 - confirm - d0", p: "1-7 7x7 13x1 2 3 4",
			why: "first_day 6xtick 7xthree_silent 7xbreak 4xsilent silent silent tick tick tick"},
		{name: "a confirmed contact is asked again daily, but neither day moves before an answer",
			program: two, days: "25x- confirm - d0 d0", p: "1-7 7x7 14x1 2", w: "1-3 11x3 14x1 2", send: "7xy 6xn y 6xn y 4xn y y y y"},
		{name: "full wear and no exercises: there is nothing to answer",
			program: change(plan(), func(p *rules.Program) { p.Wear = hourly }), days: "8xd0 40x-", w: "1-8 40x8",
			p: "1-48", send: "8xy 40xn"},
		{name: "unless it asks about first steps",
			program: change(plan(), func(p *rules.Program) { p.Wear, p.FirstStep = hourly, rules.DefaultFirstStep() }),
			days:    "8xd0 15x-", w: "1-8 14x8 1", send: "8xy 6xn y 6xn y y"},
		{name: "the exercises have not begun and full wear is reached: the same",
			program: two, enroll: func(e *rules.Enrollment) { e.Start = monday + 30 }, days: "8xd0 23x- d0", w: "1-8 24x8",
			why: "30xnot_begun first_day tick"},
	})
}

func TestSilenceIsTold(t *testing.T) {
	out := row{days: "25x- d0 d0 - confirm d0"}.play(t)
	if got := told(out, rules.NoticeLost); !slices.Equal(got, []int{21}) {
		t.Errorf("21 silent dates told on %v", got)
	}
	for i, want := range map[int]bool{10: false, 25: true, 26: true, 29: false} {
		if len(out[i].hearings) == 0 {
			continue
		}
		h := out[i].hearings[0]
		if got := slices.Contains(h.Parts, rules.SayLost) && len(h.Notices) == 1 && h.Notices[0].Kind == rules.NoticeBack; got != want {
			t.Errorf("date %d: says %v tells %v, want told that the patient is back %v", i, h.Parts, h.Notices, want)
		}
	}
	if why := only(t, out, 22).Why; why.Since != monday || why.Need != 21 {
		t.Errorf("why: %+v, want since the first date", why)
	}
}

func TestWeeklyQuestion(t *testing.T) {
	p := change(plan(1, 3), func(p *rules.Program) { p.FirstStep = rules.DefaultFirstStep() })
	out := row{program: p, days: "16x-"}.play(t)
	for i, weekly := range []int{6: 0, 13: 1} {
		dec := only(t, out, i)
		if i != 6 && i != 13 {
			continue
		}
		if dec.Weekly != (weekly == 1) || dec.Ask != rules.AskPain || !dec.Send || (len(dec.Doses) == 0) != dec.Weekly {
			t.Errorf("date %d: %+v, want weekly %d, the pain question, and no exercises in it", i, dec, weekly)
		}
	}
}

// TestBreak: 14 dates away, opted out or without a report.
func TestBreak(t *testing.T) {
	three := change(quick(1, 2, 3), func(p *rules.Program) { p.Wear = hourly })
	runRows(t, []row{
		{name: "without a report: to the first day of the previous block", program: three, days: "9xd0 14x- d0 d0 -",
			p: "1-16 7x16 8 8 9", step: "7x1 7x2 9x3 3x2", w: "1-8 15x8 1 1 2"},
		{name: "at the first block, to its first day", program: three, days: "d0 14x- d0 -", p: "1-8 7x8 1 1"},
		{name: "away twenty-eight is one break; the program waits for the first report after it", program: three,
			days: "9xd0 d0/a28 28x- - d0 -", p: "1-10 14x10 16x1 2", w: "1-8 16x8 16x1 2",
			why: "first_day 9xtick 14xaway break 13xaway break break tick", send: "10xy 28xn 3xy"},
		{name: "away thirteen is none", program: three, days: "9xd0 d0/a13 13x- d0 -", p: "1-10 13x10 11 12", w: "1-8 17x8"},
		{name: "opted out; a report meanwhile ends none", program: three, days: "9xd0 d0/stop 10x- d0 9x- start/d0 d0 -",
			p: "1-10 14x10 8x1 2", why: "first_day 9xtick 14xopted_out break 6xopted_out break tick"},
		{name: "paused: the step back of the pause and the one of the break", program: three, days: "15xd0 d8 14x- release 0 -",
			p: "1-16 14x8 3x1", why: "first_day 15xtick 14xpaused break pain_hold three_silent"},
		{name: "a second break in one silence", program: change(quick(1, 2, 3, 4), func(p *rules.Program) { p.Wear = hourly }),
			days: "22xd0 14x- 14x- -", step: "7x1 7x2 7x3 15x4 14x3 2"},
		{name: "dates slept through belong to it", program: three, days: "9xd0 13xskip - -", p: "1-9 13x. 10 1"},
		{name: "a cap on the date of the break: the break counts from there", program: three, days: "15xd0 14x- cap2/d0 -",
			p: "1-22 7x22 1 1"},
		{name: "a cap during the break does the same", program: three, days: "15xd0 15x- cap2/d0 -", p: "1-22 7x22 8 1 1"},
		{name: "a cap that binds nothing does nothing", program: three, days: "15xd0 15x- cap3/d0 -", p: "1-22 7x22 8 8 8"},
		{name: "a score on a date away steps back as well", program: three, days: "15xd0 d0/a20 12x- 6 - 0 -",
			step: "7x1 7x2 15x3 2 1 1"},
		{name: "a step back between two breaks", program: quick(1, 2, 3, 4), days: "22xd0 14x- a20 - 6 12x-",
			step: "7x1 7x2 7x3 15x4 3x3 11x2 1"},
		{name: "the window begins anew when it is over", program: change(quick(1, 2), func(p *rules.Program) { p.Advance.Last = 10 }),
			days: "12xd0 14x- 11xd0", step: "10x1 16x2 10x1 2"},
		{name: "the exercises begin during the break", program: three,
			enroll: func(e *rules.Enrollment) { e.Start, e.FromDay = monday+16, 15 }, days: "16x- d0 d0 d0", p: "16x0 8 8 9"},
		{name: "another program during the break begins at one", program: three,
			more: []*rules.Program{change(three, func(p *rules.Program) { p.ID = "other" })},
			days: "15xd0 15x- program0/d0 d0 -", p: "1-22 7x22 8 1 1 2"},
		{name: "no wear-in when it comes, and one after: from the start", program: three,
			more: []*rules.Program{quick(1, 2, 3), three}, days: "8xd0 13x- program0 - program1", w: "1-8 14x8 1 1"},
	})
	out := row{program: three, days: "9xd0 d0/a28 28x- - d0"}.play(t)
	for _, i := range []int{24, 38} {
		why := only(t, out, i).Why
		if why.Since != monday+10 || why.Need != 14 {
			t.Errorf("date %d: %+v, want since %v", i, why, monday+10)
		}
	}
}

// TestBreakWithASkinReport: what is out stays out.
func TestBreakWithASkinReport(t *testing.T) {
	runRows(t, []row{{name: "out until a report without one, then from the start",
		program: change(wearing(hourly), func(p *rules.Program) { p.Weeks = 12 }), days: "4xd0 b 14x- d0 d0 d0 d0 d0 -",
		w: "1-5 14x4 1 1 1 2 3 4", wearWhy: "first_day 4xtick 15xskin skin_back skin_waits 3xtick"}})
}
