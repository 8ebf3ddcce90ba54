package journal

import (
	"reflect"
	"testing"
	"time"

	"stepgate/rules"
)

// since3 is what version 3 took note of: days, what was reported of them, what
// became of their messages, and a message that was never handed over. These
// events come after those that let go of somebody.
func since3() []Event {
	low, high, corrected, hours := 2, 6, 4, 1.5
	const key, late = "daily/robin-1/2026-10-06", "daily/kim-3/2026-10-06"
	held := rules.Decision{Date: 20732, Day: 2, P: 1, W: 2, Step: 1, Steps: 3, State: rules.InHeld, Wear: 2 * time.Hour,
		Why:     rules.Reason{Code: rules.PainHeld, Rule: "pain", Score: &high, Line: 4, Since: 20731},
		WearWhy: rules.Reason{Code: rules.PainHeld}, Send: true, Rest: true, Eased: true, Ask: rules.AskPainNow}
	due := rules.Decision{Date: 20732, Day: 2, P: 2, W: 2, Step: 1, Steps: 3, State: rules.InActive, Why: rules.Reason{Code: rules.Tick},
		Doses: []rules.Due{{Exercise: "wall-calf-straight", Reps: 3}, {Exercise: "towel-curl", Reps: 10}}, Send: true, Ask: rules.AskPain}
	message := func(id, key string, rev int, dec rules.Decision) Event {
		e := daily(id, key)
		e.Out.Rev, e.Out.Decision = rev, &dec
		e.Out.Next = &rules.State{Rev: rev + 1, Program: "steady-arches", Decided: dec.Date}
		return e
	}
	said := func(id, text string, st *rules.State, r rules.Reading) Event {
		return Event{Kind: Heard, ID: "robin-1", State: st, In: &In{Channel: "spool", ID: id, From: "robin", Text: text, Came: day, Day: 20732, Reading: r}}
	}
	first := rules.State{Rev: 5, Program: "steady-arches", Decided: 20732, Heard: rules.Heard{Any: true, Score: &low, Halves: 1, Wear: &hours}}
	second := first
	second.Rev, second.Heard.Score, second.Heard.Flag = 6, &high, true
	untaken := rules.State{Rev: 4, Program: "heel-start", Decided: 20732, NotSent: true}
	return []Event{
		message("robin-1", key, 3, held), handed("robin-1", key),
		{Kind: Settled, ID: "robin-1", Key: key, Result: &Result{Status: "sent", ID: "SM2"}},
		said("r1", "S P2 W1.5 C", &first, rules.Reading{Done: rules.DoneSome, Pain: &low, Wear: &hours, Call: true}),
		said("r2", "P6 numb", &second, rules.Reading{Pain: &high, Flags: []rules.RedFlag{{Name: "numb", Tier: rules.UrgentClinic}}}),
		{Kind: Delivery, ID: "robin-1", Key: key, Result: &Result{Status: Delivered}},
		{Kind: Revised, ID: "robin-1", Entry: &rules.Entry{Kind: rules.EntryReplace, On: 20733, By: "J. Marlowe DPM", Why: "meant the other foot",
			Report: 20732, Score: &corrected}},
		message("kim-3", late, 3, due),
		{Kind: Settled, ID: "kim-3", Key: late, State: &untaken, Result: &Result{Status: "expired"}},
	}
}

// meant3 looks at what version 3 added.
func meant3(t *testing.T, tx *Tx) {
	t.Helper()
	want := Day{Date: 20732, Program: "steady-arches", D: 2, P: 1, W: 2, Step: 1, Steps: 3, State: rules.InHeld,
		Why: rules.PainHeld, WearWhy: rules.PainHeld, Wear: 120, Rest: true, Eased: true, Sent: true, Ask: rules.AskPainNow, Fate: Delivered,
		Reports: 2, Score: 4, FirstStep: -1, Struck: true, Halves: 1, Worn: 90, Flag: true, Call: true}
	days, err := tx.Days("robin-1", 20732, 0)
	if err != nil || len(days) != 1 || !reflect.DeepEqual(days[0], want) {
		t.Errorf("days of robin-1, %v\ngot  %+v\nwant %+v", err, days, want)
	}
	late := Day{Date: 20732, Program: "heel-start", D: 2, P: 2, W: 2, Step: 1, Steps: 3, State: rules.InActive, Why: rules.Tick,
		Due: []string{"wall-calf-straight", "towel-curl"}, Sent: true, Ask: rules.AskPain, Fate: "expired", Score: -1, FirstStep: -1, Worn: -1}
	days, err2 := tx.Days("kim-3", 0, 0)
	if err2 != nil || len(days) != 2 || days[0].Why != rules.NotBegun || !reflect.DeepEqual(days[1], late) {
		t.Errorf("days of kim-3, %v\ngot  %+v\nwant %+v last", err2, days, late)
	}
	p, err := tx.Person("robin-1")
	told := Told{Date: 20732, Day: 2, Step: 1, Steps: 3, Why: since3()[0].Out.Decision.Why, WearWhy: rules.Reason{Code: rules.PainHeld}}
	if err != nil || p.Told == nil || !reflect.DeepEqual(*p.Told, told) {
		t.Errorf("told %+v, %v", p.Told, err)
	}
}
