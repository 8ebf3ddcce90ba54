package config

import (
	"fmt"
	"strings"
	"testing"
)

// crowd is a file of so many texting enrollments due at a time, the later half
// of them on the second number.
func crowd(n int, time string) string {
	var b strings.Builder
	b.WriteString("enrollments:\n")
	for i := range n {
		sender := `sender: "+12125550100", `
		if i >= n/2 {
			sender = `sender: "+12125550101", `
		}
		fmt.Fprintf(&b, "  - {id: p-%d, name: Pat, program: steady, dispensed: 2026-10-05, sms: \"+447700900%03d\", time: \"%s\", %s"+
			"consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}}\n", i, i, time, sender) // Ofcom's range for drama
	}
	return b.String()
}

// TestCrowdedNumbers: a number whose rate or daily cap is too small for its
// patients.
func TestCrowdedNumbers(t *testing.T) {
	const first, second = "stepgate.yaml:17:14: warning: ", "stepgate.yaml:18:14: warning: "
	const do = "; spread their times over the day, write a higher rate if the carrier gives one, or use more numbers"
	for _, c := range []struct {
		name, first, second string // of the two numbers
		n                   int    // patients, half of them on each
		time                string
		want                []string
	}{
		{"room for all", "", "", 40, "19:59", nil},
		{"the morning is as long as it may be", "rate: 0.01", "rate: 0.05", 144, "09:00", nil}, // 72 / 0.01 s are 2 h
		{"one text too many", "rate: 0.01", "rate: 0.05", 146, "09:00", []string{
			first + "73 enrollments text from this number, and at 0.01 segments a second the last text goes out 122 minutes after its time" + do,
		}},
		{"past the end", "", "rate: 0.5", 182, "19:57", []string{ // 91 / 0.5 s are 182 s
			second + "91 enrollments text from this number, and at 0.5 segments a second some of their texts are not out when texting ends" + do,
		}},
		{"just before the end", "", "rate: 0.5", 180, "19:57", nil},
		{"as many as the cap", "daily cap: 20", "daily cap: 20", 40, "09:00", nil},
		{"more than the cap", "daily cap: 20", "daily cap: 19", 40, "09:00", []string{
			second + "the daily cap of 19 is under the 20 enrollments on this number, so some get no text on a day; " +
				"write a higher cap if the carrier gives one, or use more numbers",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := base()
			files[settingsFile] = edit(t, baseSettings, oneNumber, "  numbers:\n    - {from: \"+12125550100\", "+c.first+"}\n    - {from: \"+12125550101\", "+c.second+"}\n")
			files[enrollmentsFile] = crowd(c.n, c.time)
			clinic, problems := LoadFiles("/clinic", filesOf(files), env)
			if clinic == nil || problems.Error() != strings.Join(c.want, "\n") {
				t.Errorf("got:\n%v\nwant:\n%s", problems, list(c.want))
			}
		})
	}
}

// TestDealtCrowd: those who name no sender are dealt to all numbers by their
// rates.
func TestDealtCrowd(t *testing.T) {
	const first, second = "stepgate.yaml:17:14: warning: ", "stepgate.yaml:18:14: warning: "
	for _, c := range []struct {
		name, first, second string // of the two numbers
		n                   int    // patients, on neither
		want                []string
	}{
		// 90 and 30 of 120; together the numbers take 0.4 a second, so all are
		// out after 5 minutes, whichever number they are on.
		{"by their rates", "rate: 0.3, daily cap: 90", "rate: 0.1, daily cap: 30", 120, nil},
		{"more than either cap", "rate: 0.3, daily cap: 89", "rate: 0.1, daily cap: 29", 120, []string{
			first + "the daily cap of 89 is under the 90 enrollments on this number, so some get no text on a day; write a higher cap if the carrier gives one, or use more numbers",
			second + "the daily cap of 29 is under the 30 enrollments on this number, so some get no text on a day; write a higher cap if the carrier gives one, or use more numbers",
		}},
		{"too slow together", "rate: 0.01", "rate: 0.01", 160, []string{ // 160 / 0.02 s are 133.3 minutes
			first + "80 enrollments text from this number, and at 0.01 segments a second the last text goes out 134 minutes after its time; " +
				"spread their times over the day, write a higher rate if the carrier gives one, or use more numbers",
			second + "80 enrollments text from this number, and at 0.01 segments a second the last text goes out 134 minutes after its time; " +
				"spread their times over the day, write a higher rate if the carrier gives one, or use more numbers",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := base()
			files[settingsFile] = edit(t, baseSettings, oneNumber, "  numbers:\n    - {from: \"+12125550100\", "+c.first+"}\n    - {from: \"+12125550101\", "+c.second+"}\n")
			text := strings.NewReplacer(`sender: "+12125550100", `, "", `sender: "+12125550101", `, "").Replace(crowd(c.n, "09:00"))
			files[enrollmentsFile] = text
			clinic, problems := LoadFiles("/clinic", filesOf(files), env)
			if clinic == nil || problems.Error() != strings.Join(c.want, "\n") {
				t.Errorf("got:\n%v\nwant:\n%s", problems, list(c.want))
			}
		})
	}
}

// TestCrowdWithout: those who have left, or whose time is refused anyway, are
// no part of a crowd.
func TestCrowdWithout(t *testing.T) {
	files := base()
	files[settingsFile] = edit(t, baseSettings, oneNumber, oneNumber+"  daily cap: 1\n")
	text := edit(t, baseEnrollments, "spool: ben", `sms: "+12125550124"`)
	files[enrollmentsFile] = edit(t, text, "{release: 2026-10-22,", "{discharge: 2026-10-22,")
	mustLoad(t, files)

	_, problems := loadEdited(t, base(), enrollmentsFile, "time: 09:00", "time: 20:30")
	if len(problems) != 1 || !strings.Contains(problems[0].What, "is outside the texting hours") {
		t.Errorf("a time after texting ends: %v", problems)
	}
}

// TestSpreadCrowd: the wait is that of a queue: who comes while it is empty
// waits for nobody.
func TestSpreadCrowd(t *testing.T) {
	var c crowds
	for _, minute := range []int{9 * 60, 9*60 + 1, 10 * 60, 20*60 + 30} {
		c.add(Clock(minute), 90)
	}
	// At 1 a second 90 take 1.5 minutes; those of 09:01 find 30 waiting.
	if wait, late := c.wait(1, 21*60); wait != 2 || late {
		t.Errorf("wait %v, late %v; want 2 minutes and in time", wait, late)
	}
	if wait, late := c.wait(1, 20*60+31); wait != 2 || !late {
		t.Errorf("wait %v, late %v; want 2 minutes and past the end", wait, late)
	}
}
