package rules_test

import (
	"encoding/json"
	"testing"

	"stepgate/rules"
)

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2026-10-05", "2026-02-30", "1969-12-31", "0000-01-01", "9999-12-31", "2028-02-29", "20261005", "-"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := rules.ParseDate(s)
		if err != nil {
			if d != 0 {
				t.Fatalf("%q: %v beside an error", s, d)
			}
			return
		}
		if s == "1970-01-01" { // the day that stands for no date
			return
		}
		if d.String() != s {
			t.Fatalf("%q is read as %v", s, d)
		}
		if y, m, day := d.Civil(); rules.NewDate(y, m, day) != d || rules.DateOf(d.Time()) != d {
			t.Fatalf("%q: %d %v %d is another date", s, y, m, day)
		}
	})
}

// FuzzDecide decides from a state as the journal hands it back, also one that
// another program or another enrollment left behind.
func FuzzDecide(f *testing.F) {
	programs := []*rules.Program{
		wearing(hourly), quick(1, 2, 3), plan(), change(quick(1, 2), func(p *rules.Program) { p.Weeks = 2 }),
	}
	for i, days := range []string{"9xd0 d6", "16xd0 cap1/d8", "d0 b 5", "3x- a2/4", "d0 untaken red", "d0 wrong/hold -"} {
		for _, o := range (row{program: programs[i%len(programs)], days: days}).play(f) {
			b, err := json.Marshal(o.evening)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(b, uint8(i), uint8(1+i))
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, which, after uint8) {
		var s rules.State
		if json.Unmarshal(b, &s) != nil || s.P < 0 || s.W < 0 || s.Skin.Wait < 0 {
			return // no decision leaves such a state
		}
		p, e := programs[int(which)%len(programs)], enrolled()
		d := s.Decided + rules.Date(after)
		if !rules.Decidable(&e, s, d) {
			return
		}
		next, dec := rules.Decide(p, &e, s, d, rules.Facts{Unheard: which > 127})
		switch {
		case dec.Why.Code == "" || dec.WearWhy.Code == "" || dec.State == "":
			t.Fatalf("not explained: %+v", dec)
		case dec.P > dec.Day || dec.Step > len(p.Blocks) || dec.Wear < 0 || p.Wear != nil && dec.Wear > p.Wear.Full:
			t.Fatalf("beyond the program: %+v", dec)
		case dec.Send && (s.Pause != nil || s.Suspended || s.Discharged):
			t.Fatalf("a message from %s", b)
		case next.Decided != d || next.P != dec.P || next.W != dec.W || next.Rev == s.Rev:
			t.Fatalf("state %+v beside decision %+v", next, dec)
		}
	})
}
