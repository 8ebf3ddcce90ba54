package caseload

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

// TestJSON pins the keys that scripts read, as daemon/README.md has them.
func TestJSON(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	keys := func(v any) []string {
		t.Helper()
		data := mustJSON(t, v)
		var m map[string]json.RawMessage
		if err := json.Unmarshal(data, &m); err != nil {
			t.Fatal(err)
		}
		var list []string
		for k := range m {
			list = append(list, k)
		}
		slices.Sort(list)
		return list
	}
	row := []string{"alerts", "cause", "date", "day", "dispense_day", "dispensed", "done_halves", "due_dates", "group", "id", "name", "needs",
		"program", "program_day", "scores", "state", "step", "steps", "wear_day", "wear_full_minutes", "wear_minutes",
		"wear_why_text", "why", "why_text"}
	if got := keys(b.row()); !slices.Equal(got, row) {
		t.Errorf("a row has the keys %q, want %q", got, row)
	}
	story := append([]string{"decision", "events", "text"}, row...)
	slices.Sort(story)
	if got := keys(b.explain(rosa, "")); !slices.Equal(got, story) {
		t.Errorf("a story has the keys %q, want %q", got, story)
	}
	var parsed struct {
		Date     string `json:"date"`
		Events   []Step `json:"events"`
		Decision struct {
			Steps int `json:"steps"`
		} `json:"decision"`
	}
	data := mustJSON(t, b.explain(rosa, ""))
	if err := json.Unmarshal(data, &parsed); err != nil || len(parsed.Events) != 2 || parsed.Decision.Steps != 3 || parsed.Date != "2026-10-05" {
		t.Errorf("a story is %s", data)
	}
	if got := string(mustJSON(t, b.rows()[0])); !strings.Contains(got, `"date":""`) {
		t.Errorf("a row before the first date is %s", got)
	}
	if got, want := keys(b.explain(rosa, "").Events[0]), []string{"at", "kind", "text"}; !slices.Equal(got, want) {
		t.Errorf("a step has the keys %q, want %q", got, want)
	}
}

func mustJSON(t *testing.T, v any) []byte {
	t.Helper()
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestSinceThen: between a report or an entry and the next message time, the
// page says that it was read.
func TestSinceThen(t *testing.T) {
	five := 5
	for _, c := range []struct {
		st   rules.State
		dec  rules.InState
		now  rules.InState
		want string
	}{
		{rules.State{}, rules.InActive, rules.InActive, ""},
		{rules.State{}, rules.InPaused, rules.InActive, "now active, by what came in after that"},
		{rules.State{Heard: rules.Heard{Score: &five}}, rules.InActive, rules.InActive,
			"since then pain 5 was reported; it counts at the next message time"},
	} {
		if got := sinceThen(c.st, c.dec, c.now); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}
