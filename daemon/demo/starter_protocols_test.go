package demo_test

import (
	"io/fs"
	"slices"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// TestStarters plays every starter program perfectly, through the real service,
// to the end of its first week in the last block. Each block must be reached on
// the first day of its week, each day's text must ask for the doses that the
// program's row has for that day, and the wear time must be full on day 8.
func TestStarters(t *testing.T) {
	t.Parallel()
	files, err := fs.Glob(templates.Starters(), "*.yaml")
	if err != nil || len(files) != 5 {
		t.Fatalf("%d starters: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(file, func(t *testing.T) {
			t.Parallel()
			text, err := fs.ReadFile(templates.Starters(), file)
			if err != nil {
				t.Fatal(err)
			}
			name := strings.TrimSuffix(file, ".yaml")
			c, problems := loadProgram(t, name, text)
			if c == nil || len(problems) != 1 || !strings.Contains(problems[0].What, "not approved") {
				t.Fatalf("check has more to say than that nobody approved it:\n%v", problems)
			}
			playStarter(t, c, c.Programs[name])
		})
	}
}

func playStarter(t *testing.T, c *config.Clinic, p *rules.Program) {
	t.Helper()
	days, reply := 14, "1"
	if n := len(p.Blocks); n > 0 {
		days, reply = p.Blocks[n-1].FirstDay()+13, "D1" // two weeks of the last block: every due day
	}
	x := open(t, c)
	texts := x.live(days, everyDay(reply))
	for day := 1; day <= days; day++ {
		var want []dose
		for _, d := range row(p, day).Doses {
			if d.On.Due(day, x.start+rules.Date(day)-1) {
				want = append(want, doseOf(d))
			}
		}
		if got := doses(t, texts[day]); !slices.Equal(got, want) {
			t.Errorf("day %d: %+v, want %+v in\n%s", day, got, want, texts[day])
		}
		if minutes := wear(t, texts[day]); day <= 8 && minutes != 60*day {
			t.Errorf("day %d: %d min of wear, want %d h in\n%s", day, minutes, day, texts[day])
		}
	}
	steps := stepsOf(t, x)
	for i, b := range p.Blocks {
		if day := slices.Index(steps, i+1) + 1; day != b.FirstDay() {
			t.Errorf("step %d is reached on day %d, want day %d, the first of week %d", i+1, day, b.FirstDay(), b.Week)
		}
	}
}

// row is the row of the dose table a day of the calendar belongs to.
func row(p *rules.Program, day int) rules.Block {
	var in rules.Block
	for _, b := range p.Blocks {
		if b.FirstDay() <= day {
			in = b
		}
	}
	return in
}

func doseOf(d rules.Dose) dose {
	return dose{d.Sessions, d.Sets, d.Reps, int(d.Hold.Seconds()), d.Tempo.Up, d.Tempo.Hold, d.Tempo.Down, d.RM}
}

// stepsOf are the steps the journal has, day by day.
func stepsOf(t *testing.T, x *course) []int {
	t.Helper()
	at := map[rules.Date]int{}
	err := x.journal.View(func(tx *journal.Tx) error {
		return tx.All(func(ev journal.Event) error {
			d := ev.Decision
			if d == nil && ev.Out != nil {
				d = ev.Out.Decision
			}
			if d != nil {
				at[d.Date] = d.Step
			}
			return nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	var steps []int
	for day := range len(at) {
		steps = append(steps, at[x.start+rules.Date(day)])
	}
	return steps
}
