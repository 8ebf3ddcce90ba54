package rules_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"stepgate/rules"
)

// asking is a program that asks about first steps once a week.
func asking(p *rules.Program) *rules.Program {
	return change(p, func(p *rules.Program) {
		p.FirstStep = rules.DefaultFirstStep()
		p.Where["first step"] = rules.Pos{File: "programs/plan.yaml", Line: 9, Column: 3}
	})
}

// TestDefaultFirstStep: a change of about 2 points of 10 matters to the
// patient: Farrar JT et al., Pain 2001;94:149-58.
func TestDefaultFirstStep(t *testing.T) {
	if got, want := rules.DefaultFirstStep(), (rules.FirstStep{Every: 7, Rise: 2}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

func TestFirstStepQuestion(t *testing.T) {
	daily := asking(plan(1, 3))
	alternate := change(daily, func(p *rules.Program) { p.Blocks[0].Doses = everyOther(p.Blocks[0].Doses) })
	runRows(t, []row{
		{name: "on the first date and then weekly, instead of the daily score", program: daily, days: "16xd0",
			ask: "first-step 6xpain first-step 6xpain first-step pain"},
		{name: "never, where the program does not ask", days: "8xd0", ask: "8xpain"},
		{name: "again the next day, where the carrier did not take it", program: daily, days: "untaken 8xd0",
			ask: "first-step first-step 5xpain first-step pain"},
		{name: "put off by a score over steady and the hold after it", program: daily, days: "6xd0 d5 0 0 6xd0",
			ask: "first-step 6xpain pain_now pain first-step 4xpain first-step"},
		{name: "not a second time within half a week", program: daily, days: "6xd0 d5 3x- 0 0 7xd0",
			ask: "first-step 6xpain 4xpain_now pain first-step pain pain pain first-step pain pain"},
		{name: "an over-steady score that holds nothing puts it off too",
			program: change(daily, func(p *rules.Program) { p.Pain = tendon }), days: "6xd0 d5 d0 d0",
			ask: "first-step 6xpain pain_now first-step"},
		{name: "a check-in day brings a message where nothing is due", program: alternate, days: "9xd0",
			send: "y n y n y n y y y", ask: "first-step none pain none pain none pain first-step pain"},
		{name: "also where its question is put off", program: alternate, days: "d0 6xd0 d5 0 0 d0",
			send: "y n y n y n y y y y y", ask: "first-step none pain none pain none pain first-step pain_now pain pain"},
		{name: "a question put off moves no check-in day",
			program: change(daily, func(p *rules.Program) {
				p.Pain = tendon
				p.Blocks[0].Doses = []rules.Dose{{Do: "raise", Sets: 2, Reps: 10, Sessions: 1,
					On: rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Tuesday}}}}
			}), days: "6x0 4 8x0",
			send: "y y 5xn y y 5xn y", ask: "first-step pain 5xnone pain_now first-step 5xnone first-step"},
		{name: "in maintenance inside its own messages alone", program: change(asking(kept(2, 1, 2)), func(p *rules.Program) { p.FirstStep.Every = 3 }),
			days: "17xd0", send: "15xy n y", ask: "first-step pain pain first-step pain pain first-step pain pain first-step pain pain first-step pain pain none first-step"},
		{name: "counted from the first date, also where the exercises begin later", program: change(daily, func(p *rules.Program) { p.Wear = hourly }),
			enroll: func(e *rules.Enrollment) { e.Start = monday + 3 }, days: "9xd0", ask: "first-step 6xpain first-step pain"},
		{name: "asked late where the first dates were slept through", program: daily, days: "skip skip d0 4xd0 d0 d0", ask: ". . first-step 4xpain first-step pain"},
		{name: "not while away", program: daily, days: "5xd0 d0/a3 - - - d0", ask: "first-step 5xpain none none none first-step"},
	})
}

