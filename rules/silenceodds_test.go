package rules_test

import (
	"testing"

	"stepgate/rules"
)

// TestSilencesThatWereAtOdds keeps what a plain reading of silences, breaks
// and questions gave too much to the worse of two histories, beside what the
// page means. The reading that gives less load is the one that stands.
func TestSilencesThatWereAtOdds(t *testing.T) {
	four := change(quick(1, 2, 3, 4), func(p *rules.Program) { p.Wear = hourly })
	scored := change(plan(1, 2), func(p *rules.Program) { p.Advance = rules.Advance{Done: 0, Last: 5, Scores: 1} })
	alternate := asking(change(quick(1, 4), func(p *rules.Program) {
		p.Pain = tendon
		p.Blocks[0].Doses = everyOther(p.Blocks[0].Doses)
	}))
	for _, c := range []struct {
		name          string
		program       *rules.Program
		more          []*rules.Program
		better, worse string
	}{
		{
			// "After a break of 14 dates back one block" means once for one
			// break. But a done in the midst of a long silence makes two
			// breaks of it, so a silence goes on counting: a block for every
			// 14 dates.
			name: "a done in the midst of a long silence", program: four,
			better: "22xd0 14x- d0 15x-", worse: "22xd0 30x-",
		},
		{
			// A report on a date away or opted out would likewise make two of
			// one; it ends no break, and dates away count as one break at most.
			name: "a done while away", program: four,
			better: "22xd0 d0/a28 13x- d0 14x- -", worse: "22xd0 d0/a28 28x- -",
		},
		{
			// "After 7 messages one weekly question" is about messages, and P
			// goes on to the end of its block. But the daily message of the
			// other one may be not taken, and then waits: a date on which the
			// message is withheld can't show that, so P and W wait from seven
			// silent dates on.
			name: "the message withheld on a date on which the carrier takes nothing", program: quick(1, 2, 3),
			better: "2xd0 5x- d 2x- 6xuntaken 3x-", worse: "2xd0 8x- 6xuntaken 3x-",
		},
		{
			// And the date after a silence waits too, where the report that
			// ends it came on such a date.
			name: "an answer on a date on which the message was withheld", program: scored,
			better: "2xd0 6x- d 5x- untaken/0 0 0", worse: "2xd0 12x- untaken/0 0 0",
		},
		{
			// "Nothing until the clinic confirms the contact": the word that a
			// contact is right counts also where nothing was in doubt yet, or
			// one who falls silent a day later would be lost after it.
			name: "a contact confirmed just before it is lost", program: four,
			better: "d0 - - d0 19x- confirm - - 14xd0", worse: "d0 22x- confirm - - 14xd0",
		},
		{
			// Messages stop in a pause, so nobody can fall silent in one, and
			// yet 21 dates of a pause without a report are counted: the one
			// who was only held is lost by then.
			name: "silent while paused", program: quick(1, 2),
			better: "d5 22x- release 14xd0", worse: "d8 22x- release 14xd0",
		},
		{
			// A cap that comes before the break of the one and after that of
			// the other: the break counts from the capped block in both.
			name: "a cap between two breaks", program: four,
			better: "22xd0 3x- d0 12x- cap2 4x- d0 d0", worse: "22xd0 16x- cap2 4x- d0 d0",
		},
		{
			// An edit that takes the block away does the same.
			name: "an edit between two breaks", program: four,
			more:   []*rules.Program{change(four, func(p *rules.Program) { p.Hash = "0f"; p.Blocks = p.Blocks[:2] })},
			better: "22xd0 3x- d0 12x- program0 4x- d0 d0", worse: "22xd0 16x- program0 4x- d0 d0",
		},
		{
			// "Weekly" from the last time it was asked would move with every
			// put-off question, and with it the message of a date with nothing
			// due: check-in days hang on the calendar.
			name: "a first-step question put off", program: alternate,
			better: "d0 unheard/d0 4xd0 3 14xd0 untaken/d0 - -", worse: "d0 unheard/d0 4xd0 4 14xd0 untaken/d0 - -",
		},
		{
			// A rise holds from its date on: a low score of that very date
			// clears nothing, also where a pause is what is shown.
			name: "a second rise while paused", program: asking(quick(1, 2)),
			better: "5xd0 f2 f5 d7 f5/0 release/0 d0 d0", worse: "5xd0 f2 f5 d8 f5/0 release/0 d0 d0",
		},
		{
			// A closing text not taken is the carrier's doing: it goes out
			// again at once, or the worse one would finish first.
			name: "the closing text not taken", program: lasting(1, 1),
			better: "7xd0 untaken - -", worse: "unheard/d0 6xd0 untaken - -",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			better := row{program: c.program, more: c.more, days: c.better}.play(t)
			worse := row{program: c.program, more: c.more, days: c.worse}.play(t)
			notMore(t, better, worse)
		})
	}
}

func notMore(t *testing.T, better, worse []outcome) {
	t.Helper()
	if len(better) != len(worse) {
		t.Fatalf("%d dates beside %d", len(better), len(worse))
	}
	for i := range better {
		b, w := better[i].dec, worse[i].dec
		if b == nil && better[i].state.Finished {
			continue
		}
		if b == nil || w == nil {
			t.Errorf("date %d is decided in one history only", i)
			continue
		}
		if w.Step > b.Step || w.Wear > b.Wear {
			t.Errorf("date %d: the worse history gives step %d and wear %v (%s), the better one step %d and wear %v (%s)",
				i, w.Step, w.Wear, w.Why.Code, b.Step, b.Wear, b.Why.Code)
		}
	}
}

// TestStartingDayTakenBack: within seven dates a step back stays in the block,
// since a block was lost already. A starting day that is taken back brings one
// who lost none to the same block, unprotected, so that ends it for both.
func TestStartingDayTakenBack(t *testing.T) {
	first := enrolled()
	first.FromDay = 22
	lower := first
	lower.FromDay = 15
	lives := func(score string) []outcome {
		days := readDays(t, "d0 d"+score+" d0 6 - -")
		days[3].enroll = &lower
		return play(quick(1, 2, 3, 4), first, nil, days)
	}
	better, worse := lives("5"), lives("6")
	notMore(t, better, worse)
	// And in a break the one who has had it already is where the other comes to.
	in := func(words string) []outcome {
		days := readDays(t, words)
		days[16].enroll = &rules.Enrollment{ID: "e1", Program: "plan", Dispensed: monday, Start: monday, Consent: true}
		return play(quick(1, 2, 3, 4), first, nil, days)
	}
	notMore(t, in("- - - d0 20x-"), in("24x-"))
	if got := only(t, worse, 4); got.Step != 2 || got.Why.Code != rules.StepBack {
		t.Errorf("%+v, want back to step 2", got)
	}
}
