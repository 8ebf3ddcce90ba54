package rehearsal

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/rules"
)

func verdicts(t testing.TB, c *config.Clinic, cases []*config.Case) []Verdict {
	t.Helper()
	v, err := RunCases(context.Background(), words(), c, cases)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestStories: the rule cases that ship come out as they say.
func TestStories(t *testing.T) {
	for folder, least := range map[string]int{"stories": 8, "demo": 4} {
		c := clinic(t, folder)
		cases, problems := config.LoadCases(c)
		if len(problems) > 0 || len(cases) < least {
			t.Fatalf("%s: %d cases, want %d at least; %v", folder, len(cases), least, problems)
		}
		for _, v := range verdicts(t, c, cases) {
			if len(v.Diff) > 0 {
				var out bytes.Buffer
				v.Print(&page.Page{Out: &out})
				t.Error(out.String())
			}
		}
	}
}

// TestDifferences: whatever is expected otherwise is found, on its first day,
// and nothing else is.
func TestDifferences(t *testing.T) {
	one := func(n int) *int { return &n }
	base := func(x config.Expected) *config.Case {
		x.Day, x.At = 6, rules.Pos{File: "programs/steady-arches.cases.yaml", Line: 7, Column: 9}
		return &config.Case{Program: "steady-arches", Name: "a story", Start: march,
			Replies: []config.Reply{{Day: 1, Text: "D1"}, {Day: 2, Text: "D1"}, {Day: 3, Text: "D1"}, {Day: 5, Text: "P5"}},
			Expect:  []config.Expected{{Day: 5, State: rules.InActive}, x, {Day: 7, Step: one(4), At: rules.Pos{File: "programs/steady-arches.cases.yaml", Line: 8, Column: 9}}},
			At:      rules.Pos{File: "programs/steady-arches.cases.yaml", Line: 3, Column: 5}}
	}
	due := func(ids ...string) *[]string { return &ids }
	for _, x := range []struct {
		key, got string
		expect   config.Expected
	}{
		{"step", "1", config.Expected{Step: one(2)}},
		{"program day", "5", config.Expected{ProgramDay: one(6)}},
		{"wear day", "5", config.Expected{WearDay: one(6)}},
		{"wear", "5h", config.Expected{Wear: new(time.Duration)}},
		{"state", "held", config.Expected{State: rules.InActive}},
		{"why", "pain hold (pain 5 reached the hold line 4 (programs/steady-arches.yaml:48); 0 of 2 clear dates so far)", config.Expected{Why: "tick"}},
		{"wear why", "pain hold (pain hold since Mar 6 (programs/steady-arches.yaml:48); 0 of 2 clear dates so far)", config.Expected{WearWhy: "full"}},
		{"due", "wall-calf", config.Expected{Due: due("towel-curl")}},
		{"due", "wall-calf", config.Expected{Due: due()}},
		{"message", "Sat Mar 7. Hi Sam. No step up until the pain is lower.", config.Expected{Message: []string{"Rest day"}}},
		{"message", "Sat Mar 7. Hi Sam. No step up until the pain is lower.", config.Expected{Silent: true}},
		{"alert", "none", config.Expected{Alert: []string{"pain"}}},
	} {
		v := verdicts(t, clinic(t, "demo"), []*config.Case{base(x.expect)})[0]
		if len(v.Diff) != 1 || v.Diff[0].Key != x.key || !strings.HasPrefix(v.Diff[0].Got, x.got) || v.Diff[0].Day != 6 || v.Diff[0].Date != march+5 {
			t.Errorf("%s: %+v, want it to differ with %s", x.key, v.Diff, x.got)
		}
	}
	good := config.Expected{Step: one(1), ProgramDay: one(5), WearDay: one(5), State: rules.InHeld, Why: "pain 5 reached", WearWhy: "pain hold",
		Due: due("wall-calf"), Message: []string{"No step up", "Reply D when done. How is the pain now"}}
	v := verdicts(t, clinic(t, "demo"), []*config.Case{base(good)})[0]
	if len(v.Diff) != 1 || v.Diff[0].Day != 7 || v.Diff[0].Key != "step" {
		t.Errorf("what came as expected differs: %+v", v.Diff)
	}
	var out bytes.Buffer
	v.Print(&page.Page{Out: &out})
	golden(t, "difference.txt", out.Bytes())
}
