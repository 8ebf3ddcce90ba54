package templates

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// wrote is a report on a date of October 2026.
func wrote(day int, text string, read rules.Reading) Report {
	return Report{At: time.Date(2026, time.October, day, 18, 30, 0, 0, time.UTC), Text: text, Read: read}
}

type storySample struct {
	name    string
	dec     rules.Decision
	reports []Report
}

func storySamples() []storySample {
	hours := 1.0
	at := func(line int) rules.Pos { return rules.Pos{File: "programs/steady-arches.yaml", Line: line, Column: 3} }
	own := rules.Pos{File: "enrollments.yaml", Line: 12}
	dec := func(why, wear rules.Reason, change ...func(*rules.Decision)) rules.Decision {
		d := rules.Decision{Date: monday + 8, Day: 16, P: 15, W: 4, Step: 2, Steps: 3, Why: why, WearWhy: wear, Wear: 4 * time.Hour}
		for _, f := range change {
			f(&d)
		}
		return d
	}
	held := rules.Reason{Code: rules.PainHeld, Rule: "pain.hold", At: at(31), Since: monday + 7, Need: 2}
	with := func(r rules.Reason, change func(*rules.Reason)) rules.Reason {
		change(&r)
		return r
	}
	tick, waits := rules.Reason{Code: rules.Tick}, rules.Reason{Code: rules.Tick, Rule: "wear", At: at(25)}
	pain5 := wrote(12, "P5 after the walk", rules.Reading{Pain: score(5)})
	return []storySample{
		{"first day", dec(rules.Reason{Code: rules.FirstDay, At: own}, rules.Reason{Code: rules.FirstDay, At: at(25)},
			func(d *rules.Decision) { d.P, d.W, d.Step, d.Wear = 1, 1, 1, time.Hour }), nil},
		{"tick", dec(tick, waits), []Report{wrote(12, "D 2", rules.Reading{Done: rules.DoneAll, Pain: score(2)})}},
		{"next step", dec(rules.Reason{Code: rules.Tick, Rule: "advance", At: at(34)}, rules.Reason{Code: rules.WearFull, At: at(25)},
			func(d *rules.Decision) { d.W, d.Wear = 8, 8*time.Hour }), []Report{wrote(12, "d1", rules.Reading{Done: rules.DoneAll, Pain: score(1)})}},
		{"a hold begins", dec(with(held, func(r *rules.Reason) { r.Score, r.Line = score(5), 4 }), held), []Report{pain5}},
		{"a hold stands", dec(with(held, func(r *rules.Reason) { r.Score, r.Have = score(2), 1 }), held),
			[]Report{pain5, wrote(13, "2", rules.Reading{Pain: score(2)})}},
		{"own lines", dec(with(held, func(r *rules.Reason) { r.Score, r.Line = score(5), 5 }), held), []Report{pain5}},
		{"step back", dec(rules.Reason{Code: rules.StepBack, Rule: "pain.step back", At: at(32), Score: score(7), Line: 6}, held,
			func(d *rules.Decision) { d.P, d.Step, d.Rest = 1, 1, true }),
			[]Report{wrote(12, "S 7 left, it hurt a lot", rules.Reading{Done: rules.DoneSome, Pain: score(7), Side: "left", Unread: true})}},
		{"eased", dec(rules.Reason{Code: rules.BlockAgain, Rule: "pain.step back", At: at(32), Score: score(6), Line: 6}, held,
			func(d *rules.Decision) { d.P, d.Step, d.Eased = 1, 1, true }), []Report{wrote(12, "p6", rules.Reading{Pain: score(6)})}},
		{"danger word", dec(rules.Reason{Code: rules.Paused, At: at(33), Since: monday + 7, By: "numbness"}, rules.Reason{Code: rules.Paused}),
			[]Report{wrote(12, "toes numb, no fever", rules.Reading{Flags: []rules.RedFlag{{Name: "numbness"}}, Denied: []rules.RedFlag{{Name: "fever"}}})}},
		{"waiting", dec(rules.Reason{Code: rules.Waiting, Rule: "advance", At: at(34), Short: "done", Have: 3, Need: 5}, rules.Reason{Code: rules.WearQuiet, At: at(25), Have: 3}), nil},
		{"blister", dec(tick, rules.Reason{Code: rules.SkinOut, At: at(25), Need: 2}, func(d *rules.Decision) { d.WearOut, d.Wear = true, 0 }),
			[]Report{wrote(12, "D 1 B", rules.Reading{Done: rules.DoneAll, Pain: score(1), Skin: true})}},
		{"blister, reduced sensation", dec(tick, rules.Reason{Code: rules.SkinStop, At: at(25), Need: 2}, func(d *rules.Decision) { d.WearOut, d.Wear = true, 0 }),
			[]Report{wrote(12, "B", rules.Reading{Skin: true})}},
		{"no skin check", dec(tick, rules.Reason{Code: rules.SkinCheck, At: own}), []Report{wrote(12, "W 1", rules.Reading{Wear: &hours})}},
		{"skin check", dec(tick, waits), []Report{wrote(12, "k", rules.Reading{SkinOK: true})}},
		{"worn little", dec(tick, rules.Reason{Code: rules.WoreLittle, At: at(25), Have: 60, Need: 240}), []Report{wrote(12, "W 1", rules.Reading{Wear: &hours})}},
		{"first-step rise", dec(rules.Reason{Code: rules.FirstRise, At: at(40), Score: score(6), Line: 3, Need: 2, Since: monday + 7}, held),
			[]Report{wrote(5, "F5", rules.Reading{FirstStep: score(5)}), wrote(12, "F6", rules.Reading{FirstStep: score(6)})}},
		{"break", dec(rules.Reason{Code: rules.Break, Since: monday - 7, Need: 14}, rules.Reason{Code: rules.Break},
			func(d *rules.Decision) { d.P, d.Step, d.W, d.Wear = 1, 1, 1, time.Hour }), nil},
		{"silent", dec(rules.Reason{Code: rules.Lost, Since: monday - 14, Need: 21}, rules.Reason{Code: rules.Lost}), nil},
		{"review", dec(rules.Reason{Code: rules.Review, At: at(41), Need: 3}, waits), []Report{wrote(12, "call me please", rules.Reading{Call: true})}},
		{"new device", dec(tick, rules.Reason{Code: rules.DeviceNew, At: own, Since: monday + 8}, func(d *rules.Decision) { d.W, d.Wear = 1, time.Hour }), nil},
		{"device out", dec(tick, rules.Reason{Code: rules.DeviceAway, At: own, Since: monday + 8}, func(d *rules.Decision) { d.Wear = 0 }), nil},
		{"away", dec(rules.Reason{Code: rules.AwayCode, Since: monday + 11}, rules.Reason{Code: rules.AwayCode}), []Report{wrote(12, "A 4", rules.Reading{Away: score(4)})}},
		{"finished", dec(rules.Reason{Code: rules.Finished, At: at(5)}, rules.Reason{Code: rules.WearFull, At: at(25)}), nil},
		{"wear only", dec(tick, waits, func(d *rules.Decision) { d.P, d.Step, d.Steps = 0, 0, 0 }), nil},
		{"long text", dec(tick, rules.Reason{Code: rules.WearNone}), []Report{wrote(12, strings.Repeat("so many words ", 20), rules.Reading{Unread: true}),
			wrote(12, `Liked "D 2"`, rules.Reading{Echo: true})}},
	}
}

