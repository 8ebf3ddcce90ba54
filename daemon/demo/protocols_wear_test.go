package demo_test

import (
	"slices"
	"strings"
	"testing"
)

// wearDays are the minutes asked on each day; day 0 is none.
func wearDays(t *testing.T, texts []string) []int {
	t.Helper()
	list := make([]int, len(texts))
	for day, text := range texts {
		list[day] = wear(t, text)
	}
	return list
}

// TestWearingIn holds the wear times against the published schedules. Each row
// names its source and gives the least and the most minutes of a day; what is
// asked must lie between. full is the first day with the full time.
func TestWearingIn(t *testing.T) {
	t.Parallel()
	// grows is 1 h on day 1 and so many minutes more each day.
	grows := func(grow int) func(int) int { return func(day int) int { return 60 + (day-1)*grow } }
	for _, c := range []struct {
		program, source string
		least, most     func(day int) int
		fullFrom, fullTo,
		full int // the full day: no sooner, no later, and what it is here
	}{
		{"wear-four-days", "two NHS trusts, one schedule: day 1 30-60 min, day 2 1-3 h, day 3 3-7 h, day 4 7 h or more",
			func(day int) int { return []int{0, 30, 60, 180, 420}[day] },
			func(day int) int { return []int{0, 60, 180, 420, 24 * 60}[day] }, 4, 4, 4},
		{"wear-hourly", "two NHS trusts, one text: up to 1 h, 1-2 h more each day, full in 1-6 weeks", grows(60), grows(120), 7, 42, 8},
		{"wear-all-day", "NHS Scotland leaflet: 1 h, 1 h more each day, all day", grows(60), grows(60), 1, 24, 12},
		{"wear-weeks", "a US orthopedic group: 1-2 h, 1-2 h more each day, full in 2-4 weeks", grows(60),
			func(day int) int { return day * 120 }, 14, 28, 14},
		{"wear-weekly", "a US health system: 1-2 h a day in week 1, 2-3 h in week 2, weekly",
			func(day int) int { return 60 * ((day-1)/7 + 1) },
			func(day int) int { return 60 * ((day-1)/7 + 2) }, 50, 50, 50}, // 8 h is ours, so 7 growths
	} {
		texts := begin(t, c.program).live(c.full+7, everyDay("1"))
		days := wearDays(t, texts)
		for day := 1; day <= c.full; day++ {
			if m := days[day]; m < c.least(day) || m > c.most(day) {
				t.Errorf("%s, day %d: %d min, want %d to %d (%s) in\n%s", c.program, day, m, c.least(day), c.most(day), c.source, texts[day])
			}
		}
		top := slices.Max(days)
		if got := slices.Index(days, top); got != c.full || got < c.fullFrom || got > c.fullTo {
			t.Errorf("%s: the full %d min come on day %d, want day %d, from %d to %d (%s)", c.program, top, got, c.full, c.fullFrom, c.fullTo, c.source)
		}
		if !slices.IsSorted(days[:c.full+1]) {
			t.Errorf("%s: %v goes down, and nothing was reported", c.program, days)
		}
	}
}

// TestWearingInReducedSensation: where sensation is reduced wear grows weekly at
// most (week 1 1-2 h, week 2 2-3 h: a US health system), also in a plan that
// grows daily, and the text asks for a look at the skin every day.
func TestWearingInReducedSensation(t *testing.T) {
	t.Parallel()
	for _, program := range []string{"wear-weekly", "wear-hourly"} {
		texts := begin(t, program, "    cautions: [reduced sensation]\n").live(3*7, everyDay("1 K"))
		for day, minutes := range wearDays(t, texts) {
			if day == 0 {
				continue
			}
			if week := (day-1)/7 + 1; minutes < 60*week || minutes > 60*(week+1) {
				t.Errorf("%s, day %d: %d min, want %d to %d h in\n%s", program, day, minutes, week, week+1, texts[day])
			}
			if !strings.Contains(texts[day], "Look at your skin") {
				t.Errorf("%s, day %d does not ask for a look at the skin:\n%s", program, day, texts[day])
			}
		}
	}
}
