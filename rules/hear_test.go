package rules_test

import (
	"fmt"
	"reflect"
	"testing"

	"stepgate/rules"
)

func score(n int) *int { return &n }

// states to hear in: the day after some dates of history.
const (
	fresh     = ""
	under     = "d0"
	held      = "d5 -"
	paused    = "d9 -"
	over      = "4 -"
	ended     = "d0 discharge"
	suspended = "d0/wrong -"
	lost      = "22x-"
	finished  = "finished"
)

// hearIn hears one text on the evening after a history of the tendon lines.
func hearIn(t *testing.T, days string, r rules.Reading, optedOut bool) (before, after rules.State, h rules.Hearing) {
	t.Helper()
	p, e := change(plan(1, 3), func(p *rules.Program) { p.Pain = tendon; p.Wear = hourly }), enrolled()
	if days == held {
		p.Pain = rules.DefaultLines()
	}
	e.UsualWords = []string{"tingling"}
	if days == finished {
		p, days = lasting(1, 1), "8xd0"
	}
	out := play(p, e, nil, readDays(t, days))
	if len(out) > 0 {
		before = out[len(out)-1].evening
	}
	after, h = rules.Hear(p, &e, before, r, monday+rules.Date(len(out)), optedOut)
	return before, after, h
}

func TestHear(t *testing.T) {
	pain := func(n int) rules.Reading { return rules.Reading{Pain: score(n)} }
	numb := rules.RedFlag{Name: "numb", Tier: rules.UrgentClinic}
	calf := rules.RedFlag{Name: "calf", Tier: rules.UrgentToday}
	tingling := rules.RedFlag{Name: "tingling", Tier: rules.UrgentClinic}
	chest := rules.RedFlag{Name: "chest", Tier: rules.UrgentEmergency}
	hours, three, thirty, all := 4.0, 3, 30, 0
	type parts = []rules.Part
	type kinds = []rules.NoticeKind
	for _, c := range []struct {
		name    string
		in      string
		r       rules.Reading
		parts   parts
		notices kinds
		ask     rules.Question
	}{
		{name: "a score", in: under, r: pain(2), parts: parts{rules.SayScore}},
		{name: "a score at the hold line", in: under, r: pain(6), parts: parts{rules.SayHold}},
		{name: "over steady after over steady", in: over, r: pain(4), parts: parts{rules.SayHold}},
		{name: "at steady after over steady", in: over, r: pain(3), parts: parts{rules.SayScore}},
		{name: "at the step-back line", in: under, r: pain(7), parts: parts{rules.SayStepBack}},
		{name: "at the pause line", in: under, r: pain(8), parts: parts{rules.SayPause}, notices: kinds{rules.NoticePause}},
		{name: "low during a hold", in: held, r: pain(1), parts: parts{rules.SayClearing}},
		{name: "at steady during a hold", in: held, r: pain(3), parts: parts{rules.SayClearing}},
		{name: "over steady during a hold", in: held, r: pain(4), parts: parts{rules.SayHold}},
		{name: "low during a pause", in: paused, r: pain(1), parts: parts{rules.SayStillPaused}},
		{name: "at the pause line during a pause", in: paused, r: pain(9), parts: parts{rules.SayPause}, notices: kinds{rules.NoticePause}},
		{name: "first steps", in: under, r: rules.Reading{FirstStep: score(9)}, parts: parts{rules.SayFirstStep}},
		{name: "done", in: under, r: rules.Reading{Done: rules.DoneAll}, parts: parts{rules.SayDone}},
		{name: "done before the first text", in: fresh, r: rules.Reading{Done: rules.DoneAll}, parts: parts{rules.SayNotYet}},
		{name: "not today before the first text", in: fresh, r: rules.Reading{Done: rules.DoneNone}, parts: parts{rules.SayNotYet}},
		{name: "done and a score: the score says it", in: under, r: rules.Reading{Done: rules.DoneAll, Pain: score(2)}, parts: parts{rules.SayScore}},
		{name: "a bare done during a hold is asked for its number", in: held, r: rules.Reading{Done: rules.DoneAll},
			parts: parts{rules.SayAskNumber}, ask: rules.AskPain},
		{name: "done with a number during a hold is not", in: held, r: rules.Reading{Done: rules.DoneAll, Pain: score(2)}, parts: parts{rules.SayClearing}},
		{name: "done during a pause", in: paused, r: rules.Reading{Done: rules.DoneAll}, parts: parts{rules.SayStillPaused}},
		{name: "some of it", in: under, r: rules.Reading{Done: rules.DoneSome}, parts: parts{rules.SaySome}},
		{name: "not today is asked why", in: under, r: rules.Reading{Done: rules.DoneNone}, parts: parts{rules.SayWhyNot}, ask: rules.AskPain},
		{name: "not today during a pause", in: paused, r: rules.Reading{Done: rules.DoneNone}, parts: parts{rules.SayStillPaused}},
		{name: "hours worn", in: under, r: rules.Reading{Wear: &hours}, parts: parts{rules.SayWear}},
		{name: "hours worn beside a done", in: under, r: rules.Reading{Done: rules.DoneAll, Wear: &hours}, parts: parts{rules.SayDone}},
		{name: "skin", in: under, r: rules.Reading{Skin: true}, parts: parts{rules.SaySkin}, notices: kinds{rules.NoticeSkin}},
		{name: "a danger word", in: under, r: rules.Reading{Flags: []rules.RedFlag{calf}}, parts: parts{rules.SayUrgent}, notices: kinds{rules.NoticeRedFlag}},
		{name: "the most urgent of several", in: under, r: rules.Reading{Flags: []rules.RedFlag{numb, chest, calf}},
			parts: parts{rules.SayEmergency}, notices: kinds{rules.NoticeRedFlag}},
		{name: "a danger word for the clinic", in: under, r: rules.Reading{Flags: []rules.RedFlag{numb}}, parts: parts{rules.SayClinic}, notices: kinds{rules.NoticeRedFlag}},
		{name: "a danger word and a low score", in: under, r: rules.Reading{Flags: []rules.RedFlag{calf}, Pain: score(1)},
			parts: parts{rules.SayUrgent, rules.SayStillPaused}, notices: kinds{rules.NoticeRedFlag}},
		{name: "a danger word denied", in: under, r: rules.Reading{Denied: []rules.RedFlag{numb}, Unread: true},
			parts: parts{rules.SayPassedOn}, notices: kinds{rules.NoticeDenied}},
		{name: "a danger word and more: one notice shows the whole text", in: under,
			r:     rules.Reading{Flags: []rules.RedFlag{numb}, Pain: score(9), Unread: true},
			parts: parts{rules.SayClinic, rules.SayPause, rules.SayPassedOn}, notices: kinds{rules.NoticeRedFlag}},
		{name: "a danger word that is usual", in: under, r: rules.Reading{Flags: []rules.RedFlag{tingling}},
			parts: parts{rules.SayPassedOn}, notices: kinds{rules.NoticeUsual}},
		{name: "beside a score", in: under, r: rules.Reading{Flags: []rules.RedFlag{tingling}, Pain: score(2)},
			parts: parts{rules.SayScore, rules.SayPassedOn}, notices: kinds{rules.NoticeUsual}},
		{name: "beside one that is not", in: under, r: rules.Reading{Flags: []rules.RedFlag{tingling, calf}},
			parts: parts{rules.SayUrgent}, notices: kinds{rules.NoticeUsual, rules.NoticeRedFlag}},
		{name: "K from one who is asked for no skin check is no report", in: under, r: rules.Reading{SkinOK: true}, parts: parts{rules.SayUnread}},
		{name: "beside a done", in: under, r: rules.Reading{SkinOK: true, Done: rules.DoneAll}, parts: parts{rules.SayDone}},
		{name: "beside a complaint", in: under, r: rules.Reading{SkinOK: true, Skin: true}, parts: parts{rules.SaySkin}, notices: kinds{rules.NoticeSkin}},
		{name: "a report after a long silence", in: lost, r: rules.Reading{Done: rules.DoneAll},
			parts: parts{rules.SayDone, rules.SayLost}, notices: kinds{rules.NoticeBack}},
		{name: "a question after one", in: lost, r: rules.Reading{How: &all}, parts: parts{rules.SayHow}},
		{name: "after the program is finished", in: finished, r: pain(9), parts: parts{rules.SayEnded}, notices: kinds{rules.NoticeUnread}},
		{name: "stop and a danger word after it", in: finished, r: rules.Reading{Stop: true, Flags: []rules.RedFlag{chest}},
			parts: parts{rules.SayEmergency, rules.SayStopped}, notices: kinds{rules.NoticeRedFlag, rules.NoticeOptOut}},
		{name: "how to do the third", in: under, r: rules.Reading{How: &three}, parts: parts{rules.SayHow}},
		{name: "how to do them all", in: held, r: rules.Reading{How: &all}, parts: parts{rules.SayHow}},
		{name: "away three", in: under, r: rules.Reading{Away: &three}, parts: parts{rules.SayAway}},
		{name: "away too long", in: under, r: rules.Reading{Away: &thirty}, parts: parts{rules.SayAwayLong}, notices: kinds{rules.NoticeUnread}},
		{name: "away too long and something unread: told once", in: under, r: rules.Reading{Away: &thirty, Unread: true},
			parts: parts{rules.SayAwayLong, rules.SayPassedOn}, notices: kinds{rules.NoticeUnread}},
		{name: "call me", in: under, r: rules.Reading{Call: true}, parts: parts{rules.SayCall}, notices: kinds{rules.NoticeCall}},
		{name: "had to stop, it hurt 6", in: under, r: rules.Reading{AskStop: true, Pain: score(6)},
			parts: parts{rules.SayHold, rules.SayAskStop}, notices: kinds{rules.NoticeAskStop}},
		{name: "help", in: under, r: rules.Reading{Help: true}, parts: parts{rules.SayHelp}},
		{name: "help beside a report", in: under, r: rules.Reading{Help: true, Pain: score(2)}, parts: parts{rules.SayScore, rules.SayHelp}},
		{name: "nothing understood", in: under, r: rules.Reading{Unread: true}, parts: parts{rules.SayUnread}, notices: kinds{rules.NoticeUnread}},
		{name: "part of it understood", in: under, r: rules.Reading{Done: rules.DoneAll, Unread: true},
			parts: parts{rules.SayDone, rules.SayPassedOn}, notices: kinds{rules.NoticeUnread}},
		{name: "an echo of our own text", in: under, r: rules.Reading{Echo: true, Pain: score(9)}},
		{name: "wrong number", in: under, r: rules.Reading{Wrong: true}, parts: parts{rules.SayWrong}, notices: kinds{rules.NoticeWrong}},
		{name: "stop", in: under, r: rules.Reading{Stop: true}, parts: parts{rules.SayStopped}, notices: kinds{rules.NoticeOptOut}},
		{name: "stop beside a danger word", in: under, r: rules.Reading{Stop: true, Flags: []rules.RedFlag{calf}},
			parts: parts{rules.SayUrgent, rules.SayStopped}, notices: kinds{rules.NoticeRedFlag, rules.NoticeOptOut}},
		{name: "stop beside a score at the pause line", in: under, r: rules.Reading{Stop: true, Done: rules.DoneNone, Pain: score(8)},
			parts: parts{rules.SayStopped}, notices: kinds{rules.NoticePause, rules.NoticeOptOut}},
		{name: "start", in: under, r: rules.Reading{Start: true}, parts: parts{rules.SayStarted}},
		{name: "after discharge", in: ended, r: pain(9), parts: parts{rules.SayEnded}, notices: kinds{rules.NoticeUnread}},
		{name: "a stop word in a report after discharge is told", in: ended, r: rules.Reading{AskStop: true, Done: rules.DoneSome},
			parts: parts{rules.SayEnded}, notices: kinds{rules.NoticeUnread}},
		{name: "a stop word alone that may mean anything", in: under, r: rules.Reading{AskStop: true, Unread: true},
			parts: parts{rules.SayAskStop, rules.SayPassedOn}, notices: kinds{rules.NoticeAskStop}},
		{name: "how-to after discharge", in: ended, r: rules.Reading{How: &all}, parts: parts{rules.SayEnded}},
		{name: "a danger word after discharge", in: ended, r: rules.Reading{Flags: []rules.RedFlag{chest}},
			parts: parts{rules.SayEmergency, rules.SayEnded}, notices: kinds{rules.NoticeRedFlag, rules.NoticeUnread}},
		{name: "a suspended contact is told nothing personal", in: suspended, r: rules.Reading{Done: rules.DoneAll, Pain: score(9), How: &all},
			parts: parts{rules.SayWrong}, notices: kinds{rules.NoticeUnread}},
		{name: "a danger word of a suspended contact", in: suspended, r: rules.Reading{Flags: []rules.RedFlag{chest}},
			parts: parts{rules.SayEmergency, rules.SayWrong}, notices: kinds{rules.NoticeRedFlag, rules.NoticeUnread}},
		{name: "stop of a suspended contact", in: suspended, r: rules.Reading{Stop: true, Pain: score(9)},
			parts: parts{rules.SayStopped}, notices: kinds{rules.NoticeOptOut}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, h := hearIn(t, c.in, c.r, false)
			var told kinds
			for _, n := range h.Notices {
				told = append(told, n.Kind)
			}
			if !reflect.DeepEqual(h.Parts, c.parts) || !reflect.DeepEqual(told, c.notices) || h.Ask != c.ask {
				t.Errorf("says %v tells %v asks %q; want %v %v %q", h.Parts, told, h.Ask, c.parts, c.notices, c.ask)
			}
		})
	}
}

