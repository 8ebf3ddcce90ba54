package outcomes

import (
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// story is one patient over three weeks: a good week, one with pain, a step
// back and a pause in it, and one away; today is day 22.
func story() Patient {
	p := Patient{ID: "p-01", Program: "arches", Start: monday, Dispensed: monday - 2, StepWeeks: []int{1, 3, 5},
		Lines: rules.DefaultLines(), State: rules.InActive, Today: monday + 21}
	for day := 1; day <= 22; day++ {
		d := plain(day)
		d.Sent, d.Wear = true, 60
		if day%2 == 1 {
			d.Due = []string{"calf", "band"}
		}
		p.Days = append(p.Days, d)
	}
	on := func(day int, change func(d *journal.Day)) { change(&p.Days[day-1]) }
	for _, day := range []int{1, 3, 5} {
		on(day, func(d *journal.Day) { d.Reports, d.Halves, d.Score, d.Worn = 1, 2, 1, 60 })
	}
	on(7, func(d *journal.Day) { d.Reports, d.Halves, d.Score, d.Worn = 1, 1, 4, 59 })
	on(8, func(d *journal.Day) { d.Why, d.State, d.P = rules.PainHeld, rules.InHeld, 7 })
	on(9, func(d *journal.Day) {
		d.Why, d.State, d.P, d.None, d.Reports, d.Score = rules.PainHeld, rules.InHeld, 7, true, 2, 6
	})
	on(10, func(d *journal.Day) { d.Why, d.State, d.P, d.Rest = rules.BlockAgain, rules.InEased, 1, true })
	on(11, func(d *journal.Day) { d.Why, d.State, d.P, d.Score, d.Reports = rules.PainHeld, rules.InEased, 1, 9, 1 })
	for day := 12; day <= 14; day++ {
		on(day, func(d *journal.Day) { d.Why, d.State, d.P, d.Sent = rules.Paused, rules.InPaused, 1, false })
	}
	on(15, func(d *journal.Day) { d.Why, d.P, d.Fate = rules.Released, 1, "undelivered" })
	for day := 16; day <= 21; day++ {
		on(day, func(d *journal.Day) { d.Why, d.State, d.P, d.Sent = rules.AwayCode, rules.InAway, 1, false })
	}
	on(22, func(d *journal.Day) { d.Why, d.P, d.Step = rules.Waiting, 14, 1 })
	return p
}

func TestCourseOfAStory(t *testing.T) {
	c := Of(story())
	weeks := []Counts{
		{Decided: 7, Stood: 7, Due: 4, Halves: 7, Done: 3, Some: 1, Sent: 7, Answered: 4, Scored: 4, Pain: 1},
		{Decided: 7, Stood: 4, Due: 2, NotToday: 1, Sent: 4, Answered: 2, Scored: 2, Pain: 2, Held: 4, Paused: 3},
		{Decided: 7, Stood: 1, Due: 1, Unreached: 1, Sent: 1, Paused: 1, Away: 6},
		{}, // today is not over
	}
	if len(c.Weeks) != len(weeks) {
		t.Fatalf("%d weeks", len(c.Weeks))
	}
	sum := Counts{Decided: 21, Stood: 12, Due: 7, Halves: 7, Done: 3, Some: 1, NotToday: 1, Unreached: 1,
		Sent: 12, Answered: 6, Scored: 6, Pain: 3, Held: 4, Paused: 4, Away: 6}
	for i, w := range c.Weeks {
		if w.Counts != weeks[i] || w.Number != i+1 || w.From != monday+rules.Date(7*i) {
			t.Errorf("week %d from %s: %+v\nwant %+v", w.Number, w.From, w.Counts, weeks[i])
		}
	}
	if c.Total != sum {
		t.Errorf("total %+v", c.Total)
	}
	if want := (WearCounts{Asked: 12, Reported: 4, Kept: 3, AskedMinutes: 240, WornMinutes: 239}); c.TotalWear != want {
		t.Errorf("wear %+v", c.TotalWear)
	}
	if w := c.Wear[0]; w.Asked != 5 || w.From != monday-2 || c.Wear[3].From != monday+19 {
		t.Errorf("wear counts from the dispense date: %+v", c.Wear)
	}
}

func TestSpansAndStepBacksOfAStory(t *testing.T) {
	c := Of(story())
	at := func(day int) rules.Date { return monday + rules.Date(day-1) }
	spans := []Span{
		{CausePain, rules.PainHeld, at(8), at(11), 4, false},
		{CausePause, rules.Paused, at(12), at(15), 4, false},
		{CauseAway, rules.AwayCode, at(16), at(21), 6, false},
		{CauseWaiting, rules.Waiting, at(22), at(22), 1, true},
	}
	if len(c.Spans) != len(spans) {
		t.Fatalf("%+v", c.Spans)
	}
	for i, s := range c.Spans {
		if s != spans[i] {
			t.Errorf("span %+v, want %+v", s, spans[i])
		}
	}
	if want := (Back{at(10), rules.BlockAgain, 1, 1}); len(c.Backs) != 1 || c.Backs[0] != want {
		t.Errorf("step backs %+v", c.Backs)
	}
	if s := c.Silence; s != (Silence{Last: at(11), Week: 2, Dates: 1}) {
		t.Errorf("silence %+v", s)
	}
}

// The calendar alone would have been at step 2 on day 15 and 3 on day 29.
func TestTheStepTheCalendarWouldHaveGiven(t *testing.T) {
	p := story()
	c := Of(p)
	for day, want := range map[int]int{1: 1, 14: 1, 15: 2, 22: 2} {
		if got := c.Steps[day-1]; got.Allowed != want || got.Day != day {
			t.Errorf("day %d: %+v", day, got)
		}
	}
	if w := c.Weeks[2]; w.Step != 1 || w.Allowed != 2 {
		t.Errorf("week 3: %+v", w)
	}
	for i := range p.Days {
		p.Days[i].P += 14 // enrolled to begin on program day 15
	}
	if got := Of(p).Steps; got[0].Allowed != 2 || got[14].Allowed != 3 {
		t.Errorf("ahead: %+v, %+v", got[0], got[14])
	}
	p.StepWeeks = nil
	if got := Of(p).Steps[20]; got.Allowed != 0 {
		t.Errorf("weeks not known: %+v", got)
	}
}

// Exercises that begin two weeks after the devices: the time before is week 0
// of the exercises, and weeks 1 and 2 of the wear.
func TestWeeksBeforeTheExercisesBegin(t *testing.T) {
	p := Patient{Start: monday, Dispensed: monday - 14, Lines: rules.DefaultLines(), Today: monday + 9}
	for day := -13; day <= 9; day++ {
		d := plain(day)
		d.Wear, d.Sent = 60, true
		if day < 1 {
			d.P, d.Step, d.Why = 0, 0, rules.NotBegun
		}
		p.Days = append(p.Days, d)
	}
	c := Of(p)
	if len(c.Weeks) != 3 || c.Weeks[0].Number != 0 || c.Weeks[0].Decided != 14 || c.Weeks[0].From != monday-14 || c.Weeks[2].Number != 2 {
		t.Errorf("%+v", c.Weeks)
	}
	if len(c.Wear) != 4 || c.Wear[0].Number != 1 || c.Wear[0].Asked != 7 || c.Wear[3].Asked != 2 {
		t.Errorf("%+v", c.Wear)
	}
}

// Dates that the service slept through leave weeks with nothing in them.
func TestAWeekThatWasNotDecidedIsKept(t *testing.T) {
	p := Patient{Start: monday, Days: []journal.Day{plain(1), plain(16)}}
	c := Of(p)
	if len(c.Weeks) != 3 || c.Weeks[1].Decided != 0 || c.Weeks[1].From != monday+7 || c.Total.Decided != 2 {
		t.Errorf("%+v", c.Weeks)
	}
	p.Days = append(p.Days, plain(16), plain(2)) // a date is decided once
	if n := Of(p).Total.Decided; n != 2 {
		t.Errorf("%d dates decided", n)
	}
	p.Start = 0 // gone from the files: day 1 as it was decided
	if c := Of(p); c.Weeks[2].From != monday+14 {
		t.Errorf("%+v", c.Weeks)
	}
}

func TestSilence(t *testing.T) {
	quiet := func(change func(day int, d *journal.Day)) Silence {
		p := Patient{Start: monday, Lines: rules.DefaultLines(), State: rules.InActive, Today: monday + 30}
		for day := 1; day <= 30; day++ {
			d := plain(day)
			d.Sent = true
			if day == 10 {
				d.Reports = 1
			}
			change(day, &d)
			p.Days = append(p.Days, d)
		}
		return Of(p).Silence
	}
	for _, c := range []struct {
		name   string
		change func(day int, d *journal.Day)
		dates  int
		week   int
	}{
		{"twenty dates", func(int, *journal.Day) {}, 20, 2},
		{"away in between", func(day int, d *journal.Day) {
			if day > 23 {
				d.State = rules.InAway
			}
		}, 13, 2},
		{"paused", func(day int, d *journal.Day) {
			if day > 10 {
				d.State = rules.InPaused
			}
		}, 0, 2},
		{"opted out", func(day int, d *journal.Day) {
			if day > 12 {
				d.State, d.Sent = rules.InOptedOut, false
			}
		}, 20, 2},
		{"nothing asked any more", func(day int, d *journal.Day) { d.Sent = day <= 10 }, 0, 2},
		{"asked from day 17 on", func(day int, d *journal.Day) { d.Sent = day >= 17 }, 14, 2},
		{"never", func(_ int, d *journal.Day) { d.Reports = 0 }, 30, 0},
	} {
		got := quiet(c.change)
		if got.Dates != c.dates || got.Week != c.week || got.Dropped != (c.dates >= 14) {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestCausesAndDatesThatStand(t *testing.T) {
	for _, c := range []struct {
		state rules.InState
		why   rules.Code
		cause Cause
		stood bool
	}{
		{rules.InActive, rules.Tick, "", true},
		{rules.InActive, rules.FirstDay, "", true},
		{rules.InWaiting, rules.Waiting, CauseWaiting, true},
		{rules.InHeld, rules.PainHeld, CausePain, true},
		{rules.InHeld, rules.FirstRise, CausePain, true},
		{rules.InHeld, rules.ClinicHeld, CauseClinic, true},
		{rules.InPaused, rules.StepBack, CausePause, false}, // a worse score during a pause
		{rules.InPaused, rules.Paused, CausePause, false},
		{rules.InActive, rules.Released, CausePause, true},
		{rules.InAway, rules.PainHeld, CausePain, false},
		{rules.InAway, rules.AwayCode, CauseAway, false},
		{rules.InOptedOut, rules.OptedOut, CauseOptOut, false},
		{rules.InSuspended, rules.Lost, CauseSilent, false},
		{rules.InActive, rules.NoConsent, CauseConsent, false},
		{rules.InActive, rules.Unheard, CauseSending, true},
		{rules.InMaintenance, rules.Tick, "", true},
		{rules.InFinished, rules.Finished, "", false},
	} {
		d := plain(1)
		d.State, d.Why = c.state, c.why
		if got := CauseOf(&d); got != c.cause || stands(&d) != c.stood {
			t.Errorf("%s, %s: %q, stands %v", c.state, c.why, got, stands(&d))
		}
	}
}

// A date on which the program day moved parts two holds; one that was not
// decided does not.
func TestSpansArePartedByADecidedDate(t *testing.T) {
	p := Patient{Start: monday}
	for _, day := range []int{1, 2, 3, 4, 8, 9} {
		d := plain(day)
		if day != 3 {
			d.Why = rules.PainHeld
		}
		p.Days = append(p.Days, d)
	}
	c := Of(p)
	if len(c.Spans) != 2 || c.Spans[0].Dates != 2 || c.Spans[0].Open ||
		c.Spans[1] != (Span{CausePain, rules.PainHeld, monday + 3, monday + 8, 3, true}) {
		t.Errorf("%+v", c.Spans)
	}
}