func TestGoldenExplain(t *testing.T) {
	s := newSet(t)
	var b strings.Builder
	for _, x := range storySamples() {
		b.WriteString(x.name + ":\n  " + s.Explain("en", sampleProgram(), x.dec, x.reports) + "\n")
	}
	golden(t, filepath.Join("en", "explain.txt"), b.String())
}

// A story has one to five sentences, names the file and line of the rule where
// the decision knows it, and no score that stands in none of its facts.
func TestStoriesAreShort(t *testing.T) {
	s := newSet(t)
	end := regexp.MustCompile(`[.?!]( [A-Z]|$)`)
	for _, x := range storySamples() {
		got := s.Explain("en", sampleProgram(), x.dec, x.reports)
		unquoted := regexp.MustCompile(`"[^"]*"`).ReplaceAllString(got, "x")
		if n := len(end.FindAllString(unquoted, -1)); n < 1 || n > 5 {
			t.Errorf("%s has %d sentences: %s", x.name, n, got)
		}
		if x.dec.Why.Code != rules.FirstDay && x.dec.Why.At.Line > 0 && x.dec.Why.By == "" && !strings.Contains(got, "programs/steady-arches.yaml:") {
			t.Errorf("%s names no file and line: %s", x.name, got)
		}
	}
}

// Every reason has its words of what ends it, and none of them is a number
// that the lines of another patient would make wrong.
func TestEndsFitThePatientsLines(t *testing.T) {
	s, prog := newSet(t), sampleProgram()
	hold := rules.Decision{P: 9, Why: rules.Reason{Code: rules.PainHeld, Score: score(5), Line: 4, Need: 2, Have: 1}}
	if got := s.Explain("en", prog, hold, nil); !strings.Contains(got, "after 2 dates at 3 or under; 1 so far") {
		t.Error(got)
	}
	for name, change := range map[string]func(*rules.Reason){
		"another line":   func(r *rules.Reason) { r.Line = 5 },
		"another number": func(r *rules.Reason) { r.Need = 4 },
	} {
		other := hold
		change(&other.Why)
		if got := s.Explain("en", prog, other, nil); strings.Contains(got, "at 3 or under") || !strings.Contains(got, "own steady line") {
			t.Errorf("%s: %s", name, got)
		}
	}
	if got := s.Explain("en", nil, hold, nil); strings.Contains(got, "at 0") {
		t.Error(got)
	}
}
