package rehearsal

import (
	"bytes"
	"encoding/json"
	"errors"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/rules"
)

// TestBadWeek is a bad week as a clinician reads it: the conversation and the
// chart, every held day explained.
func TestBadWeek(t *testing.T) {
	plan := planned(t, clinic(t, "demo"), Wanted{Program: "steady-arches", Start: march, Weeks: 4},
		string(read(t, "..", "..", "testdata", "rehearse", "bad-week.csv")))
	days := played(t, plan)
	var out bytes.Buffer
	Print(&page.Page{Out: &out}, words(), plan, days)
	golden(t, "bad-week.txt", out.Bytes())
	for line := range strings.Lines(out.String()) {
		if n := len(strings.TrimRight(line, "\n")); n > page.Width {
			t.Errorf("%d columns: %s", n, line)
		}
		if strings.ContainsFunc(line, func(r rune) bool { return r > '~' || r < ' ' && r != '\n' }) {
			t.Errorf("no plain ASCII: %q", line)
		}
	}
}

// TestJSONContract: exactly the documented keys, in every object.
func TestJSONContract(t *testing.T) {
	plan := demoPlan(t, 2, "1,,D1\n3,,D1\n5,,P5\n8,,B\n")
	b, err := json.Marshal(played(t, plan))
	if err != nil {
		t.Fatal(err)
	}
	var days []map[string]any
	if err := json.Unmarshal(b, &days); err != nil {
		t.Fatal(err)
	}
	if len(days) != 14 {
		t.Fatalf("%d dates, want 14", len(days))
	}
	keys := func(what string, v any, want string) {
		t.Helper()
		m, ok := v.(map[string]any)
		if got := strings.Join(slices.Sorted(maps.Keys(m)), " "); !ok || got != want {
			t.Errorf("%s has the keys %s, want %s", what, got, want)
		}
	}
	list := func(v any) []any {
		t.Helper()
		l, ok := v.([]any)
		if !ok {
			t.Errorf("%v is no array", v)
		}
		return l
	}
	seen := map[string]int{}
	for i, d := range days {
		keys("a date", d, "date day doses messages program_day replies state step wear_day wear_minutes why")
		keys("why", d["why"], "file line rule text")
		if want := (march + rules.Date(i)).String(); d["date"] != want {
			t.Errorf("date %v, want %s", d["date"], want)
		}
		for _, x := range list(d["doses"]) {
			seen["doses"]++
			keys("a dose", x, "exercise form hold_seconds reps sessions sets side")
		}
		for _, x := range list(d["messages"]) {
			seen["messages"]++
			keys("a message", x, "kind segments text to")
		}
		for _, x := range list(d["replies"]) {
			seen["replies"]++
			keys("a reply", x, "read text")
			keys("what it was read as", x.(map[string]any)["read"],
				"ask_stop away call denied done echo first_step help how pain red_flags side skin skin_ok start stop unread wear_hours wrong_person")
		}
	}
	if seen["doses"] == 0 || seen["messages"] == 0 || seen["replies"] != 4 {
		t.Errorf("not enough to look at: %v", seen)
	}
	why := days[5]["why"].(map[string]any)
	if why["rule"] != "pain.hold" || why["file"] != "programs/steady-arches.yaml" || why["line"] != 48.0 ||
		why["text"] != "pain 5 reached the hold line 4 (programs/steady-arches.yaml:48); 0 of 2 clear dates so far" {
		t.Errorf("why the day after P5: %v", why)
	}
	if days[5]["state"] != "held" || days[5]["program_day"] != 5.0 || days[4]["wear_minutes"] != 300.0 || days[8]["wear_minutes"] != 0.0 {
		t.Errorf("day 6: %v\nday 9: %v", days[5], days[8])
	}
}

// TestTimes: a reply without a time comes just after that day's message, and
// one before the message belongs to the day before.
func TestTimes(t *testing.T) {
	for _, x := range []struct {
		name, csv string
		held      int // the first day that is held
	}{
		{"none", "3,,P5\n", 4},
		{"the message's own minute", "3,09:00,P5\n", 4},
		{"before the message", "3,08:59,P5\n", 3},
		{"at the end of the day", "3,23:59,P5\n", 4},
		{"out of order in the file", "4,,D1\n3,,P5\n", 4},
	} {
		t.Run(x.name, func(t *testing.T) {
			for i, d := range played(t, demoPlan(t, 1, x.csv)) {
				if held := i+1 >= x.held; (d.State == rules.InHeld) != held {
					t.Errorf("day %d is %s, held: want %v", i+1, d.State, held)
				}
			}
		})
	}
}

// TestEntries: a clinician's entries count from when they are written, and are
// no replies.
func TestEntries(t *testing.T) {
	days := played(t, demoPlan(t, 3, "2,08:00,!hold\n4,,!release\n6,,P9\n9,08:00,!release\n9,,D1\n10,,D1\n11,,D1\n12,,!discharge\n13,,D1\n"))
	want := []string{
		"1 active", "1 held", "1 held", "1 held", "2 active", "3 active", // held from day 2, released after day 4's message
		"1 paused", "1 paused", "1 eased", "1 eased", "2 active", "3 active", // P9 on day 6; two easy days after the release
		"3 discharged", "3 discharged",
	}
	for i, w := range want {
		if got := count(days[i].ProgramDay) + " " + string(days[i].State); got != w {
			t.Errorf("day %d: %s, want %s", i+1, got, w)
		}
	}
	if by := days[1].Why; by.Rule != "entry" || by.File != "replies.csv" || by.Line != 2 || !strings.Contains(by.Text, "held by rehearsal") {
		t.Errorf("why of the clinician's hold: %+v", by)
	}
	if len(days[1].Replies)+len(days[3].Replies) > 0 {
		t.Error("an entry was taken for a reply")
	}
	last := days[20]
	if last.Why.Text != "discharged" || len(last.Doses)+len(last.Messages) > 0 || last.Step != 1 || last.decision != nil {
		t.Errorf("a day after the discharge: %+v", last)
	}
	if answered := days[12].Messages; len(answered) != 2 || answered[0].Kind != "answer" || answered[1].To != toClinician {
		t.Errorf("what a discharged patient's text leads to: %+v", answered)
	}
}

