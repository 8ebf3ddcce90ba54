package config

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

const steadyCases = programFolder + "/steady" + casesEnd

const baseCases = `cases:
  - case: the plan waits after P5
    start: 2026-10-05
    replies:
      - {days: 1-8, text: D2}
      - {day: 9, time: "18:30", text: "done, 5/10"}
      - {days: [10, 12-14], every: 2 days, text: "1"}
      - {day: 12, text: "!cap 1"}
    expect:
      - {day: 10, step: 1, program day: 9, wear day: 3, wear: 5h 30m, state: held, why: pain hold, wear why: pain hold}
      - {days: 11-13, due: none, message: none}
      - {day: 14, wear: out, due: [calf, band], message: [no step, 0-10], alert: five}
  - case: all is well
    expect:
      - {day: 15, step: 2}
`

// loadCases loads the good folder with one file of cases in it.
func loadCases(t *testing.T, name, text string) ([]*Case, Problems) {
	t.Helper()
	files := base()
	files[name] = text
	c, problems := Load(folderOf(t, files), env)
	if c == nil || len(problems) > 0 {
		t.Fatalf("the folder itself: %v", problems)
	}
	for _, f := range c.Files {
		if f.Path == name {
			t.Errorf("%s was read as one of the clinic's own files", name)
		}
	}
	return LoadCases(c)
}

func TestCases(t *testing.T) {
	cases, problems := loadCases(t, steadyCases, baseCases)
	if len(problems) > 0 || len(cases) != 2 {
		t.Fatalf("%d cases, problems:\n%v", len(cases), problems)
	}
	c := cases[0]
	if c.Program != "steady" || c.Name != "the plan waits after P5" || c.Start != rules.NewDate(2026, time.October, 5) || c.At.Line != 2 || c.Days() != 14 {
		t.Errorf("the first case: %+v", c)
	}
	var said []string
	for _, r := range c.Replies {
		said = append(said, fmt.Sprint(r.Day, " ", r.Text))
	}
	want := []string{"1 D2", "2 D2", "3 D2", "4 D2", "5 D2", "6 D2", "7 D2", "8 D2", "9 done, 5/10", "10 1", "12 1", "12 !cap 1", "14 1"}
	if !slices.Equal(said, want) {
		t.Errorf("replies %q, want %q", said, want)
	}
	if at := c.Replies[8].Time; at == nil || *at != 18*60+30 || c.Replies[0].Time != nil {
		t.Error("the time of a reply")
	}
	if n := c.Replies[11].Entry; n == nil || n.Kind != rules.EntryCap || n.Step != 1 {
		t.Errorf("the clinician's entry: %+v", n)
	}
	x := c.Expect[0]
	if *x.Step != 1 || *x.ProgramDay != 9 || *x.WearDay != 3 || *x.Wear != 5*time.Hour+30*time.Minute || x.State != rules.InHeld ||
		x.Why != "pain hold" || x.WearWhy != "pain hold" || x.Due != nil || x.Silent || x.At.Line != 10 {
		t.Errorf("day 10: %+v", x)
	}
	if x := c.Expect[2]; x.Day != 12 || !x.Silent || len(*x.Due) != 0 || x.Wear != nil {
		t.Errorf("day 12: %+v", x)
	}
	if x := c.Expect[4]; *x.Wear != 0 || !slices.Equal(*x.Due, []string{"band", "calf"}) || !slices.Equal(x.Message, []string{"no step", "0-10"}) || !slices.Equal(x.Alert, []string{"five"}) {
		t.Errorf("day 14: %+v", x)
	}
	if c := cases[1]; c.Start != DefaultCaseStart || len(c.Replies) != 0 {
		t.Errorf("the second case: %+v", c)
	}
}

