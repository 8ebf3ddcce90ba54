package config

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/robfig/cron/v3"
	"pgregory.net/rapid"
)

// TestCronLines: what is wrong with a cron line is said in words.
func TestCronLines(t *testing.T) {
	const never = "never comes"
	for spec, want := range map[string]string{
		"30 2 * * *": "", "0 7 29 2 *": "", "0 0 30 1,2 *": "", "*/15 8-17/3 * JAN-mar Mon,thu": "", "5/20 0 */2 * *": "", "0 0 30 2 mon": "",
		"0 0 30 2 *": never, "0 0 31 4,6,sep,11 */1": never, "0 0 30-31 feb *": never, "0 0 30 2 mon,*": never, "0 0 30 2 */2": "",
		"60 * * * *": "out of range", "* 24 * * *": "out of range", "* * 0 * *": "out of range", "* * * 13 *": "out of range",
		"* * * * sun-sat": "", "* * * * fri-mon": "goes backwards", "* * * * 5-2": "goes backwards", "*/0 * * * *": "a step of nought",
		"@weekly": "1 field,", "0 0 7 * * mon": "6 fields", "": "0 fields", "0 7 * * mon,": "not understood", "0 7 * * -1": "not understood",
		"0 7 * * 1-": "not understood", "0 7 ? * mon": "not understood", "0 7 * mon jan": "not understood", "1/ 7 * * *": "not understood",
		"1/2/3 7 * * *": "not understood", "TZ=UTC 7 * * mon": "not understood", "*-5 7 * * *": "not understood", "1-2-3 7 * * *": "not understood",
	} {
		_, what, do := readCron(spec, usualDigest)
		if what == "" != (want == "") || !strings.Contains(what, want) || (what == "") != (do == "") {
			t.Errorf("%q: %q, %q, want %q", spec, what, do, want)
		}
	}
}

// drawCronField draws a field, good or bad.
func drawCronField(low, high int, names ...string) *rapid.Generator[string] {
	one := rapid.Custom(func(t *rapid.T) string {
		if len(names) > 0 && rapid.Bool().Draw(t, "named") {
			return rapid.SampledFrom(names).Draw(t, "name")
		}
		return fmt.Sprint(rapid.IntRange(low-1, high+1).Draw(t, "n"))
	})
	part := rapid.Custom(func(t *rapid.T) string {
		s := rapid.OneOf(rapid.Just("*"), one).Draw(t, "first")
		if s != "*" && rapid.IntRange(0, 3).Draw(t, "ranged") == 0 {
			s += "-" + one.Draw(t, "last")
		}
		if rapid.IntRange(0, 3).Draw(t, "stepped") == 0 {
			s += "/" + fmt.Sprint(rapid.IntRange(0, high).Draw(t, "step"))
		}
		return s
	})
	return rapid.Custom(func(t *rapid.T) string {
		return strings.Join(rapid.SliceOfN(part, 1, 3).Draw(t, "parts"), ",")
	})
}

// TestCronAgainstLibrary holds the reader of cron lines against the library
// that runs them: what is let through it can run, its time comes, and as often
// on a day as is said.
func TestCronAgainstLibrary(t *testing.T) {
	fields := []*rapid.Generator[string]{drawCronField(0, 59), drawCronField(0, 23), drawCronField(1, 31), drawCronField(1, 12, "jan", "Feb", "DEC"), drawCronField(0, 6, "sun", "Mon", "SAT")}
	taken, never := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		spec := ""
		for i, f := range fields {
			if i > 0 {
				spec += " "
			}
			spec += f.Draw(t, "field")
		}
		times, what, _ := readCron(spec, usualDigest)
		s, err := cron.ParseStandard(spec)
		from := time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)
		comes := err == nil && !s.Next(from).IsZero() // looks five years ahead
		switch {
		case what == "" && !comes:
			t.Fatalf("%q is let through, and the library says %v, comes: %v", spec, err, comes)
		case what != "" && comes:
			t.Fatalf("%q is refused with %q, and the library runs it", spec, what)
		case what != "" && err == nil:
			never++
		case what == "":
			taken++
			first := s.Next(from)
			day := first.Truncate(24 * time.Hour)
			n := 0
			for at := s.Next(day.Add(-time.Second)); at.Before(day.Add(24 * time.Hour)); at = s.Next(at) {
				n++
			}
			if n != times {
				t.Fatalf("%q fires %d times on %v, want %d", spec, n, day, times)
			}
		}
	})
	if taken == 0 {
		t.Error("no cron line was let through")
	}
	t.Logf("%d taken, %d never come", taken, never)
}