// TestCap: the highest step is kept, and lifted again.
func TestCap(t *testing.T) {
	csv := "1,,!cap 1\n18,08:00,!cap none\n"
	for n := 1; n <= 21; n++ {
		csv += count(n) + ",,D1\n"
	}
	days := played(t, demoPlan(t, 3, csv))
	if d := days[16]; d.Step != 1 || d.ProgramDay != 14 || d.Why.Rule != "entry" {
		t.Errorf("day 17 under the cap: %+v", d)
	}
	if d := days[17]; d.Step != 2 || d.ProgramDay != 15 {
		t.Errorf("day 18, the cap lifted: %+v", d)
	}
}

// TestFinished: a program comes to its end, and the days after it go by
// without a text.
func TestFinished(t *testing.T) {
	csv := ""
	for n := 1; n <= 98; n++ {
		csv += count(n) + ",,D P1\n"
	}
	days := played(t, demoPlan(t, 14, csv))
	if d := days[83]; d.Step != 4 || d.State == rules.InFinished || len(d.Doses) == 0 {
		t.Errorf("the last day of the program: %+v", d)
	}
	last := days[97]
	if last.State != rules.InFinished || last.Step != 4 || len(last.Doses) > 0 || last.Why.Text == "" || last.Why.Text == "not decided" {
		t.Errorf("two weeks after its end: %+v", last)
	}
	for _, m := range last.Messages {
		if m.Kind == "daily" {
			t.Errorf("a text after the end: %q", m.Text)
		}
	}
}

// TestEnrollment: who is enrolled is rehearsed with what is theirs, from the
// first date on, and with nothing of the real calendar.
func TestEnrollment(t *testing.T) {
	c := clinic(t, "clinic")
	c.Enrollments = c.Enrollments.Changed(func(e *config.Enrollment) {
		if e.ID == "emil-02" {
			e.Entries = []rules.Entry{{Kind: rules.EntryHold, On: e.Dispensed + 3, By: "J. Marlowe DPM"}, {Kind: rules.EntryCap, On: e.Dispensed + 3, By: "J. Marlowe DPM", Step: 1}}
		}
	})
	plan := planned(t, c, Wanted{Enrollment: "emil-02", Start: march}, "day,time,text\n")
	e := plan.Enrollment
	if plan.Program.ID != "settling-in" || plan.Days != 8*7 || e.Zone.String() != "America/Chicago" || e.Time != 18*60+30 || e.Name != "Emil" {
		t.Errorf("rehearsed as %+v for %d days", e, plan.Days)
	}
	if e.Dispensed != march || e.Start != march+5 || len(e.Entries) != 1 || e.Entries[0].On != march+3 || len(plan.Left) != 1 {
		t.Errorf("dates %v %v, entries %v, left out %v", e.Dispensed, e.Start, e.Entries, plan.Left)
	}
	plan.Days = 7
	days := played(t, plan)
	if days[0].Day != -4 || days[5].Day != 1 || days[0].Step != 0 || days[5].Step != 1 || days[0].WearMin != 60 || days[0].Why.Rule != "enrollment" {
		t.Errorf("first days: %+v\n%+v", days[0], days[5])
	}
	if old := c.Enrollments.Get("emil-02"); old.Dispensed == march || len(old.Entries) != 2 || old.Address.To != "emil" {
		t.Error("the clinic's own enrollment was changed")
	}
}

// TestUnknown: a name that is not there is told with those that are.
func TestUnknown(t *testing.T) {
	c := clinic(t, "demo")
	for want, w := range map[string]Wanted{
		`there is no program "steady"; there are steady-arches`:                      {Program: "steady"},
		`there is no enrollment "p-9"; there are p-01, p-02, p-03, p-04, p-05, p-06`: {Enrollment: "p-9"},
		`there is no program "other"; there are steady-arches`:                       {Enrollment: "p-01", Program: "other"},
		`there is no enrollment "x"; there are p-01, p-02, p-03, p-04, p-05, p-06`:   {Enrollment: "x", Program: "steady-arches"},
	} {
		_, err := NewPlan(c, w)
		if unknown := (UnknownError{}); !errors.As(err, &unknown) || err.Error() != want {
			t.Errorf("%+v: %v, want %s", w, err, want)
		}
	}
}

// TestNothingIsKept: a rehearsal leaves no folder behind and writes nothing
// into the clinic's.
func TestNothingIsKept(t *testing.T) {
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	played(t, demoPlan(t, 1, "1,,D1\n"))
	left, err := os.ReadDir(tmp)
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
	if _, err := os.Stat(clinic(t, "demo").Data); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the clinic's data folder: %v", err)
	}
}

// TestMessageTime: 09:00, unless the clinic does not text then.
func TestMessageTime(t *testing.T) {
	for hours, want := range map[config.Hours]config.Clock{
		{From: 8 * 60, To: 21 * 60}: 9 * 60, {From: 9*60 + 30, To: 18 * 60}: 9*60 + 30, {From: 7 * 60, To: 9 * 60}: 7 * 60,
	} {
		if got := messageTime(hours); got != want {
			t.Errorf("%v: %v, want %v", hours, got, want)
		}
	}
}
