package rules_test

import (
	"encoding/json"
	"testing"
	"time"

	"stepgate/rules"
)

func TestDate(t *testing.T) {
	for _, c := range []struct {
		in   string
		want rules.Date
	}{
		{"2026-10-05", monday}, {"1970-01-02", 1}, {"1969-12-31", -1}, {"2028-02-29", rules.NewDate(2028, time.February, 29)},
	} {
		got, err := rules.ParseDate(c.in)
		if err != nil || got != c.want || got.String() != c.in {
			t.Errorf("%s: %v %v, want %v", c.in, got, err, c.want)
		}
	}
	for _, bad := range []string{"", "2026-02-30", "2026-2-3", "05.10.2026", "2027-02-29", "2026-10-05 ", "2026-13-01"} {
		if got, err := rules.ParseDate(bad); err == nil {
			t.Errorf("%q is read as %v", bad, got)
		}
	}
	if got := rules.NewDate(2026, time.January, 32); got.String() != "2026-02-01" {
		t.Errorf("January 32 is %v", got)
	}
	if y, m, d := monday.Civil(); y != 2026 || m != time.October || d != 5 || monday.Weekday() != time.Monday {
		t.Errorf("%d %v %d, a %v", y, m, d, monday.Weekday())
	}
	if s := rules.Date(0).String(); s != "-" {
		t.Errorf("no date is written %q", s)
	}
}

