package outcomes

import (
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// "On average, a reduction of approximately two points or a reduction of
// approximately 30% in the PI-NRS represented a clinically important
// difference": Farrar JT et al., Pain 2001;94:149-58, abstract.
func TestImproves(t *testing.T) {
	for _, c := range []struct {
		base, score int
		want        bool
	}{
		{6, 4, true},  // 2 points, 33 percent
		{7, 5, true},  // 2 points, 29 percent: either is enough
		{10, 8, true}, // 2 points, 20 percent
		{10, 9, false},
		{7, 6, false},
		{4, 3, false}, // 25 percent
		{3, 2, true},  // 33 percent
		{2, 1, true},
		{1, 0, true}, // all of it
		{1, 1, false},
		{5, 5, false},
		{3, 5, false}, // worse
		{0, 0, false}, // nothing to improve
		{0, 4, false},
	} {
		if got := Improves(c.base, c.score); got != c.want {
			t.Errorf("from %d to %d: %v", c.base, c.score, got)
		}
	}
}

// monday is the first day of the exercises in these tests.
var monday = rules.NewDate(2026, 10, 5)

func ptr(n int) *int { return &n }

// answers makes a patient who was asked on the first day and then weekly, and
// gave these scores by day of the exercises.
func answers(usual *int, today int, scores map[int]int) Patient {
	p := Patient{ID: "p-01", Start: monday, Dispensed: monday, UsualStep: usual,
		Lines: rules.DefaultLines(), Today: monday + rules.Date(today-1)}
	for day := 1; day <= today; day++ {
		d := plain(day)
		if score, given := scores[day]; given {
			d.FirstStep, d.Reports = score, 1
		}
		p.Days = append(p.Days, d)
	}
	return p
}

// plain is a date of the exercises without anything reported.
func plain(day int) journal.Day {
	return journal.Day{Date: monday + rules.Date(day-1), Program: "arches", D: day, P: day, W: day, Step: 1, Steps: 3,
		State: rules.InActive, Why: rules.Tick, Score: -1, FirstStep: -1, Worn: -1}
}

func TestVerdictByWeek6(t *testing.T) {
	for _, c := range []struct {
		name   string
		usual  *int
		today  int
		scores map[int]int
		want   Verdict
		answer int // -1: none
	}{
		{"by the usual", ptr(6), 44, map[int]int{1: 8, 43: 4}, Yes, 4},
		{"by the usual, the first answer beside", ptr(6), 44, map[int]int{1: 8, 43: 5}, No, 5},
		{"by the first answer", nil, 44, map[int]int{1: 8, 43: 6}, Yes, 6},
		{"the last answer stands", ptr(6), 44, map[int]int{36: 2, 43: 6}, No, 6},
		{"one question missed", ptr(6), 44, map[int]int{36: 2}, Yes, 2},
		{"the first day near enough", ptr(6), 44, map[int]int{30: 2}, Yes, 2},
		{"a day too early", ptr(6), 44, map[int]int{29: 2}, NoAnswer, -1},
		{"later answers change nothing", ptr(6), 84, map[int]int{43: 6, 44: 0}, No, 6},
		{"day 43 is not over", ptr(6), 43, map[int]int{43: 0}, NotYet, -1},
		{"the base alone", nil, 44, map[int]int{43: 5}, NoBase, -1},
		{"a base that came later", nil, 84, map[int]int{50: 5, 57: 1}, NoBase, -1},
		{"never asked", nil, 44, nil, NoBase, -1},
		{"silent since", nil, 44, map[int]int{1: 5}, NoAnswer, -1},
		{"no pain to begin with", ptr(0), 44, map[int]int{43: 0}, NoPain, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Of(answers(c.usual, c.today, c.scores)).Week6
			if got.Verdict != c.want || got.Week != 6 {
				t.Fatalf("%+v", got)
			}
			if c.answer < 0 && got.Score != nil || c.answer >= 0 && (got.Score == nil || *got.Score != c.answer) {
				t.Errorf("rests on %v", got.Score)
			}
		})
	}
}

func TestFirstStepsAreComparedWithTheBase(t *testing.T) {
	c := Of(answers(nil, 90, map[int]int{1: 6, 8: 7, 15: 5, 85: 4}))
	if c.Base == nil || *c.Base != (Base{Score: 6, From: FromFirst, Date: monday}) {
		t.Fatalf("base %+v", c.Base)
	}
	want := []First{
		{monday, 1, 6, 0, false},
		{monday + 7, 8, 7, 1, false},
		{monday + 14, 15, 5, -1, false},
		{monday + 84, 85, 4, -2, true},
	}
	for i, f := range c.Firsts {
		if f != want[i] {
			t.Errorf("answer %d: %+v, want %+v", i, f, want[i])
		}
	}
	if c.Week6.Verdict != NoAnswer || c.Week12.Verdict != Yes || *c.Week12.Change != -2 {
		t.Errorf("week 6 %+v, week 12 %+v", c.Week6, c.Week12)
	}
}
