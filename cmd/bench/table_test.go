package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var sample = result{Machine: "Measured nowhere", Rows: []row{
	{Name: "sends", What: "3 texts", Figure: "1,000/s", Yardstick: "a loop: 2,000/s", Ratio: 0.5, Target: "at least 0.6"},
	{Name: "idle", What: "nothing", Figure: "9 MiB", Target: "under 40 MiB", Met: true},
}}

// What is written is read back by name, and the text around stays as it was.
func TestTheTableIsKept(t *testing.T) {
	readme := filepath.Join(t.TempDir(), "README.md")
	text := "# Above\n\n" + tablePlace.begin + "\nold | 7\n" + tablePlace.end + "\n\n## Below\n"
	if err := os.WriteFile(readme, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := tell(&out, sample, options{write: true, readme: readme}); err != nil {
		t.Fatal(err)
	}
	kept, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	if want := "# Above\n\n" + tablePlace.begin + "\n" + sample.table() + tablePlace.end + "\n\n## Below\n"; string(kept) != want {
		t.Errorf("kept:\n%s", kept)
	}
	numbers, err := ratios(string(kept))
	if err != nil || numbers["sends"] != "0.50" || numbers["idle"] != "" {
		t.Errorf("ratios %v, %v", numbers, err)
	}
	out.Reset()
	today := sample
	today.Rows = append([]row{}, sample.Rows...)
	today.Rows[0].Ratio = 0.25
	if err := tell(&out, today, options{compare: true, readme: readme}); err != nil {
		t.Fatal(err)
	}
	if got := out.String(); !strings.Contains(got, "ratio   0.25  kept   0.50") || !strings.Contains(got, "ratio      -  kept      -") {
		t.Errorf("beside:\n%s", got)
	}
}

// Some rows measured again take the place of the old, new ones come last, and
// the table says which.
func TestSomeRowsMeasuredAgain(t *testing.T) {
	some := result{Machine: "Measured later", Some: true, Rows: []row{{Name: "idle", Figure: "8 MiB"}, {Name: "more", Figure: "1"}}}
	old := sample.table()
	for range 2 {
		old = some.into(old)
	}
	for what, n := range map[string]int{"Measured nowhere.": 1, "And measured later, these: idle, more.": 1, "| sends |": 1, "9 MiB": 0, "8 MiB": 1, "| more |": 1, "| name |": 1} {
		if got := strings.Count(old, what); got != n {
			t.Errorf("%d times %q, want %d:\n%s", got, what, n, old)
		}
	}
	if !strings.HasSuffix(old, "| more |  | 1 |  |  |  |  |\n") || strings.Contains(old, "\n\n\n") {
		t.Errorf("%s", old)
	}
}

// Rows that were measured again stay said to be so when others are later, and
// are named once.
func TestRowsMeasuredAgainInTurn(t *testing.T) {
	old := sample.table()
	for _, some := range []result{
		{Machine: "Measured later", Some: true, Rows: []row{{Name: "sends"}, {Name: "growth 1,000"}}},
		{Machine: "Measured last", Some: true, Rows: []row{{Name: "growth 1,000"}}},
	} {
		old = some.into(old)
	}
	want := "Measured nowhere.\nAnd measured later, these: sends.\nAnd measured last, these: growth 1,000.\n\n| name |"
	if !strings.HasPrefix(old, want) {
		t.Errorf("%s", old)
	}
	every := result{Machine: "Measured at the end", Some: true, Rows: []row{{Name: "sends"}}}
	if old = every.into(old); strings.Contains(old, "later") || !strings.Contains(old, "last") {
		t.Errorf("%s", old)
	}
}

// A target is met or not where it was tried: at the full size, and if there is one.
func TestMetIsSaidOfTheFullSize(t *testing.T) {
	r := result{Machine: "Measured nowhere", Rows: []row{{Name: "a", Target: "x", Met: true}, {Name: "b", Target: "x"}, {Name: "c", Met: true}}}
	if got := r.table(); !strings.Contains(got, "| a |  |  |  |  | x | yes |\n| b |  |  |  |  | x | no |\n| c |  |  |  |  |  |  |\n") {
		t.Error(got)
	}
	r.Small = true
	if got := r.table(); strings.Contains(got, "yes") || strings.Contains(got, "| no |") {
		t.Error(got)
	}
}

func TestATableWithoutAPlace(t *testing.T) {
	for _, text := range []string{"", tablePlace.begin, tablePlace.end + tablePlace.begin} {
		if _, err := ratios(text); err == nil {
			t.Errorf("%q gave ratios", text)
		}
	}
}

func TestTheResultAsJSON(t *testing.T) {
	var out bytes.Buffer
	if err := tell(&out, sample, options{asJSON: true}); err != nil {
		t.Fatal(err)
	}
	var back map[string]any
	if err := json.Unmarshal(out.Bytes(), &back); err != nil || len(back["rows"].([]any)) != 2 || back["machine"] == "" {
		t.Errorf("%v: %s", err, out.String())
	}
}

func TestTellsWhatItCannotDo(t *testing.T) {
	for _, args := range [][]string{{"nothing"}, {"--write", "--small"}, {"sends", "nothing"}} {
		cmd := command()
		cmd.SetArgs(args)
		cmd.SetErr(new(bytes.Buffer))
		if err := cmd.Execute(); err == nil {
			t.Errorf("%v was done", args)
		}
	}
}

func TestNumbersAsPeopleReadThem(t *testing.T) {
	for n, want := range map[float64]string{0: "0", 999: "999", 1000: "1,000", 1234567: "1,234,567", 12345.6: "12,346"} {
		if got := count(n); got != want {
			t.Errorf("%v is written %s", n, got)
		}
	}
	for d, want := range map[time.Duration]string{1500: "1.5 us", 2500 * time.Microsecond: "2.5 ms", 90 * time.Second: "90.0 s"} {
		if got := seconds(d); got != want {
			t.Errorf("%v is written %s", d, got)
		}
	}
}