func TestFirstStepRule(t *testing.T) {
	usual := func(n int) func(*rules.Enrollment) {
		return func(e *rules.Enrollment) { e.UsualStep = &n }
	}
	for _, c := range []struct {
		name   string
		enroll func(*rules.Enrollment)
		rise   int
		days   string
		rises  []int // dates on which a rise is told
		hold   []int // dates decided by the first-step rule
	}{
		{name: "once is told", days: "f2 f4 - -", rises: []int{2}},
		{name: "one point is no rise", days: "f2 f3 f3 f3"},
		{name: "twice running starts a hold", days: "f2 f4 f4 0 0 -", rises: []int{2, 3}, hold: []int{3}},
		{name: "dates without an answer are not between", days: "f2 f4 d0 d0 f5 0 0 -", rises: []int{2, 5}, hold: []int{5}},
		{name: "an answer between is", days: "f2 f4 f2 f4 -", rises: []int{2, 4}},
		{name: "three running hold again", days: "f2 f4 f4 f4 -", rises: []int{2, 3, 4}, hold: []int{3, 4}},
		{name: "over the lowest of the last four answers, not the last", days: "f0 f2 f1 f2 -", rises: []int{2, 4}},
		{name: "the fifth last does not count, the answers that rose do", days: "f0 f2 f1 f1 f2 f2 -", rises: []int{2, 5}},
		{name: "the first answer has nothing to rise over", days: "f9 f9 -"},
		{name: "over the usual", enroll: usual(3), days: "f5 f5 -", rises: []int{1, 2}, hold: []int{2}},
		{name: "over the lowest answer, where the usual is higher", enroll: usual(6), days: "f1 f3 -", rises: []int{2}},
		{name: "over the usual, where the answers are higher", enroll: usual(0), days: "f2 f2 -", rises: []int{1, 2}, hold: []int{2}},
		{name: "the worst of a date counts", days: "f2 f4/f1 f1/f4 -", rises: []int{2, 3}, hold: []int{3}},
		{name: "a program may ask for more", rise: 3, days: "f2 f4 f4 f5 -", rises: []int{4}},
		{name: "nought is taken as one", rise: -2, days: "f2 f2 f3 -", rises: []int{3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := change(asking(plan(1, 3)), func(p *rules.Program) {
				if c.rise != 0 {
					p.FirstStep.Rise = max(0, c.rise)
				}
			})
			out := row{program: p, enroll: c.enroll, days: c.days}.play(t)
			var hold []int
			for i, o := range out {
				if why := o.dec.Why; why.Code == rules.FirstRise {
					hold = append(hold, i)
					if why.Rule != "first step" || why.At.Line != 9 || why.Score == nil || o.state.Hold == nil {
						t.Errorf("date %d: %+v", i, why)
					}
				}
			}
			if got := told(out, rules.NoticeFirstRise); !slices.Equal(got, c.rises) || !slices.Equal(hold, c.hold) {
				t.Errorf("rises told on %v, holds on %v; want %v and %v", got, hold, c.rises, c.hold)
			}
		})
	}
}

func TestFirstStepHold(t *testing.T) {
	p := asking(change(plan(1, 3), func(p *rules.Program) { p.Wear = hourly }))
	runRows(t, []row{
		{name: "P and W wait until the daily scores are clear", program: p, days: "f2 f4/0 f4/0 0 0 - -",
			p: "1 2 3 3 3 4 5", w: "1 2 3 3 3 4 5", why: "first_day tick tick first_step pain_hold tick tick",
			state: "3xactive held held active active"},
		{name: "the score of the date itself clears nothing, nor does one before", program: change(p, func(p *rules.Program) { p.Pain.ClearDays = 1 }),
			days: "f2 f4 f4/0 - 0 -", p: "1 2 3 3 3 4"},
		{name: "a rise sets the count of a standing hold to nought", program: p, days: "f2 f4 4 0 f4 0 0 -",
			p: "1 2 3 3 3 3 3 4", why: "first_day tick tick pain_hold pain_hold first_step pain_hold tick"},
		{name: "a score at a line comes first", program: p, days: "f2 f4 f4/7 - -", why: "first_day tick tick block_again pain_hold"},
		{name: "during a pause it holds as well", program: change(p, func(p *rules.Program) { p.Pain.ClearDays = 1 }),
			days: "f2 f4 8 f4/0 - release 0 -", why: "first_day tick tick paused paused pain_hold pain_hold tick"},
	})
	out := row{program: p, days: "f2 f4 f4 - 4 -"}.play(t)
	for i, want := range map[int]string{3: "first step", 4: "first step", 5: "pain.hold"} {
		if got := only(t, out, i).Why; got.Rule != want || got.Since != monday+2 {
			t.Errorf("date %d: %s, want the rule %q since %v", i, fmt.Sprintf("%+v", got), want, monday+2)
		}
	}
	if got := told(row{program: p, days: "f2 f4 f4 9x-"}.play(t), rules.NoticeHeldLong); !slices.Equal(got, []int{9}) {
		t.Errorf("held seven days told on %v, want once", got)
	}
	if got := told(row{program: p, days: "f2 f4 f4 5x- f9 - -"}.play(t), rules.NoticeHeldLong); !slices.Equal(got, []int{9}) {
		t.Errorf("held seven days, with a rise on that date, told on %v", got)
	}
}
