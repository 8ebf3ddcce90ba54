package rules_test

import (
	"testing"
	"time"

	"stepgate/rules"
)

// hourly is the wear-in of the demo program: one hour on the first day, one
// more each day, eight in full (common practice).
var hourly = &rules.Wear{First: time.Hour, Add: time.Hour, Every: 1, Full: 8 * time.Hour}

func wearing(w *rules.Wear) *rules.Program {
	return change(plan(1, 3), func(p *rules.Program) { p.Wear = w })
}

func TestWearArithmetic(t *testing.T) {
	half := 30 * time.Minute
	for _, c := range []struct {
		name      string
		w         rules.Wear
		fullDay   int
		onDay     map[int]time.Duration
		lowerFrom map[int]int
	}{
		{"an hour more each day", *hourly, 8, map[int]time.Duration{1: time.Hour, 5: 5 * time.Hour, 8: 8 * time.Hour, 20: 8 * time.Hour},
			map[int]int{1: 1, 2: 1, 5: 4, 8: 7, 20: 7}},
		{"every second day", rules.Wear{First: time.Hour, Add: half, Every: 2, Full: 2 * time.Hour}, 5,
			map[int]time.Duration{1: time.Hour, 2: time.Hour, 3: 3 * half, 4: 3 * half, 5: 2 * time.Hour},
			map[int]int{1: 1, 2: 1, 3: 1, 4: 1, 5: 3, 9: 3}},
		{"weekly growth that does not meet the full time evenly", rules.Wear{First: 2 * time.Hour, Add: 4 * time.Hour, Every: 7, Full: 8 * time.Hour}, 15,
			map[int]time.Duration{7: 2 * time.Hour, 8: 6 * time.Hour, 14: 6 * time.Hour, 15: 8 * time.Hour}, map[int]int{14: 1, 15: 8}},
		{"no growth", rules.Wear{First: time.Hour, Every: 1, Full: 8 * time.Hour}, 1,
			map[int]time.Duration{1: time.Hour, 9: time.Hour}, map[int]int{1: 1}},
		{"full from the first day", rules.Wear{First: 8 * time.Hour, Add: time.Hour, Every: 1, Full: 8 * time.Hour}, 1,
			map[int]time.Duration{1: 8 * time.Hour}, map[int]int{1: 1}},
	} {
		if got := c.w.FullDay(); got != c.fullDay {
			t.Errorf("%s: full on wear day %d, want %d", c.name, got, c.fullDay)
		}
		for day, want := range c.onDay {
			if got := c.w.OnDay(day); got != want {
				t.Errorf("%s: wear day %d gives %v, want %v", c.name, day, got, want)
			}
		}
		for day, want := range c.lowerFrom {
			if got := c.w.Lower(day); got != want {
				t.Errorf("%s: the next lower time under wear day %d begins on %d, want %d", c.name, day, got, want)
			}
		}
	}
}

func TestWearDay(t *testing.T) {
	runRows(t, []row{
		{name: "goes up by one a date and stops at the first day that gives the full time",
			program: wearing(hourly), days: "10xd0", w: "1-8 8 8", wearWhy: "first_day 7xtick full full"},
		{name: "waits during a pain hold and goes on when it ends",
			program: wearing(hourly), days: "d0 d4 d0 d0 d0", w: "1 2 2 2 3", wearWhy: "first_day tick pain_hold pain_hold tick"},
		{name: "waits during a pause",
			program: wearing(hourly), days: "d0 d9 - -", w: "1 2 2 2", wearWhy: "first_day tick paused paused"},
		{name: "waits after not today", program: wearing(hourly), days: "d0 n d0", w: "1 2 2", wearWhy: "first_day tick not_today"},
		{name: "waits after under half of the hours asked; half is enough",
			program: wearing(hourly), days: "4xd0 w1.9 w2.5 -", w: "1-5 5 6", wearWhy: "first_day 4xtick wore_little tick"},
		{name: "the fewest hours of a day count", program: wearing(hourly), days: "d0 d0 w3/w1/w2 -", w: "1 2 3 3"},
		{name: "waits after a message not sent",
			program: wearing(hourly), days: "d0 d0/untaken d0 d0", w: "1 2 2 3", wearWhy: "first_day tick not_sent tick"},
		{name: "waits once three dates running have no report, and goes on after one",
			program: wearing(hourly), days: "d0 - - - - d0 -", w: "1-4 4 4 5", wearWhy: "first_day 3xtick three_silent three_silent tick"},
		{name: "two silent dates are not three", program: wearing(hourly), days: "- - d0 - - d0", w: "1-6"},
		{name: "does not wait with the program day at the end of a block",
			program: change(wearing(hourly), func(p *rules.Program) { p.Blocks[1].Week = 2; p.Advance.Last = 9 }),
			days:    "8xd0", p: "1-7 7", w: "1-8"},
		{name: "a program without a wear-in asks no wear", days: "d0 d0", w: "0 0", wearWhy: "no_wear no_wear"},
	})
}

