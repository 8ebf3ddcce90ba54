package templates

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

var update = flag.Bool("update", false, "write the golden files instead of comparing")

func dashed(s string) string { return strings.ReplaceAll(s, " ", "-") }

func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "golden", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; run the test with -update", err)
	}
	if got != string(want) {
		t.Errorf("%s differs; got:\n%s\nwant:\n%s", file, got, want)
	}
}

// Every message as an SMS and as a mail, and every page.
func TestGoldenMessages(t *testing.T) {
	for _, s := range samples(t) {
		golden(t, filepath.Join("en", "sms", s.name+".txt"), s.msg.Text+"\n")
		golden(t, filepath.Join("en", "mail", s.name+".html"), "<!-- Subject: "+s.msg.Subject+" -->\n"+s.msg.HTML)
	}
	for name, page := range pageSamples(t) {
		golden(t, filepath.Join("en", "page", name+".html"), page)
	}
}

// No golden file is left behind by a message that is gone.
func TestGoldenFilesAreAllUsed(t *testing.T) {
	used := map[string]bool{"why.txt": true, "state.txt": true, "explain.txt": true}
	for _, s := range samples(t) {
		used[s.name+".txt"], used[s.name+".html"] = true, true
	}
	for name := range pageSamples(t) {
		used[name+".html"] = true
	}
	err := filepath.WalkDir(filepath.Join("testdata", "golden"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !used[d.Name()] {
			t.Errorf("%s belongs to no message", path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestGoldenWhy(t *testing.T) {
	s := newSet(t)
	at := rules.Pos{File: "programs/x.yaml", Line: 31, Column: 3}
	var b strings.Builder
	add := func(r rules.Reason) { fmt.Fprintf(&b, "%-12s %s\n", r.Code, s.Why("en", r)) }
	for _, c := range codes {
		add(rules.Reason{Code: c})
		add(rules.Reason{Code: c, At: at, Since: monday, Have: 1, Need: 2, By: "J. Marlowe"})
	}
	for _, r := range []rules.Reason{
		{Code: rules.PainHeld, At: at, Score: score(5), Line: 4, Need: 2, Have: 1},
		{Code: rules.PainHeld, At: at, Score: score(3), Line: 4, Need: 2},
		{Code: rules.PainHeld, At: at, Since: monday, Score: score(2), Need: 2, Have: 1},
		{Code: rules.StepBack, Rule: "pain.step back", At: at, Score: score(7), Line: 6},
		{Code: rules.BlockAgain, Rule: "pain.step back", At: at, Score: score(6), Line: 6},
		{Code: rules.Paused, At: at, Score: score(8), Line: 8, Since: monday, By: "pain"},
		{Code: rules.Paused, At: at, Since: monday, By: "pain"},
		{Code: rules.Paused, At: at, Since: monday, By: "hot calf"},
		{Code: rules.Waiting, At: at, Short: "dates", Have: 5, Need: 7},
		{Code: rules.Waiting, At: at, Short: "done", Have: 3, Need: 5},
		{Code: rules.Waiting, At: at, Short: "scores", Have: 1, Need: 2},
		{Code: rules.Waiting, At: at, Short: "due dates", Have: 1, Need: 2},
		{Code: rules.Waiting, At: at, Short: "over steady", Score: score(4), Since: monday},
		{Code: rules.Tick, Rule: "advance", At: at},
		{Code: rules.TableEnd, Rule: "wear", At: at},
		{Code: rules.Break, Since: monday, Need: 14},
		{Code: rules.Lost, Since: monday, Need: 21},
		{Code: rules.Review, At: at, Need: 7},
		{Code: rules.FirstRise, At: at, Score: score(6), Line: 3, Need: 2},
		{Code: rules.WoreLittle, At: at, Have: 90, Need: 240},
	} {
		add(r)
	}
	golden(t, filepath.Join("en", "why.txt"), b.String())
}

func TestGoldenState(t *testing.T) {
	s := newSet(t)
	var b strings.Builder
	for _, st := range states {
		d := rules.Decision{P: 15, Step: 2, Steps: 3, Wear: 8 * time.Hour, State: st}
		switch st {
		case rules.InHeld, rules.InEased:
			d.Why = rules.Reason{Code: rules.PainHeld, Since: monday + 7, Score: score(5), Line: 4}
		case rules.InPaused:
			d.Why = rules.Reason{Code: rules.Paused, Since: monday + 7, Score: score(8), Line: 8}
		case rules.InAway:
			d.Why = rules.Reason{Code: rules.AwayCode, Since: monday + 7}
		}
		fmt.Fprintln(&b, s.State(d))
	}
	for _, d := range []rules.Decision{
		{P: 15, Step: 2, Steps: 3, State: rules.InHeld, Why: rules.Reason{Code: rules.FirstRise, Score: score(6), Line: 3, Since: monday}},
		{P: 15, Step: 2, Steps: 3, State: rules.InSuspended, Why: rules.Reason{Code: rules.Lost}},
		{P: 15, Step: 2, Steps: 3, State: rules.InHeld, Why: rules.Reason{Code: rules.ClinicHeld, By: "J. Marlowe", Since: monday}},
		{Steps: 3, WearOut: true, State: rules.InActive},
		{Wear: 90 * time.Minute, State: rules.InActive},
		{State: rules.InActive},
	} {
		fmt.Fprintln(&b, s.State(d))
	}
	golden(t, filepath.Join("en", "state.txt"), b.String())
}
