package config

import (
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepgate/rules"
)

func TestSpans(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"10s": 10 * time.Second, "20 s": 20 * time.Second, "45 seconds": 45 * time.Second, "1 minute": time.Minute,
		"30 min": 30 * time.Minute, "1h": time.Hour, "1h 30m": 90 * time.Minute, "1h30m": 90 * time.Minute, "2 hours": 2 * time.Hour,
		"10": -1, "s": -1, "ten s": -1, "-5s": -1, "1.5h": -1, "10 S": -1, "10s!": -1, "9999999s": -1, "10  s": -1,
	} {
		got, ok := parseSpan(text)
		if ok != (want >= 0) || ok && got != want {
			t.Errorf("%q reads as %v, %v; want %v", text, got, ok, want)
		}
	}
}

func TestDecimals(t *testing.T) {
	for text, want := range map[string]float64{
		"1": 1, "0.5": 0.5, "0.01": 0.01, "1000": 1000, "12.25": 12.25,
		"0.009": -1, "1000.01": -1, "0": -1, "-1": -1, "+1": -1, ".5": -1, "1.": -1, "1,5": -1, "1e2": -1, "NaN": -1, "1/s": -1, "0x10": -1,
	} {
		var n notes
		got, ok := n.decimal(Value{Text: text, Key: "rate"}, 0.01, 1000)
		if ok != (want >= 0) || ok && got != want || len(n.list) == 0 != ok {
			t.Errorf("%q reads as %v, %v, with %d complaints; want %v", text, got, ok, len(n.list), want)
		}
	}
}

// TestClocks reads every minute of the day back, and nothing else.
func TestClocks(t *testing.T) {
	for m := range 24 * 60 {
		var n notes
		got, ok := n.clock(Value{Text: Clock(m).String()})
		if !ok || got != Clock(m) {
			t.Fatalf("%v reads as %v, %v", Clock(m), got, ok)
		}
	}
	for _, bad := range []string{"24:00", "12:60", "9", "09:5", "9am", "123:00", "-1:00", "08:30:00", "08.30", "０８:30"} {
		var n notes
		if got, ok := n.clock(Value{Text: bad, Key: "time"}); ok || len(n.list) != 1 {
			t.Errorf("%q reads as %v with %d complaints", bad, got, len(n.list))
		}
	}
}

// TestSchedules reads the days a dose is due, as YAML hands them over: the key
// on and the values no, yes and off are words here, not truth values.
func TestSchedules(t *testing.T) {
	for text, want := range map[string]rules.Schedule{
		"every day":          {},
		"every other day":    {Kind: rules.EveryOtherDay},
		"3 days a week":      {Kind: rules.DaysAWeek, PerWeek: 3},
		"1 day a week":       {Kind: rules.DaysAWeek, PerWeek: 1},
		"[mon, thu]":         {Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Monday, time.Thursday}},
		"[Sunday, Saturday]": {Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Sunday, time.Saturday}},
		"tue":                {Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Tuesday}},
	} {
		files := base()
		files[steadyFile] = edit(t, baseProgram, "on: every other day", "on: "+text)
		c, problems := LoadFiles("/clinic", filesOf(files), env)
		if len(problems.Errors()) > 0 {
			t.Errorf("%s: %v", text, problems)
			continue
		}
		if got := c.Programs["steady"].Blocks[1].Doses[1].On; !reflect.DeepEqual(got, want) {
			t.Errorf("%s reads as %+v, want %+v", text, got, want)
		}
	}
	for _, bad := range []string{"no", "yes", "on", "off", "0 days a week", "3 times a week", "[every day]", "[mon, off]", "2"} {
		_, problems := loadEdited(t, base(), steadyFile, "on: every other day", "on: "+bad)
		if len(problems) != 1 || !strings.Contains(problems[0].What, "on can't be read") {
			t.Errorf("on: %s: %v", bad, problems)
		}
	}
}

// TestSourceText: numbers, truth values and times that YAML would take apart
// stay as they are written.
func TestSourceText(t *testing.T) {
	files := base()
	text := edit(t, baseSettings, "emergency: 911", "emergency: 0112")
	text = edit(t, text, "phone: 212-555-0142", "phone: 2125550142")
	text = edit(t, text, `from: "+12125550100"`, "from: +12125550100")
	text = edit(t, text, `from: "08:00"`, "from: 8:00")
	files[settingsFile] = text
	text = edit(t, baseEnrollments, "name: Ben", "name: Yes")
	text = edit(t, text, `"+12125550123"`, "+12125550123")
	text = edit(t, text, "id: ada-1", "id: 0x1F")
	text = edit(t, text, "why: swollen", "why: 1_000")
	text = edit(t, text, "time: 18:30", "time: 10:30")
	files[enrollmentsFile] = text
	c := mustLoad(t, files)
	first, second := c.Enrollments.At(0), c.Enrollments.At(1)
	if c.Emergency != "0112" || c.Phone != "2125550142" || c.SMS.Numbers[0].Number != "+12125550100" || c.Texting.From != 8*60 {
		t.Errorf("clinic: %+v", *c)
	}
	if first.ID != "0x1F" || first.Address.To != "+12125550123" || second.Name != "Yes" || second.Time != 10*60+30 || second.Entries[0].Why != "1_000" {
		t.Errorf("enrollments: %+v, %+v", *first, *second)
	}
}

// TestWordsFold: a text over several lines reads as one paragraph.
func TestWordsFold(t *testing.T) {
	files := base()
	files[steadyFile] = edit(t, baseProgram, "how: Lean in.", "how: |\n      Lean in.\n      Keep the  heel down.\n")
	if got := mustLoad(t, files).Programs["steady"].Exercises["calf"].How.In("en"); got != "Lean in. Keep the heel down." {
		t.Errorf("how reads %q", got)
	}
}

// TestSlips holds the count of slips against its bounds and symmetry.
func TestSlips(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"phone", "phone", 0}, {"phone", "phnoe", 1}, {"phone", "fone", 2}, {"", "abc", 3}, {"hold", "holds", 1}, {"ab", "ba", 1}} {
		if got := slips(c.a, c.b); got != c.want {
			t.Errorf("slips(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringOfN(rapid.RuneFrom([]rune("abc")), 0, 8, -1)
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := slips(a, b)
		if d != slips(b, a) || (d == 0) != (a == b) || d > max(len(a), len(b)) || d < max(len(a), len(b))-min(len(a), len(b)) {
			t.Fatalf("slips(%q, %q) = %d", a, b, d)
		}
	})
}
