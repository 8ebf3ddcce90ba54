package rules_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepgate/rules"
)

// TestAlways: what holds on every date of every history.
func TestAlways(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := corrected(t)
		w := &watch{t: t, p: l.program, e: &l.enroll, worst: -1, first: -1}
		w.texts(l.before)
		last := outcome{}
		for i, o := range l.play() {
			w.p, w.e = l.at(i)
			w.entries(l.days[i], last.evening)
			if o.dec != nil {
				w.decided(o)
				w.untaken = l.days[i].untaken
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
	p *rules.Program
	e *rules.Enrollment

	worst     int  // of the scores since the last settlement, -1 none
	flag      bool // a danger word since
	over      bool // the last settled score was over steady
	uncleared bool // what started a hold has not been cleared
	clear     int
	paused    bool
	fresh     bool // the pause began since the last settlement
	suspended bool
	ended     bool
	lost      bool
	cap       int
	step      int    // the block's week, at the last decision; 0: look afresh
	program   string // of the last decision

	first  int   // worst first-step score since the last settlement, -1 none
	firsts []int // the last four answers
	rises  int   // running

	reported bool       // anything since the last settlement
	quiet    int        // messages taken and not answered, running
	sent     rules.Date // the last message taken
	open     bool       // the last decided date's message was taken
	untaken  bool
}

func (w *watch) entries(today day, s rules.State) {
	held := rules.Date(0)
	if s.Held != nil {
		held = s.Held.Since
	}
	for _, n := range today.entries {
		switch n.Kind {
		case rules.EntryReport:
			w.text(today.phoned[n.Said])
		case rules.EntryHold:
			held = n.On
		case rules.EntryRelease:
			if n.OfHold != 0 {
				if held == n.OfHold {
					s.Days, held = nil, 0
				}
				break
			}
			held = 0
			if n.AsBefore && w.paused {
				w.asBefore()
			}
			w.paused = false
			s.Days = nil // the window begins anew, and what was before is not known any more
		case rules.EntryCap:
			w.cap = n.Step
		case rules.EntryConfirm:
			w.suspended, w.lost, w.quiet = false, false, 0
		case rules.EntryDischarge:
			w.ended = true
		case rules.EntryStrike, rules.EntryReplace:
			w.correct(n, s)
		}
	}
}

// asBefore: a pause not settled yet becomes a hold, a settled one lets the
// block be what it was.
func (w *watch) asBefore() {
	if w.fresh {
		w.worst, w.flag, w.uncleared, w.clear, w.fresh = -1, false, true, 0, false
	} else {
		w.step = 0
	}
}

// correct: the score of the date not settled yet is another; a settled date's
// counts once more where it is worse than all that was known.
func (w *watch) correct(n rules.Entry, s rules.State) {
	score := -1
	if n.Score != nil {
		score = *n.Score
	}
	if n.Report == s.Decided {
		w.worst = score
		return
	}
	for _, d := range s.Days {
		if d.Date == n.Report && (d.Score == nil || score > *d.Score) {
			w.worst = max(w.worst, score)
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
	r.SkinOK = r.SkinOK && w.e.Cautions.SkinChecks() // else nobody asked
	w.reported = w.reported || r.Report()
	if r.FirstStep != nil {
		w.first = max(w.first, *r.FirstStep)
	}
	if r.Pain != nil {
		w.worst = max(w.worst, *r.Pain)
		counts, lines := *r.Pain, w.e.Pain(w.p)
		if w.over && counts > lines.Steady {
			counts = max(counts, lines.Hold)
		}
		w.pause(counts >= lines.Pause)
	}
	for _, f := range r.Flags {
		if !slices.Contains(w.e.UsualWords, f.Name) {
			w.flag = true
			w.pause(true)
		}
	}
}

func (w *watch) pause(yes bool) {
	if yes {
		w.paused, w.fresh = true, true
	}
}

func (w *watch) decided(o outcome) {
	w.answered()
	w.settleScore()
	w.fresh = false
	w.moves(o)
	w.height(*o.dec)
	w.sends(o)
	w.explained(*o.dec)
	w.program = w.p.ID
	w.ended = w.ended || o.state.Finished
	if !reflect.DeepEqual(o.state.Heard, rules.Heard{}) || o.state.Decided != o.date {
		w.t.Errorf("reports are left after the settlement: %+v", o.state)
	}
}

// answered counts the messages that were taken and not answered.
func (w *watch) answered() {
	switch {
	case w.reported:
		w.quiet = 0
	case w.open:
		w.quiet++
	}
	w.reported, w.open = false, false
}

// settleScore counts as a person would: a score at or over the hold line, a
// danger word or a second first-step rise running, and then so many dates at
// or under steady.
func (w *watch) settleScore() {
	lines := w.e.Pain(w.p)
	rise := w.rose()
	switch {
	case w.flag, w.worst >= lines.Hold, w.over && w.worst > lines.Steady, rise:
		w.uncleared, w.clear = true, 0
	case w.worst < 0:
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
	w.worst, w.flag, w.first = -1, false, -1
}

// rose tells of a second rise of first-step pain running.
func (w *watch) rose() bool {
	if w.first < 0 {
		return false
	}
	base := slices.Clone(w.firsts)
	if w.e.UsualStep != nil {
		base = append(base, *w.e.UsualStep)
	}
	if len(base) > 0 && w.first >= slices.Min(base)+max(1, w.p.FirstStep.Rise) {
		w.rises++
	} else {
		w.rises = 0
	}
	w.firsts = append(w.firsts, w.first)
	w.firsts = w.firsts[max(0, len(w.firsts)-4):]
	return w.rises >= 2
}

// moves: no tick after a score at or over the hold line until it is cleared,
// and never up by more than one.
func (w *watch) moves(o outcome) {
	before, after, why := o.morning, o.state, o.dec.Why.Code
	if before.Program != w.p.ID {
		before.P, before.W = 0, 0
	}
	most := before.P + 1
	if before.P == 0 {
		most = max(1, w.e.FromDay)
	}
	if after.P > most || after.W > before.W+1 {
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
	mayWear := w.p.Wear != nil && w.p.Wear.GoesOn && !w.paused
	if (w.uncleared || w.paused) && (rose || grew && !mayWear || why == rules.Tick) {
		w.t.Errorf("a tick before pain was cleared: P %d to %d, W %d to %d, %s", before.P, after.P, before.W, after.W, why)
	}
	if w.uncleared != (after.Hold != nil) {
		w.t.Errorf("pain hold %+v, by a plain count it stands %v", after.Hold, w.uncleared)
	}
	if why == rules.Waiting && (after.Hold != nil || o.dec.Rest) {
		w.t.Error("waiting is shown as a hold")
	}
	if after.Breaks > before.Breaks && (o.dec.WearWhy.Code != rules.WearNone && after.W != 1 || after.P > max(before.P, w.e.FromDay, 1) ||
		w.program == w.p.ID && o.dec.Step > 1 && before.P > 0 && before.Maint == 0 && w.p.Blocks[o.dec.Step-1].Week >= before.Week) {
		w.t.Errorf("a break leaves P %d in step %d (before %d) and W %d", after.P, o.dec.Step, before.P, after.W)
	}
}

// height: the block rises by at most one a date and only by the advance rule,
// also where the program was edited, never above calendar week or cap.
func (w *watch) height(dec rules.Decision) {
	if dec.Step == 0 {
		w.step = 0
		return
	}
	week, from := w.p.Blocks[dec.Step-1].Week, max(1, w.e.FromDay)
	if week > (dec.Day+from-2)/7+1 {
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
	if w.program != "" && w.program != w.p.ID && week > (from-1)/7+1 {
		w.t.Errorf("moved to another program at step %d", dec.Step)
	}
	w.step = week
}

// sends: nothing while paused, suspended, lost, away, opted out, without
// consent or after discharge; after a pause nothing but a release brings
// messages back, after a long silence nothing but a confirmed contact.
func (w *watch) sends(o outcome) {
	w.lost = w.lost || o.state.Lost
	away := o.state.Away
	gone := away != nil && away.From <= o.date && o.date <= away.To
	silent := w.paused || w.suspended || w.ended || w.lost || gone || o.optedOut || !w.e.Consent
	weekly := w.quiet >= 7
	if silent && o.dec.Send {
		w.t.Errorf("a message while paused %v suspended %v ended %v lost %v away %v opted out %v consent %v",
			w.paused, w.suspended, w.ended, w.lost, gone, o.optedOut, w.e.Consent)
	}
	if !silent && !weekly && !o.dec.Send && (len(o.dec.Doses) > 0 || o.dec.Rest) {
		w.t.Error("no message though something is due and nothing forbids it")
	}
	if o.dec.Send && !o.dec.Closing && weekly && (o.date-w.sent < 7 && !w.untaken || !o.dec.Weekly || len(o.dec.Doses) > 0) {
		w.t.Errorf("after %d messages without an answer, the last on %v: %+v", w.quiet, w.sent, o.dec)
	}
	if w.paused != (o.state.Pause != nil) {
		w.t.Errorf("pause %+v, by a plain count %v", o.state.Pause, w.paused)
	}
	if o.dec.Rest && len(o.dec.Doses) > 0 {
		w.t.Error("a rest day with exercises")
	}
	if o.dec.Send && !o.state.NotSent {
		w.open, w.sent = true, o.date
	}
}

// explained: every decision says why, and where the rule stands.
func (w *watch) explained(dec rules.Decision) {
	for _, why := range []rules.Reason{dec.Why, dec.WearWhy} {
		if why.Code == "" || why.Rule != "" && why.At.File == "" {
			w.t.Errorf("a decision without a reason or a place: %+v", why)
		}
	}
	if dec.State == "" || dec.Send && dec.Closing != (dec.Ask == rules.AskNothing) {
		w.t.Errorf("state %q, a message asks %q", dec.State, dec.Ask)
	}
	if dec.Closing && (!dec.Send || len(dec.Doses) > 0 || dec.State != rules.InFinished) {
		w.t.Errorf("a closing text: %+v", dec)
	}
}
