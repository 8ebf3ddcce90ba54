package rules_test

import (
	"encoding/json"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// TestAlways: what holds on every date of every history.
func TestAlways(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := lives(t)
		w := &watch{t: t, l: l, p: l.program, worst: -1}
		w.texts(l.before)
		var last outcome
		for i, o := range l.play() {
			w.p = l.at(i)
			w.entries(l.days[i].entries)
			if o.dec != nil {
				w.decided(last, o)
			}
			w.texts(l.days[i].texts)
			last = o
			if t.Failed() {
				t.Fatalf("date %d\n%v", i, l)
			}
		}
	})
}

// watch follows a history with the plainest bookkeeping that can judge it.
type watch struct {
	t *rapid.T
	l life
	p *rules.Program

	worst     int  // of the scores since the last settlement, -1 none
	flag      bool // a danger word since
	over      bool // the last settled score was over steady
	uncleared bool // a score at or over the hold line has not been cleared
	clear     int
	paused    bool
	suspended bool
	ended     bool
	cap       int
	step      int    // the block's week, at the last decision
	program   string // of the last decision
}

func (w *watch) entries(entries []rules.Entry) {
	for _, n := range entries {
		switch n.Kind {
		case rules.EntryRelease:
			w.paused = false
		case rules.EntryCap:
			w.cap = n.Step
		case rules.EntryConfirm:
			w.suspended = false
		case rules.EntryDischarge:
			w.ended = true
		}
	}
}

func (w *watch) texts(texts []rules.Reading) {
	for _, r := range texts {
		w.text(r)
	}
}

func (w *watch) text(r rules.Reading) {
	switch {
	case r.Wrong:
		w.suspended = true
		return
	case w.suspended || w.ended:
		return
	}
	if r.Pain != nil {
		w.worst = max(w.worst, *r.Pain)
		counts := *r.Pain
		if w.over && counts > w.p.Pain.Steady {
			counts = max(counts, w.p.Pain.Hold)
		}
		w.paused = w.paused || counts >= w.p.Pain.Pause
	}
	if len(r.Flags) > 0 {
		w.flag, w.paused = true, true
	}
}

func (w *watch) decided(last, o outcome) {
	w.settleScore()
	dec := *o.dec
	w.moves(last, o)
	w.height(dec)
	w.sends(o)
	w.explained(dec)
	w.program = w.p.ID
	if !reflect.DeepEqual(o.state.Heard, rules.Heard{}) || o.state.Decided != o.date {
		w.t.Errorf("reports are left after the settlement: %+v", o.state)
	}
}

// settleScore counts as a person would: a score at or over the hold line or a
// danger word, and then so many dates at or under steady.
func (w *watch) settleScore() {
	lines := w.p.Pain
	switch {
	case w.flag:
		w.uncleared, w.clear = true, 0
	case w.worst < 0:
	case w.worst >= lines.Hold, w.over && w.worst > lines.Steady:
		w.uncleared, w.clear = true, 0
	case w.worst > lines.Steady:
		w.clear = 0
	default:
		w.clear++
	}
	if w.worst >= 0 {
		w.over = w.worst > lines.Steady
	}
	if w.uncleared && w.clear >= lines.ClearDays {
		w.uncleared = false
	}
	w.worst, w.flag = -1, false
}

// moves: no tick after a score at or over the hold line until it is cleared,
// and never up by more than one.
func (w *watch) moves(last, o outcome) {
	before, after, why := last.evening, o.state, o.dec.Why.Code
	if before.Program != w.p.ID {
		before.P, before.W = 0, 0
	}
	if after.P > before.P+1 || after.W > before.W+1 {
		w.t.Errorf("P from %d to %d, W from %d to %d", before.P, after.P, before.W, after.W)
	}
	rose := after.P > before.P && before.P > 0
	if rose && why != rules.Tick {
		w.t.Errorf("P rises with the reason %s", why)
	}
	grew := after.W > before.W && before.W > 0
	if grew && o.dec.WearWhy.Code != rules.Tick {
		w.t.Errorf("W rises with the reason %s", o.dec.WearWhy.Code)
	}
	if (w.uncleared || w.paused) && (rose || grew || why == rules.Tick) {
		w.t.Errorf("a tick before pain was cleared: P %d to %d, W %d to %d, %s", before.P, after.P, before.W, after.W, why)
	}
	if w.uncleared != (after.Hold != nil) {
		w.t.Errorf("pain hold %+v, by a plain count it stands %v", after.Hold, w.uncleared)
	}
	if why == rules.Waiting && (after.Hold != nil || o.dec.Rest) {
		w.t.Error("waiting is shown as a hold")
	}
}

