package rules_test

import (
	"maps"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// TestRaisingAScoreNeverGivesMore: raising any one daily score in any history,
// with everything else equal, never gives a higher block or more wear time on
// any later date.
func TestRaisingAScoreNeverGivesMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := lives(t)
		r := dice{rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "raises"), 2))}
		better := l.play()
		for i, d := range l.days {
			for j, text := range d.texts {
				if text.Pain == nil || *text.Pain == 10 {
					continue
				}
				raised := r.in(*text.Pain+1, 10)
				text.Pain = &raised
				worse := l.with(i, j, text)
				noMore(t, better, worse.playFrom(i, better), worse, i, j)
			}
			for said, text := range d.phoned { // and of one taken by phone
				if text.Pain == nil || *text.Pain == 10 {
					continue
				}
				raised := r.in(*text.Pain+1, 10)
				text.Pain = &raised
				worse := l.withPhoned(i, said, text)
				noMore(t, better, worse.playFrom(i, better), worse, i, -1)
			}
		}
	})
}

// TestAddingADoneNeverGivesLess: a "done" more, on any date, never gives a
// lower block or less wear time on any later date.
func TestAddingADoneNeverGivesLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := lives(t)
		worse := l.play()
		for i := range l.days {
			better := l.with(i, len(l.days[i].texts), rules.Reading{Done: rules.DoneAll})
			noMore(t, better.playFrom(i, worse), worse, better, i, len(l.days[i].texts))
		}
	})
}

// with is the life with the j-th text of the i-th date changed, or added.
func (l life) with(i, j int, text rules.Reading) life {
	l.days = append([]day(nil), l.days...)
	texts := append([]rules.Reading(nil), l.days[i].texts...)
	if j == len(texts) {
		texts = append(texts, text)
	} else {
		texts[j] = text
	}
	l.days[i].texts = texts
	return l
}

// withPhoned is the life with a report by phone of the i-th date changed.
func (l life) withPhoned(i int, said string, text rules.Reading) life {
	l.days = append([]day(nil), l.days...)
	phoned := maps.Clone(l.days[i].phoned)
	phoned[said] = text
	l.days[i].phoned = phoned
	return l
}

// noMore compares two histories date by date. One who is finished is served no
// more: the worse history never finishes before the better one, and where the
// better one is finished it has had all there is to have.
func noMore(t *rapid.T, better, worse []outcome, l life, i, j int) {
	for k := range better {
		b, w := better[k].dec, worse[k].dec
		if (b == nil) != (w == nil) && !(b == nil && better[k].state.Finished) {
			t.Fatalf("text %d of date %d: date %d is decided in one history only\n%v", j, i, k, l)
		}
		if b == nil || w == nil {
			continue
		}
		if w.Step > b.Step || w.Wear > b.Wear {
			t.Fatalf("text %d of date %d: on date %d the worse history gives step %d (P %d, %s) and wear %v (W %d, %s), the better one step %d (P %d, %s) and wear %v (W %d, %s)\n%v",
				j, i, k, w.Step, w.P, w.Why.Code, w.Wear, w.W, w.WearWhy.Code,
				b.Step, b.P, b.Why.Code, b.Wear, b.W, b.WearWhy.Code, l)
		}
	}
}

