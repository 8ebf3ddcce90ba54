package rules_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// TestStateSurvivesTheJournal: a state or a decision written as JSON and read
// back is the same; a hold is kept to the second, wear to the minute.
func TestStateSurvivesTheJournal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for i, o := range corrected(t).play() {
			for _, s := range []rules.State{o.state, o.evening} {
				var back rules.State
				if b := encode(t, s); json.Unmarshal(b, &back) != nil || !reflect.DeepEqual(s, back) {
					t.Fatalf("date %d: %s came back as %+v", i, b, back)
				}
			}
			if o.dec == nil {
				continue
			}
			want, back := *o.dec, rules.Decision{}
			if b := encode(t, want); json.Unmarshal(b, &back) != nil || !reflect.DeepEqual(want, back) {
				t.Fatalf("date %d: %s came back as %+v", i, b, back)
			}
		}
	})
}

// TestNothingIsWrittenInto: deciding and hearing leave the state, program,
// enrollment and reading passed in as they were, and two results from one
// state share nothing that either writes into.
func TestNothingIsWrittenInto(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := corrected(t)
		var kept []rules.State
		var bytes [][]byte
		keep := func(s rules.State) { kept, bytes = append(kept, s), append(bytes, encode(t, s)) }
		for i, o := range l.play() {
			s := o.evening
			p, e := l.at(i)
			program, enrollment := encode(t, p), encode(t, e)
			keep(s)
			for _, f := range []rules.Facts{{}, {OptedOut: true}, {Unheard: true}} {
				next, dec := rules.Decide(p, e, s, o.date+1, f)
				keep(next)
				keep(rules.Untaken(next, dec.Date))
			}
			for _, r := range l.days[i].texts {
				reading := encode(t, r)
				next, _ := rules.Hear(p, e, s, r, o.date, false)
				keep(next)
				after, _ := rules.Decide(p, e, next, o.date+1, rules.Facts{})
				keep(after)
				if string(reading) != string(encode(t, r)) {
					t.Fatalf("the reading is changed: %s", reading)
				}
			}
			for _, kind := range []rules.EntryKind{rules.EntryHold, rules.EntryRelease, rules.EntryCap, rules.EntryConfirm,
				rules.EntryWear, rules.EntryReview, rules.EntryStrike, rules.EntryReplace} {
				three := 3
				keep(rules.Enter(s, rules.Entry{Kind: kind, On: o.date, AsBefore: true, Report: o.date - 2, Score: &three}, o.date))
			}
			for _, r := range l.days[i].phoned {
				next, _ := rules.EnterReport(p, e, s, rules.Entry{Kind: rules.EntryReport, On: o.date, Said: "more"}, r, o.date, false)
				keep(next)
			}
			if string(program) != string(encode(t, p)) || string(enrollment) != string(encode(t, e)) {
				t.Fatal("the program or the enrollment is changed")
			}
		}
		for i, s := range kept {
			if string(encode(t, s)) != string(bytes[i]) {
				t.Fatalf("a state was written into: %s became %s", bytes[i], encode(t, s))
			}
		}
	})
}

func encode(t interface{ Fatal(...any) }, v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
