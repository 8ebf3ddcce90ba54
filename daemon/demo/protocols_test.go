package demo_test

import (
	"slices"
	"strings"
	"testing"
)

func everyDay(reply string) func(int) string { return func(int) string { return reply } }

// quiet tells whether a text asks for no exercise: it is there for the weekly
// question about the first steps alone.
func quiet(day int, text string) bool {
	return text == "" || day%7 == 1 && strings.Contains(text, "No exercises today.") && strings.Contains(text, "your first steps this morning")
}

// heavy is a dose of high-load training: 3 s up, 2 s hold, 3 s down, with a
// weight that can be lifted as many times as asked (Rathleff 2015).
func heavy(sets, reps int) dose {
	return dose{sessions: 1, sets: sets, reps: reps, up: 3, stay: 2, down: 3, rm: reps}
}

// TestHighLoadTraining holds what is texted in twelve weeks against Rathleff MS
// et al., Scand J Med Sci Sports 2015;25(3):e292-300: every second day for 12
// weeks; weeks 1-2: 3 x 12RM, weeks 3-4: 4 x 10RM, from week 5 on: 5 x 8RM; 288,
// 320 and 320 s under tension a session are derived.
func TestHighLoadTraining(t *testing.T) {
	t.Parallel()
	texts := begin(t, "high-load").live(12*7, everyDay("D1"))
	published := func(week int) (sets, reps, seconds int) {
		switch {
		case week <= 2:
			return 3, 12, 288
		case week <= 4:
			return 4, 10, 320
		}
		return 5, 8, 320
	}
	sessions := 0
	for day := 1; day <= 12*7; day++ {
		week := (day-1)/7 + 1
		sets, reps, seconds := published(week)
		if day%2 == 0 {
			if !quiet(day, texts[day]) || len(doses(t, texts[day])) != 0 {
				t.Errorf("week %d, day %d is no training day and has a text:\n%s", week, day, texts[day])
			}
			continue
		}
		sessions++
		got := doses(t, texts[day])
		if want := []dose{heavy(sets, reps)}; !slices.Equal(got, want) {
			t.Fatalf("week %d, day %d: doses %+v, want %+v in\n%s", week, day, got, want, texts[day])
		}
		if s := got[0].tension(); s != seconds {
			t.Errorf("week %d, day %d: %d s under tension, want %d", week, day, s, seconds)
		}
	}
	if sessions != 42 { // derived: every second day of 84
		t.Errorf("%d sessions in twelve weeks, want 42", sessions)
	}
}

// TestHighLoadTrainingHeld lets the patient report pain 5 on day 13. The step
// waits until a week without a score over steady lies behind (that of day 13
// is the last of them, so days 14 to 20), and the training days stay where
// they were: every second day from the start, however long the step waited.
func TestHighLoadTrainingHeld(t *testing.T) {
	t.Parallel()
	texts := begin(t, "high-load").live(12*7, func(day int) string {
		if day == 13 {
			return "D P5"
		}
		return "D1"
	})
	// 4 x 10 begins on day 21 instead of 15, so 5 x 8 on day 35 instead of 29:
	// the step of two weeks is still two weeks long.
	want := func(day int) dose {
		switch {
		case day < 21:
			return heavy(3, 12)
		case day < 35:
			return heavy(4, 10)
		}
		return heavy(5, 8)
	}
	sessions := 0
	for day := 1; day <= 12*7; day++ {
		got := doses(t, texts[day])
		switch {
		case day%2 == 1:
			sessions++
			if !slices.Equal(got, []dose{want(day)}) {
				t.Fatalf("day %d: doses %+v, want %+v in\n%s", day, got, want(day), texts[day])
			}
		case day == 14: // the morning after: a rest day, with the question
			if !strings.Contains(texts[day], "Rest day: no exercises today.") || !strings.Contains(texts[day], "How is the pain now, 0-10?") || len(got) != 0 {
				t.Errorf("day %d, after pain 5:\n%s", day, texts[day])
			}
		case !quiet(day, texts[day]) || len(got) != 0:
			t.Errorf("day %d is no training day and has a text:\n%s", day, texts[day])
		}
	}
	if sessions != 42 {
		t.Errorf("%d training days in twelve weeks, want 42", sessions)
	}
}

// TestFasciaStretch holds four weeks against DiGiovanni BF et al., J Bone Joint
// Surg Am 2003 and 2006;88(8):1775-81: hold 10 s, 10 repetitions, 3 sessions a
// day, every day; 30 repetitions and 300 s a foot a day.
func TestFasciaStretch(t *testing.T) {
	t.Parallel()
	texts := begin(t, "fascia-stretch").live(4*7, everyDay("D1"))
	for day := 1; day <= 4*7; day++ {
		got := doses(t, texts[day])
		if want := []dose{{sessions: 3, sets: 1, reps: 10, hold: 10}}; !slices.Equal(got, want) {
			t.Fatalf("day %d: doses %+v, want %+v in\n%s", day, got, want, texts[day])
		}
		if reps, seconds := got[0].perDay(), got[0].perDay()*got[0].hold; reps != 30 || seconds != 300 {
			t.Errorf("day %d: %d repetitions and %d s, want 30 and 300", day, reps, seconds)
		}
	}
}

// TestHeelDrops holds twelve weeks against Alfredson H et al., Am J Sports Med
// 1998;26(3):360-6: 3 x 15, twice a day, 7 days a week, knee straight and knee
// bent. 180 a day: as summed in Stevens and Tan 2014;
// 15,120 in 84 days is derived.
func TestHeelDrops(t *testing.T) {
	t.Parallel()
	texts := begin(t, "heel-drops").live(12*7, everyDay("D1"))
	total := 0
	for day := 1; day <= 12*7; day++ {
		got := doses(t, texts[day])
		if want := []dose{{sessions: 2, sets: 3, reps: 15}, {sessions: 2, sets: 3, reps: 15}}; !slices.Equal(got, want) {
			t.Fatalf("day %d: doses %+v, want %+v in\n%s", day, got, want, texts[day])
		}
		drops := 0
		for _, d := range got {
			drops += d.perDay()
		}
		if drops != 180 {
			t.Errorf("day %d: %d heel drops, want 180", day, drops)
		}
		total += drops
	}
	if total != 15_120 {
		t.Errorf("%d heel drops in twelve weeks, want 15,120", total)
	}
}