// TestPairsThatWereAtOdds keeps the histories in which a plain reading of the
// rules gave the worse one more. Beside each stands what the rule is for and
// how it is read here: the reading that gives less load.
func TestPairsThatWereAtOdds(t *testing.T) {
	everyOtherThenDaily := change(quick(1, 2, 3), func(p *rules.Program) {
		p.Blocks[0].Doses = everyOther(p.Blocks[0].Doses)
		p.Advance = rules.Advance{Done: 80, Last: 9, Scores: 0}
	})
	for _, c := range []struct {
		name          string
		program       *rules.Program
		more          []*rules.Program
		better, worse string
	}{
		{
			// "If the carrier never took the due message, the next settlement
			// waits" is there because the patient did not get the dose. Paused
			// dates have no message to be not taken, so the first date after a
			// pause waits too: P stays where the step back left it.
			name: "paused for a date on which the carrier took nothing", program: quick(1, 2),
			better: "5/untaken untaken/0 untaken/0 untaken/0 release/0 7xd0",
			worse:  "8/untaken untaken/0 untaken/0 untaken/0 release/0 7xd0",
		},
		{
			// "Of the dates with an exercise due" asks whether the block was
			// done. The rest day of a step back has nothing due, and counting
			// it so would let the one who had to rest need fewer: it counts as
			// the block has it.
			name: "a rest day in the window",
			program: change(quick(1, 2), func(p *rules.Program) {
				p.Advance = rules.Advance{Done: 70, Last: 7, Scores: 0}
			}),
			better: "5 0 d0 d0 d0 d0 n 0 0 -",
			worse:  "6 0 d0 d0 d0 d0 n 0 0 -",
		},
		{
			// The same for dates spent in an earlier block, which asked for less.
			name: "an earlier block that asked for less is in the window", program: everyOtherThenDaily,
			better: "9xd0 n0 n0 n0 8xd0",
			worse:  "d4 8xd0 n0 n0 n0 8xd0",
		},
		{
			// A step back within seven dates stays in the block, because one
			// block has been lost for the same flare already. A cap brings both
			// to one block, and only one of them is protected: a cap ends it.
			name: "a cap on the block the worse one stepped back to", program: quick(1, 2, 3),
			better: "15xd0 d5 d0 cap2/d0 d6 - -",
			worse:  "15xd0 d6 d0 cap2/d0 d6 - -",
		},
		{
			// And on the date itself the cap comes first: the step back goes
			// back from the capped block.
			name: "a cap on the date of the step back", program: quick(1, 2, 3),
			better: "15xd0 d5 cap2/d0 d6 - -",
			worse:  "15xd0 d6 cap2/d0 d6 - -",
		},
		{
			// An edit that takes a block away does what a cap does.
			name: "an edit takes away the block the better one is in", program: quick(1, 2, 3),
			more:   []*rules.Program{change(quick(1, 2), func(p *rules.Program) { p.Hash = "0d" })},
			better: "15xd0 d5 d0 program0/d0 d6 - -",
			worse:  "15xd0 d6 d0 program0/d0 d6 - -",
		},
		{
			// W stops at the first day that gives full. An edit may bring that
			// nearer and a second put it back: it binds also while W waits, or
			// the one held through both would be left above.
			name: "full made shorter for the date of a hold", program: wearing(hourly),
			more: []*rules.Program{
				wearing(&rules.Wear{First: time.Hour, Add: time.Hour, Every: 1, Full: 2 * time.Hour}), wearing(hourly),
			},
			better: "5xd0 d0 program0/d0 program1/d0 d0",
			worse:  "5xd0 d4 program0/d0 program1/d0 d0",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			better := row{program: c.program, more: c.more, days: c.better}.play(t)
			worse := row{program: c.program, more: c.more, days: c.worse}.play(t)
			for i := range better {
				b, w := only(t, better, i), only(t, worse, i)
				if w.Step > b.Step || w.Wear > b.Wear {
					t.Errorf("date %d: the worse history gives step %d and wear %v (%s), the better one step %d and wear %v (%s)",
						i, w.Step, w.Wear, w.Why.Code, b.Step, b.Wear, b.Why.Code)
				}
			}
		})
	}
}

// TestSkinWaitsAcrossAnEdit: the devices go in and wait for clear days
// reports. One who put them in before an edit to fewer days must not wait
// longer than one who put them in after it.
func TestSkinWaitsAcrossAnEdit(t *testing.T) {
	before := change(wearing(hourly), func(p *rules.Program) { p.Pain.ClearDays = 3 })
	after := change(wearing(hourly), func(p *rules.Program) { p.Pain.ClearDays = 1 })
	more := []*rules.Program{after}
	without := row{program: before, more: more, days: "4xd0 b - d0 program0/d0 d0 d0"}.play(t)
	with := row{program: before, more: more, days: "4xd0 b d0 d0 program0/d0 d0 d0"}.play(t)
	for i := range with {
		if a, b := only(t, without, i), only(t, with, i); b.Wear < a.Wear {
			t.Errorf("date %d: with a done more wear %v, without %v", i, b.Wear, a.Wear)
		}
	}
}

// TestSkinReportsAtOdds: B takes the devices out until a report without B,
// then down one level. A "done" in between puts them back in, so the next B
// would cost a second level: it does also where the devices stayed out, or
// adding a done would give less.
func TestSkinReportsAtOdds(t *testing.T) {
	without := row{program: wearing(hourly), days: "4xd0 b - b - d0 -"}.play(t)
	with := row{program: wearing(hourly), days: "4xd0 b d0 b - d0 -"}.play(t)
	for i := range with {
		if a, b := only(t, without, i), only(t, with, i); b.Wear < a.Wear {
			t.Errorf("date %d: with a done more wear %v, without %v", i, b.Wear, a.Wear)
		}
	}
	if got := only(t, without, 9).Wear; got != 3*time.Hour {
		t.Errorf("after two runs of skin reports back at %v, want 3h", got)
	}
}