// TestRedFlagPausesAtOnce: not at the next settlement, and a report voids a
// decision that was not handed over yet.
func TestPausesAtOnce(t *testing.T) {
	for _, c := range []struct {
		name  string
		r     rules.Reading
		cause string
	}{
		{"a danger word", rules.Reading{Flags: []rules.RedFlag{{Name: "calf", Tier: rules.UrgentToday}}}, "calf"},
		{"a score", rules.Reading{Pain: score(10)}, "pain"},
		{"a danger word beside STOP", rules.Reading{Stop: true, Flags: []rules.RedFlag{{Name: "pop", Tier: rules.UrgentToday}}}, "pop"},
		{"a score beside START", rules.Reading{Start: true, Pain: score(9)}, "pain"},
	} {
		before, after, _ := hearIn(t, "d0 d0 -", c.r, false)
		if after.Pause == nil || after.Pause.Cause != c.cause || after.Pause.Since != monday+2 || after.Rev == before.Rev {
			t.Errorf("%s: pause %+v, revision %d after %d", c.name, after.Pause, after.Rev, before.Rev)
		}
	}
	_, after, _ := hearIn(t, fresh, rules.Reading{Pain: score(10)}, false)
	if after.Pause == nil || after.Pause.Since != monday {
		t.Errorf("before the first date: pause %+v, want since today", after.Pause)
	}
}