// height: the block rises by at most one a date and only by the advance rule,
// also where the program was edited, never above calendar week or cap.
func (w *watch) height(dec rules.Decision) {
	if dec.Step == 0 {
		w.step = 0
		return
	}
	week := w.p.Blocks[dec.Step-1].Week
	if week > (dec.Day-1)/7+1 {
		w.t.Errorf("the block of week %d on calendar day %d", week, dec.Day)
	}
	if w.cap > 0 && dec.Step > w.cap {
		w.t.Errorf("step %d over the cap %d", dec.Step, w.cap)
	}
	if w.program == w.p.ID && w.step > 0 && week > w.step {
		skipped := 0
		for _, b := range w.p.Blocks {
			if b.Week > w.step && b.Week < week {
				skipped++
			}
		}
		if skipped > 0 || dec.Why.Code != rules.Tick || dec.Why.Rule != "advance" {
			w.t.Errorf("from the block of week %d to that of week %d, skipping %d, by %+v", w.step, week, skipped, dec.Why)
		}
	}
	if w.program != "" && w.program != w.p.ID && dec.Step > 1 {
		w.t.Errorf("moved to another program at step %d", dec.Step)
	}
	w.step = week
}

// sends: nothing while paused, suspended, away, opted out, without consent or
// after discharge; after a pause nothing but a release brings messages back.
func (w *watch) sends(o outcome) {
	away := o.state.Away
	gone := away != nil && away.From <= o.date && o.date <= away.To
	silent := w.paused || w.suspended || w.ended || gone || o.optedOut || !w.l.enroll.Consent
	if silent && o.dec.Send {
		w.t.Errorf("a message while paused %v suspended %v ended %v away %v opted out %v consent %v",
			w.paused, w.suspended, w.ended, gone, o.optedOut, w.l.enroll.Consent)
	}
	if !silent && !o.dec.Send && (len(o.dec.Doses) > 0 || o.dec.Rest) {
		w.t.Error("no message though something is due and nothing forbids it")
	}
	if w.paused != (o.state.Pause != nil) {
		w.t.Errorf("pause %+v, by a plain count %v", o.state.Pause, w.paused)
	}
	if o.dec.Rest && len(o.dec.Doses) > 0 {
		w.t.Error("a rest day with exercises")
	}
}

// explained: every decision says why, and where the rule stands.
func (w *watch) explained(dec rules.Decision) {
	for _, why := range []rules.Reason{dec.Why, dec.WearWhy} {
		if why.Code == "" || why.Rule != "" && why.At.File == "" {
			w.t.Errorf("a decision without a reason or a place: %+v", why)
		}
	}
	if dec.State == "" || dec.Send && dec.Ask == rules.AskNothing {
		w.t.Errorf("state %q, a message asks %q", dec.State, dec.Ask)
	}
}

// TestStateSurvivesTheJournal: a state or a decision written as JSON and read
// back is the same; a hold is kept to the second, wear to the minute.
func TestStateSurvivesTheJournal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for i, o := range lives(t).play() {
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
		l := lives(t)
		var kept []rules.State
		var bytes [][]byte
		keep := func(s rules.State) { kept, bytes = append(kept, s), append(bytes, encode(t, s)) }
		for i, o := range l.play() {
			p, e, s := l.at(i), l.enroll, o.evening
			program, enrollment := encode(t, p), encode(t, e)
			keep(s)
			for _, f := range []rules.Facts{{}, {OptedOut: true}, {Unheard: true}} {
				next, dec := rules.Decide(p, &e, s, o.date+1, f)
				keep(next)
				keep(rules.Untaken(next, dec.Date))
			}
			for _, r := range l.days[i].texts {
				reading := encode(t, r)
				next, _ := rules.Hear(p, &e, s, r, o.date, false)
				keep(next)
				after, _ := rules.Decide(p, &e, next, o.date+1, rules.Facts{})
				keep(after)
				if string(reading) != string(encode(t, r)) {
					t.Fatalf("the reading is changed: %s", reading)
				}
			}
			for _, kind := range []rules.EntryKind{rules.EntryHold, rules.EntryRelease, rules.EntryCap} {
				keep(rules.Enter(s, rules.Entry{Kind: kind, On: o.date}, o.date))
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
