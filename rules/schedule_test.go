package rules_test

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"stepgate/rules"
)

// TestEveryOtherDayForTwelveWeeks: 42 sessions in 84 dates, whatever the
// program day does. Rathleff MS et al., Scand J Med Sci Sports
// 2015;25(3):e292-300 (every second day for twelve weeks).
func TestEveryOtherDayForTwelveWeeks(t *testing.T) {
	p := plan(1, 3, 5)
	for i := range p.Blocks {
		p.Blocks[i].Doses = everyOther(p.Blocks[i].Doses)
	}
	for name, days := range map[string]string{
		"done every day":          "84xd0",
		"scores alone":            "84x0",
		"held for weeks":          "20xd0 30xd5 34xd0",
		"a clinician's hold":      "9xd0 hold/d0 74xd0",
		"waiting at a block end":  "84xn0",
		"at the block's end once": "13xd0 14xn0 57xd0",
	} {
		due := 0
		for _, o := range (row{program: p, days: days}).play(t) {
			if len(o.dec.Doses) > 0 {
				due++
			}
			if odd := o.dec.Day%2 == 1; (len(o.dec.Doses) > 0) != odd {
				t.Fatalf("%s: on calendar day %d due %v", name, o.dec.Day, len(o.dec.Doses) > 0)
			}
		}
		if due != 42 {
			t.Errorf("%s: due on %d dates, want 42", name, due)
		}
	}
}

func TestSchedules(t *testing.T) {
	for _, c := range []struct {
		name string
		on   rules.Schedule
		want string // two weeks from a Wednesday
	}{
		{"every day", rules.Schedule{}, "xxxxxxx xxxxxxx"},
		{"every other day", rules.Schedule{Kind: rules.EveryOtherDay}, "x.x.x.x .x.x.x."},
		{"one day a week", rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 1}, "x...... x......"},
		{"two days a week", rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 2}, "x..x... x..x..."},
		{"three days a week are days 1, 3 and 5", rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 3}, "x.x.x.. x.x.x.."},
		{"seven days a week", rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 7}, "xxxxxxx xxxxxxx"},
		{"Monday and Thursday", rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Monday, time.Thursday}}, ".x...x. .x...x."},
		{"no weekday", rules.Schedule{Kind: rules.OnWeekdays}, "....... ......."},
	} {
		got := ""
		for d := 1; d <= 14; d++ {
			if d == 8 {
				got += " "
			}
			if c.on.Due(d, monday+1+rules.Date(d)) { // day 1 is a Wednesday
				got += "x"
			} else {
				got += "."
			}
		}
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestEveryCountOfDaysAWeekIsKept(t *testing.T) {
	for n := 1; n <= 7; n++ {
		due := 0
		for d := 1; d <= 7; d++ {
			if (rules.Schedule{Kind: rules.DaysAWeek, PerWeek: n}).Due(d, monday) {
				due++
			}
		}
		if due != n {
			t.Errorf("%d days a week: due on %d", n, due)
		}
	}
}

// TestSendsOnDatesWithNothingDue: nothing, except while the wear-in runs and
// during a pain hold.
func TestSendsOnDatesWithNothingDue(t *testing.T) {
	alternate := func(w *rules.Wear) *rules.Program {
		return change(plan(1), func(p *rules.Program) { p.Blocks[0].Doses, p.Wear = everyOther(p.Blocks[0].Doses), w })
	}
	fullAtOnce := change(plan(1), func(p *rules.Program) {
		p.Blocks[0].Doses[0].On = rules.Schedule{Kind: rules.OnWeekdays}
		p.Wear = &rules.Wear{First: 8 * time.Hour, Add: time.Hour, Every: 1, Full: 8 * time.Hour}
	})
	threeHours := &rules.Wear{First: time.Hour, Add: time.Hour, Every: 1, Full: 3 * time.Hour}
	runRows(t, []row{
		{name: "nothing", program: alternate(nil), days: "6xd0", send: "y n y n y n"},
		{name: "while the wear-in runs, with its last growth", program: alternate(threeHours), days: "6xd0", send: "y y y n y n"},
		{name: "during a pain hold", program: alternate(nil), days: "d4 - 0 - 0 - -", send: "y y y y y n y"},
		{name: "not for waiting", program: change(alternate(nil), func(p *rules.Program) { p.Weeks = 1 }), days: "10x-", send: "y n y n y n y n y n"},
		{name: "full wear from the first day is told once, and what a skin report changes",
			program: fullAtOnce, days: "d0 d0 b - d0 d0 d0 d0", send: "y n n y y y y n"},
		{name: "while the devices are out", program: alternate(threeHours), days: "4xd0 d0/b - d0 d0 d0 d0 d0 -",
			send: "y y y n y y y y y y y n"},
	})
}

func TestDosesListed(t *testing.T) {
	p := plan(1)
	p.Exercises["stretch"] = &rules.Exercise{ID: "stretch", Side: rules.SideAffected}
	p.Blocks[0].Doses = []rules.Dose{
		{Do: "raise", Sets: 3, Reps: 12, Sessions: 1, On: rules.Schedule{Kind: rules.EveryOtherDay}},
		{Do: "stretch", Sets: 1, Reps: 3, Hold: 30 * time.Second, Sessions: 2},
		{Do: "stretch", Sets: 1, Reps: 3, Sessions: 2, Side: rules.SideTogether},
	}
	out := row{program: p, days: "- -"}.play(t)
	first, second := only(t, out, 0).Doses, only(t, out, 1).Doses
	if len(first) != 3 || !reflect.DeepEqual(first[0], rules.Due{Exercise: "raise", Side: rules.SideEach, Sets: 3, Reps: 12, Sessions: 1}) {
		t.Errorf("day 1: %+v", first)
	}
	if len(second) != 2 || second[0].Side != rules.SideAffected || second[0].Hold != 30*time.Second || second[1].Side != rules.SideTogether {
		t.Errorf("day 2: %+v, want both stretches, the exercise's side unless the dose names one", second)
	}
}

// TestListed: "the second exercise" is the second of the last daily message.
func TestListed(t *testing.T) {
	p, e := plan(1, 3), enrolled()
	p.Exercises["stretch"] = &rules.Exercise{ID: "stretch", Side: rules.SideAffected}
	p.Blocks[0].Doses = []rules.Dose{
		{Do: "raise", Sets: 4, Reps: 12, Sessions: 1, On: rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Monday}}},
		{Do: "stretch", Sets: 2, Reps: 3, Sessions: 1, On: rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Monday, time.Tuesday}}},
	}
	for _, c := range []struct {
		name, days string
		want       []string
		sets       int
	}{
		{"on Monday both", "-", []string{"raise", "stretch"}, 4},
		{"on Tuesday one", "- -", []string{"stretch"}, 2},
		{"on Wednesday, with none due, all of the block", "3x-", []string{"raise", "stretch"}, 4},
		{"eased as the message had them", "6 - -", []string{"raise", "stretch"}, 2},
	} {
		out := play(p, e, nil, readDays(t, c.days))
		got := p.Listed(&e, out[len(out)-1].state)
		var ids []string
		for _, d := range got {
			ids = append(ids, d.Exercise)
		}
		if !slices.Equal(ids, c.want) || got[0].Sets != c.sets {
			t.Errorf("%s: %+v, want %v with %d sets", c.name, got, c.want, c.sets)
		}
	}
	if got := p.Listed(&e, rules.State{}); got != nil {
		t.Errorf("before the exercises begin: %v", got)
	}
}