// TestDateOf: the date is the one the clock on the wall shows, also where UTC
// is a day off and where an hour is missing.
func TestDateOf(t *testing.T) {
	for _, c := range []struct{ zone, utc, want string }{
		{"Pacific/Kiritimati", "2026-10-04T10:00:00Z", "2026-10-05"},
		{"Pacific/Pago_Pago", "2026-10-05T10:59:00Z", "2026-10-04"},
		{"America/New_York", "2026-03-08T06:59:00Z", "2026-03-08"},
		{"America/New_York", "2026-03-08T04:59:00Z", "2026-03-07"},
		{"Europe/London", "2026-10-25T00:30:00Z", "2026-10-25"},
	} {
		loc, err := time.LoadLocation(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		at, err := time.Parse(time.RFC3339, c.utc)
		if err != nil {
			t.Fatal(err)
		}
		if got := rules.DateOf(at.In(loc)); got.String() != c.want {
			t.Errorf("%s in %s is %v, want %s", c.utc, c.zone, got, c.want)
		}
	}
}

func TestDateJSON(t *testing.T) {
	type pair struct{ A, B rules.Date }
	b, err := json.Marshal(pair{A: monday})
	if err != nil || string(b) != `{"A":"2026-10-05","B":""}` {
		t.Fatalf("%s %v", b, err)
	}
	var back pair
	if err := json.Unmarshal(b, &back); err != nil || back != (pair{A: monday}) {
		t.Errorf("%+v %v", back, err)
	}
	for _, bad := range []string{`{"A":"2026-02-30"}`, `{"A":7}`} {
		if err := json.Unmarshal([]byte(bad), &back); err == nil {
			t.Errorf("%s is read as %+v", bad, back)
		}
	}
}

func TestTextIn(t *testing.T) {
	for _, c := range []struct {
		text       rules.Text
		lang, want string
	}{
		{rules.Text{"en": "calf", "es": "gemelo"}, "es", "gemelo"},
		{rules.Text{"en": "calf", "es": "gemelo"}, "fr", "calf"},
		{rules.Text{"es": "gemelo", "fr": "mollet"}, "en", "gemelo"},
		{nil, "en", ""},
	} {
		if got := c.text.In(c.lang); got != c.want {
			t.Errorf("%v in %s: %q, want %q", c.text, c.lang, got, c.want)
		}
	}
}

func TestPlaces(t *testing.T) {
	for want, p := range map[string]rules.Pos{
		"": {Line: 4}, "a.yaml": {File: "a.yaml"}, "a.yaml:4": {File: "a.yaml", Line: 4}, "a.yaml:4:7": {File: "a.yaml", Line: 4, Column: 7},
	} {
		if got := p.String(); got != want {
			t.Errorf("%+v is written %q, want %q", p, got, want)
		}
	}
	p := plan(1)
	p.Where["pain.hold"] = rules.Pos{File: "x", Line: 12}
	if p.At("pain.hold").Line != 12 || p.At("pain.pause") != p.Where["program"] {
		t.Error("a rule left to its default stands where the program begins")
	}
}

func TestBlocks(t *testing.T) {
	p := change(plan(1, 3, 6), func(p *rules.Program) { p.Weeks = 8 })
	for day, want := range map[int]int{1: 0, 14: 0, 15: 1, 35: 1, 36: 2, 99: 2} {
		if got := p.BlockAt(day); got != want {
			t.Errorf("day %d is in block %d, want %d", day, got, want)
		}
	}
	for i, want := range []int{14, 35, 56} {
		if got := p.LastDay(i); got != want {
			t.Errorf("block %d ends on day %d, want %d", i, got, want)
		}
	}
	p.After = &rules.Maintenance{PerWeek: 2, Months: 6}
	if p.BlockAt(56) != 2 || p.BlockAt(57) != 3 || p.LastDay(2) != 56 || p.LastDay(3) != 0 || len(p.Blocks) != 3 {
		t.Error("maintenance begins after the last day of the table and ends on no program day")
	}
}

// TestTempo: 3 s up, 2 s hold, 3 s down; 288, 320 and 320 s under tension a
// session: Rathleff MS et al., Scand J Med Sci Sports 2015;25(3):e292-300.
func TestTempo(t *testing.T) {
	tempo := rules.Tempo{Up: 3, Hold: 2, Down: 3}
	for _, c := range []struct{ sets, reps, want int }{{3, 12, 288}, {4, 10, 320}, {5, 8, 320}} {
		if got := c.sets * c.reps * tempo.Seconds(); got != c.want {
			t.Errorf("%d x %d: %d s, want %d", c.sets, c.reps, got, c.want)
		}
	}
}

func TestUrgency(t *testing.T) {
	order := []rules.Urgency{"", rules.UrgentClinic, rules.UrgentToday, rules.UrgentEmergency}
	for i, u := range order {
		for j, v := range order {
			if got := u.Worse(v); got != (i > j) {
				t.Errorf("%q is worse than %q: %v", u, v, got)
			}
		}
	}
}

func TestShown(t *testing.T) {
	away := &rules.Away{From: monday, To: monday}
	all := rules.State{Discharged: true, Finished: true, Lost: true, Maint: monday, Suspended: true, Pause: &rules.Pause{}, Away: away, Eased: true,
		Hold: &rules.PainHold{}, Last: rules.Waiting}
	optedOut := true
	for _, c := range []struct {
		want rules.InState
		drop func()
	}{
		{rules.InDischarged, func() { all.Discharged = false }},
		{rules.InFinished, func() { all.Finished = false }},
		{rules.InOptedOut, func() { optedOut = false }},
		{rules.InSuspended, func() { all.Suspended = false }},
		{rules.InSuspended, func() { all.Lost = false }},
		{rules.InPaused, func() { all.Pause = nil }},
		{rules.InAway, func() { all.Away = nil }},
		{rules.InEased, func() { all.Eased = false }},
		{rules.InHeld, func() { all.Hold, all.Held = nil, &rules.ClinicHold{} }},
		{rules.InHeld, func() { all.Held = nil }},
		{rules.InWaiting, func() { all.Last = rules.Tick }},
		{rules.InMaintenance, func() { all.Maint = 0 }},
		{rules.InActive, func() {}},
	} {
		if got := all.Shown(monday, optedOut); got != c.want {
			t.Errorf("shown %q, want %q", got, c.want)
		}
		c.drop()
	}
}

func TestDecisionJSONThatIsNone(t *testing.T) {
	for _, bad := range []string{`{"wear_minutes":"an hour"}`, `{"doses":[{"hold_seconds":"ten"}]}`, `[]`} {
		var d rules.Decision
		if err := json.Unmarshal([]byte(bad), &d); err == nil {
			t.Errorf("%s is read as %+v", bad, d)
		}
	}
}