// TestSkinCheckNobodyAskedFor: it is no report. Devices that are out stay out,
// and a silence goes on.
func TestSkinCheckNobodyAskedFor(t *testing.T) {
	runRows(t, []row{{name: "after a skin report", program: wearing(hourly), days: "d0 b ok ok d0 -", wearWhy: "first_day tick skin skin skin skin_back"}})
	if got := told(row{days: "ok ok ok ok"}.play(t), rules.NoticeSilent); len(got) != 1 {
		t.Errorf("silent told on %v, want once", got)
	}
	p, e := plan(1), enrolled()
	_, h := rules.Hear(p, &e, rules.State{Decided: monday}, rules.Reading{SkinOK: true, Pain: score(2)}, monday, false)
	if !reflect.DeepEqual(h.Parts, []rules.Part{rules.SayScore}) {
		t.Errorf("beside a score: %v", h.Parts)
	}
}

// TestUsualWords: they are told and pause nothing; an unusual one beside them
// pauses, by its own name.
func TestUsualWords(t *testing.T) {
	tingling := rules.RedFlag{Name: "tingling", Tier: rules.UrgentClinic}
	calf := rules.RedFlag{Name: "calf", Tier: rules.UrgentToday}
	before, after, h := hearIn(t, under, rules.Reading{Flags: []rules.RedFlag{tingling}, Pain: score(2)}, false)
	if after.Pause != nil || after.Heard.Flag || !after.Heard.Any || after.Rev == before.Rev || *h.Notices[0].Score != 2 || h.Notices[0].Flags[0] != tingling {
		t.Errorf("a usual word: %+v %+v", after, h.Notices)
	}
	_, after, h = hearIn(t, under, rules.Reading{Flags: []rules.RedFlag{tingling, calf}}, false)
	if after.Pause == nil || after.Pause.Cause != "calf" || len(h.Notices) != 2 || len(h.Notices[1].Flags) != 1 || h.Notices[1].Flags[0] != calf {
		t.Errorf("beside an unusual one: %+v %+v", after.Pause, h.Notices)
	}
}