// TestCasesFiles: which files are cases, and that a folder without any has none.
func TestCasesFiles(t *testing.T) {
	for _, name := range []string{"programs/.steady.cases.yaml", "programs/#steady.cases.yaml", "programs/steady.cases.yaml~", "programs/old/steady.cases.yaml", "steady.cases.yaml"} {
		if cases, problems := loadCases(t, name, "not: [read\n"); len(cases)+len(problems) > 0 {
			t.Errorf("%s was read: %v %v", name, cases, problems)
		}
	}
}

// TestBadCases: every mistake has its place and its remedy, and a file with one
// gives no cases.
func TestBadCases(t *testing.T) {
	for _, x := range []struct {
		name, file, old, with string
		want                  []string
	}{
		{"a program that is gone", "programs/stedy.cases.yaml", "", "", []string{
			`programs/stedy.cases.yaml:1:1: these are cases for the program "stedy", which is not there; name the file after its program (did you mean "steady"?), or delete it`}},
		{"an unknown key", steadyCases, "program day: 9", "program_day: 9", []string{
			`programs/steady.cases.yaml:10:28: unknown key "program_day"; did you mean "program day"?`}},
		{"a bad day", steadyCases, "day: 9,", "day: 0,", []string{
			`programs/steady.cases.yaml:6:15: day is out of range: "0"; write a whole number from 1 to 728`}},
		{"a day that is none", steadyCases, "day: 10,", "day: tenth,", []string{
			`programs/steady.cases.yaml:10:15: day can't be read: "tenth"; write a whole number from 1 to 728`}},
		{"a range backward", steadyCases, "days: 1-8", "days: 8-1", []string{
			`programs/steady.cases.yaml:5:16: days is out of range: "8-1"; write days from 1 to 728, the first one first`}},
		{"a range that is none", steadyCases, "days: 1-8", "days: 1 to 8", []string{
			`programs/steady.cases.yaml:5:16: days can't be read: "1 to 8"; write a day or a range of days, like 9 or 1-8`}},
		{"no day", steadyCases, "days: 1-8, ", "", []string{
			`programs/steady.cases.yaml:5:9: day is missing; write day: 9, or days: 1-8; day 1 is the first date`}},
		{"two kinds of day", steadyCases, "day: 10,", "day: 10, days: 10-12,", []string{
			`programs/steady.cases.yaml:10:9: day and days are both given; keep one of them`}},
		{"every with one day", steadyCases, "day: 9,", "day: 9, every: 2 days,", []string{
			`programs/steady.cases.yaml:6:25: every goes with days, not with one day; write days: with a range, like 1-14`}},
		{"no text", steadyCases, ", text: D2", "", []string{
			`programs/steady.cases.yaml:5:9: text is missing; write what the patient sends, like text: D2`}},
		{"a bad time", steadyCases, `"18:30"`, `"25:30"`, []string{
			`programs/steady.cases.yaml:6:24: time can't be read: "25:30"; write a time of day on the 24-hour clock, like 08:30 or 17:00`}},
		{"a step the program does not have", steadyCases, "step: 1,", "step: 3,", []string{
			`programs/steady.cases.yaml:10:25: step is out of range: "3"; write a whole number from 0 to 2`}},
		{"a state nobody knows", steadyCases, "state: held", "state: hold", []string{
			`programs/steady.cases.yaml:10:78: state can't be "hold"; did you mean "held"?`}},
		{"an exercise the program does not have", steadyCases, "due: [calf, band]", "due: [calv, band]", []string{
			`programs/steady.cases.yaml:12:36: the program has no exercise "calv"; did you mean "calf"?`}},
		{"nothing expected of a day", steadyCases, "{day: 15, step: 2}", "{day: 15}", []string{
			`programs/steady.cases.yaml:15:9: nothing is expected of the day; write step, program day, wear, state, why, due or message beside it`}},
		{"nothing expected at all", steadyCases, "    expect:\n      - {day: 15, step: 2}\n", "", []string{
			`programs/steady.cases.yaml:13:5: expect is missing; write what must come of it, like expect: [{day: 10, step: 1}]`}},
		{"an empty list of what is expected", steadyCases, "    expect:\n      - {day: 15, step: 2}\n", "    expect: []\n", []string{
			`programs/steady.cases.yaml:13:5: the case expects nothing; write what must come of it, like expect: [{day: 10, step: 1}]`}},
		{"no name", steadyCases, "case: all is well\n    expect", "expect", []string{
			`programs/steady.cases.yaml:13:5: case is missing; write in a few words what should come of it`}},
		{"a name twice", steadyCases, "case: all is well", "case: the plan waits after P5", []string{
			`programs/steady.cases.yaml:13:5: a case of this name stands at programs/steady.cases.yaml:2:5 already; give every case a name of its own`}},
		{"an entry nobody knows", steadyCases, `"!cap 1"`, `"!relaese"`, []string{
			`programs/steady.cases.yaml:8:25: no clinician's entry is called "!relaese"; did you mean "!release"?`}},
		{"a cap over the last step", steadyCases, `"!cap 1"`, `"!cap 3"`, []string{
			`programs/steady.cases.yaml:8:25: the clinician's entry can't be read: "!cap 3"; write !cap N or !cap none; N is the highest step, from 1 to 2`}},
		{"a strike", steadyCases, `"!cap 1"`, `"!strike it"`, []string{
			`programs/steady.cases.yaml:8:25: the clinician's entry can't be read: "!strike it"; write !strike or !strike N`}},
		{"several at once", steadyCases, "day: 9, time: \"18:30\"", "day: x, time: noon", []string{
			`programs/steady.cases.yaml:6:15: day can't be read: "x"; write a whole number from 1 to 728`,
			`programs/steady.cases.yaml:6:24: time can't be read: "noon"; write a time of day on the 24-hour clock, like 08:30 or 17:00`}},
		{"an empty file", steadyCases, baseCases, "", []string{
			`programs/steady.cases.yaml: the file is empty; write cases: and the cases as a list below it, or delete it`}},
	} {
		t.Run(x.name, func(t *testing.T) {
			if !strings.Contains(baseCases, x.old) {
				t.Fatalf("%q is not in the good file", x.old)
			}
			cases, problems := loadCases(t, x.file, strings.Replace(baseCases, x.old, x.with, 1))
			var got []string
			for _, p := range problems {
				got = append(got, p.String())
			}
			if !slices.Equal(got, x.want) || len(cases) > 0 {
				t.Errorf("%d cases, problems:\n%s\nwant:\n%s", len(cases), list(got), list(x.want))
			}
		})
	}
}