func TestWearAsked(t *testing.T) {
	out := row{program: wearing(hourly), days: "10xd0"}.play(t)
	for i, o := range out {
		if want := min(8, time.Duration(i+1)) * time.Hour; o.dec.Wear != want {
			t.Errorf("wear day %d asks %v, want %v", o.dec.W, o.dec.Wear, want)
		}
		if want := i < 8; o.dec.WearNow != want {
			t.Errorf("date %d: worth a line %v, want %v", i, o.dec.WearNow, want)
		}
	}
}

func TestSkin(t *testing.T) {
	runRows(t, []row{
		{name: "out until a report without a skin complaint, back at the next lower time, then two such reports",
			program: wearing(hourly), days: "4xd0 b - d0 d0 d0 d0",
			w: "1-5 4 4 4 4 5", wearWhy: "first_day 4xtick skin skin skin_back skin_waits tick"},
		{name: "back at the first day of that time",
			program: wearing(&rules.Wear{First: time.Hour, Add: time.Hour, Every: 3, Full: 4 * time.Hour}),
			days:    "7xd0 b d0 -", w: "1-8 4 4", wearWhy: "first_day 7xtick skin skin_back"},
		{name: "at the lowest time back at the first day", program: wearing(hourly), days: "b d0 d0 d0 -", w: "1 1 1 1 2",
			wearWhy: "first_day skin skin_back skin_waits tick"},
		{name: "a date without a report is not a report without a complaint",
			program: wearing(hourly), days: "d0 d0 b d0 - d0 - d0 -", w: "1 2 3 2 2 2 2 2 3",
			wearWhy: "first_day tick tick skin skin_back skin_waits skin_waits skin_waits tick"},
		{name: "a complaint while waiting takes them out again, and down again",
			program: wearing(hourly), days: "4xd0 b d0 b d0 -", w: "1-5 4 4 3 3",
			wearWhy: "first_day 4xtick skin skin_back skin skin_back"},
		{name: "complaints on dates running cost one level",
			program: wearing(hourly), days: "4xd0 b b b d0 -", w: "1-5 4 4 4 4"},
		{name: "the worst of a day counts", program: wearing(hourly), days: "4xd0 b/d0 d0 -", w: "1-5 4 4",
			wearWhy: "first_day 4xtick skin skin_back"},
		{name: "devices may go back in during a pain hold, but no longer",
			program: wearing(hourly), days: "4xd0 5/b 5 5 5 5", w: "1-5 4 4 4 4",
			wearWhy: "first_day 4xtick skin skin_back skin_waits pain_hold"},
		{name: "a complaint before the first date", program: wearing(hourly), before: "b", days: "d0 d0", w: "1 1",
			wearWhy: "skin skin_back"},
		{name: "the program day goes on", program: wearing(hourly), days: "b - -", p: "1-3"},
	})
	out := row{program: wearing(hourly), days: "4xd0 b - d0 d0"}.play(t)
	for i, asked := range []time.Duration{4: 5 * time.Hour, 5: 0, 6: 0, 7: 4 * time.Hour} {
		if i < 4 {
			continue
		}
		dec := only(t, out, i)
		if out := i == 5 || i == 6; dec.Wear != asked || dec.WearOut != out || !dec.WearNow {
			t.Errorf("date %d: wear %v out %v worth a line %v, want %v %v true", i, dec.Wear, dec.WearOut, dec.WearNow, asked, out)
		}
	}
	if !out[4].evening.Skin.Out {
		t.Error("the devices are not out at once")
	}
	if why := only(t, out, 7).WearWhy; why.Have != 0 || why.Need != 2 || why.Rule != "wear" || why.At.File == "" {
		t.Errorf("back in: %+v, want 0 of 2 by the rule wear", why)
	}
}