func TestWhatCountsVoidsADecision(t *testing.T) {
	away := 2
	for _, c := range []struct {
		r    rules.Reading
		want bool
	}{
		{rules.Reading{Pain: score(1)}, true}, {rules.Reading{Done: rules.DoneAll}, true}, {rules.Reading{Skin: true}, true},
		{rules.Reading{Away: &away}, true}, {rules.Reading{Stop: true}, true}, {rules.Reading{Wrong: true}, true},
		{rules.Reading{Unread: true}, false}, {rules.Reading{How: score(0)}, false}, {rules.Reading{Echo: true}, false},
	} {
		before, after, _ := hearIn(t, under, c.r, false)
		if got := after.Rev != before.Rev; got != c.want {
			t.Errorf("%+v: voids a decision made before it %v, want %v", c.r, got, c.want)
		}
	}
}

func TestOptInIsToldOnlyAfterAnOptOut(t *testing.T) {
	for _, optedOut := range []bool{false, true} {
		_, _, h := hearIn(t, under, rules.Reading{Start: true}, optedOut)
		if !h.OptIn || (len(h.Notices) == 1 && h.Notices[0].Kind == rules.NoticeOptIn) != optedOut {
			t.Errorf("opted out %v: %+v", optedOut, h)
		}
	}
	if _, _, h := hearIn(t, under, rules.Reading{Stop: true}, false); !h.OptOut || h.OptIn {
		t.Errorf("stop: %+v", h)
	}
}