// FuzzCases gives any bytes as a file of cases: cases or problems come of it,
// each in its place, and nothing panics.
func FuzzCases(f *testing.F) {
	files := base()
	c, problems := LoadFiles("/clinic", filesOf(files), env)
	if c == nil {
		f.Fatal(problems)
	}
	for _, s := range []string{baseCases, "", "cases:", "cases: [{}]", "cases: [{case: a, expect: [{days: [[]]}]}]", "- a", "cases: {a: b}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		l := &caseLoader{programs: c.Programs}
		cases := l.file(NewFile(steadyCases, data))
		if len(cases) > 0 && len(l.list) > 0 {
			t.Fatalf("%d cases beside %d problems", len(cases), len(l.list))
		}
		for _, p := range l.list {
			if p.What == "" || p.Do == "" || p.At.File == "" {
				t.Fatalf("a problem without place, cause or remedy: %+v", p)
			}
		}
		for _, c := range cases {
			if c.Name == "" || c.Days() < 1 || c.Days() > MaxDays || len(c.Expect) == 0 {
				t.Fatalf("a case that can't be run: %+v", c)
			}
			for _, r := range c.Replies {
				if r.Day < 1 || r.Day > MaxDays || r.Text == "" {
					t.Fatalf("a reply that can't be sent: %+v", r)
				}
			}
		}
	})
}