func TestTheWorstOfADayCounts(t *testing.T) {
	for _, days := range []string{"d2/5/1", "5/1/d2", "1/d2/5"} {
		out := row{days: days}.play(t)
		if h := out[0].evening.Heard; h.Score == nil || *h.Score != 5 || h.Halves != 2 || !h.Clean {
			t.Errorf("%s: heard %s", days, fmt.Sprintf("%+v", h))
		}
	}
}

// TestLeft: during a hold the answer says how many clear dates are still
// wanted. The worst of the date counts, so a low score after a higher one
// brings none nearer.
func TestLeft(t *testing.T) {
	p, e := plan(1, 3), enrolled()
	for _, c := range []struct {
		clear  int
		before *int
		want   int
	}{{0, nil, 1}, {1, nil, 0}, {1, score(2), 0}, {1, score(5), 2}} {
		s := rules.State{P: 3, W: 3, Week: 1, Decided: monday + 3, Program: p.ID,
			Hold: &rules.PainHold{Since: monday, Clear: c.clear}, Heard: rules.Heard{Score: c.before, Any: c.before != nil}}
		_, h := rules.Hear(p, &e, s, rules.Reading{Pain: score(1)}, monday+3, false)
		if h.Left != c.want {
			t.Errorf("clear %d, heard %v before: %d left, want %d", c.clear, c.before, h.Left, c.want)
		}
	}
}

// TestSkinCheck: where skin checks are asked for, one without findings is a
// report of its own; elsewhere "K" may just mean OK, and brings nothing back.
func TestSkinCheck(t *testing.T) {
	p, e := plan(1, 3), enrolled()
	s := rules.State{P: 3, W: 3, Week: 1, Decided: monday + 3, Program: p.ID, Skin: rules.Skin{Out: true}}
	if got, _ := rules.Hear(p, &e, s, rules.Reading{SkinOK: true}, monday+3, false); got.Heard.Any || got.Heard.Clean || got.Rev != s.Rev {
		t.Errorf("nobody asked, and it counts: %+v", got.Heard)
	}
	e.Cautions.FragileSkin = true
	got, h := rules.Hear(p, &e, s, rules.Reading{SkinOK: true}, monday+3, false)
	if !got.Heard.SkinOK || !got.Heard.Clean || len(h.Parts) != 1 || h.Parts[0] != rules.SaySkinOK {
		t.Errorf("asked for, and it does not count: %+v, says %v", got.Heard, h.Parts)
	}
}
