package rules

import (
	"reflect"
	"slices"
)

// MaxAway is the longest time away a patient can set by text, in days.
const MaxAway = 28

// Hear takes what a text was read as into the state. Pause, away and devices
// out hold from this moment; the program day and the wear day move at the
// next settlement. today is the patient's local date.
func Hear(p *Program, e *Enrollment, s State, r Reading, today Date, optedOut bool) (State, Hearing) {
	if r.SkinOK && !e.Cautions.SkinChecks() {
		// Nobody asked, and "K" is also how people write OK: it is no report,
		// or it would bring devices back after a blister and end a silence.
		r.SkinOK = false
		if reflect.DeepEqual(r, Reading{}) {
			return s, Hearing{Parts: []Part{SayUnread}}
		}
	}
	x := &hearing{e: e, lines: e.Pain(p), s: s, r: r, today: today}
	if r.Echo {
		return s, x.out
	}
	if x.keywords(optedOut) {
		x.s.Rev++
		return x.s, x.out
	}
	switch {
	case s.Discharged, s.Finished:
		x.ended()
	case s.Suspended:
		x.inDoubt()
	default:
		x.danger()
		x.score()
		x.body()
		x.asks()
	}
	x.leftOver()
	if r.Report() || r.Away != nil {
		x.s.Rev++
	}
	return x.s, x.out
}

type hearing struct {
	e     *Enrollment
	lines Lines // the patient's
	s     State
	r     Reading
	today Date
	out   Hearing
}

func (x *hearing) say(parts ...Part) { x.out.Parts = append(x.out.Parts, parts...) }

func (x *hearing) tell(n Notice) { x.out.Notices = append(x.out.Notices, n) }

// keywords are the texts that are about the messages themselves. A danger
// word beside one is still told and answered.
func (x *hearing) keywords(optedOut bool) bool {
	switch {
	case x.r.Wrong:
		x.flags()
		x.s.Suspended = true
		x.tell(Notice{Kind: NoticeWrong})
		x.say(SayWrong)
	case x.r.Stop:
		x.count()
		x.out.OptOut = true
		x.tell(Notice{Kind: NoticeOptOut})
		x.say(SayStopped)
	case x.r.Start:
		x.count()
		x.out.OptIn = true
		if optedOut {
			x.tell(Notice{Kind: NoticeOptIn})
		}
		x.say(SayStarted)
	case x.r.Help && !x.r.Report():
		x.say(SayHelp)
	default:
		return false
	}
	return true
}

// count takes what a text reports beside its keyword; only safety texts are
// said.
func (x *hearing) count() {
	if x.s.Discharged || x.s.Finished || x.s.Suspended {
		x.flags()
		return
	}
	x.danger()
	said := x.out.Parts
	x.score()
	x.body()
	x.out.Parts, x.out.Ask, x.out.Score = said, AskNothing, nil
}

// flags answers and tells danger words, whatever the patient's state.
func (x *hearing) flags() {
	if len(x.r.Denied) > 0 {
		x.tell(Notice{Kind: NoticeDenied, Flags: x.r.Denied})
	}
	if len(x.r.Flags) == 0 {
		return
	}
	x.tell(Notice{Kind: NoticeRedFlag, Flags: x.r.Flags, Score: x.r.Pain})
	x.say(x.r.Worst().Part())
}

func (x *hearing) ended() {
	x.flags()
	x.say(SayEnded)
	if x.r.Report() || x.r.Call {
		x.tell(Notice{Kind: NoticeUnread})
	}
}

// inDoubt hears a contact that may be the wrong person: nothing personal is
// said to it, and the clinic is told.
func (x *hearing) inDoubt() {
	x.flags()
	x.say(SayWrong)
	x.tell(Notice{Kind: NoticeUnread})
}

// danger pauses on a danger word.
func (x *hearing) danger() {
	x.usual()
	x.flags()
	if len(x.r.Flags) == 0 {
		return
	}
	x.s.Heard.Any, x.s.Heard.Flag = true, true
	x.pause(x.r.Flags[0].Name)
}

// usual sets aside the danger words that are usual for this patient: they are
// told, and pause nothing.
func (x *hearing) usual() {
	var usual, flags []RedFlag
	for _, f := range x.r.Flags {
		if slices.Contains(x.e.UsualWords, f.Name) {
			usual = append(usual, f)
		} else {
			flags = append(flags, f)
		}
	}
	if len(usual) == 0 {
		return
	}
	x.r.Flags = flags
	x.tell(Notice{Kind: NoticeUsual, Flags: usual, Score: x.r.Pain})
	x.s.Heard.Any = true
	if len(flags) == 0 && !x.r.Unread {
		x.r.Unread = true // "we passed your words on", and no second notice
	}
}

func (x *hearing) pause(cause string) {
	x.s.Pause = &Pause{Since: x.reportDay(), Cause: cause}
}

// reportDay is the date a report heard now belongs to.
func (x *hearing) reportDay() Date {
	if x.s.Decided != 0 {
		return x.s.Decided
	}
	return x.today
}

// score takes a daily score. The worst since the last settlement counts.
func (x *hearing) score() {
	if first := x.r.FirstStep; first != nil {
		x.s.Heard.Any = true
		if h := &x.s.Heard; h.First == nil || *first > *h.First {
			h.First = first
		}
		if x.s.Asked == AskFirstStep { // answered: the next number is a daily score
			x.s.Asked = AskPain
		}
		x.say(SayFirstStep)
	}
	if x.r.Pain == nil {
		return
	}
	h, lines, score := &x.s.Heard, x.lines, *x.r.Pain
	h.Any = true
	if h.Score == nil || score > *h.Score {
		h.Score = &score
	}
	x.out.Score = &score
	counts := score // as settling will count it
	if x.s.Over && score > lines.Steady {
		counts = max(score, lines.Hold)
	}
	switch {
	case counts >= lines.Pause:
		x.pause("pain")
		if len(x.r.Flags) == 0 { // the danger word's own notice tells the score
			x.tell(Notice{Kind: NoticePause, Score: &score})
		}
		x.say(SayPause)
	case x.s.Pause != nil:
		x.say(SayStillPaused)
	case counts >= lines.StepBack:
		x.say(SayStepBack)
	case counts >= lines.Hold:
		x.say(SayHold)
	case x.s.Hold != nil && score <= lines.Steady:
		x.say(SayClearing)
		x.out.Left = lines.ClearDays
		if *h.Score <= lines.Steady { // the worst of the date counts
			x.out.Left = max(0, lines.ClearDays-x.s.Hold.Clear-1)
		}
	default:
		x.say(SayScore)
	}
}

// body takes what was done, worn and seen on the skin.
func (x *hearing) body() {
	h, r := &x.s.Heard, x.r
	x.didExercises()
	if r.Wear != nil {
		h.Any = true
		if h.Wear == nil || *r.Wear < *h.Wear {
			h.Wear = r.Wear
		}
		if len(x.out.Parts) == 0 {
			x.say(SayWear)
		}
	}
	if r.SkinOK && !r.Skin {
		h.Any = true
		if len(x.out.Parts) == 0 {
			x.say(SaySkinOK)
		}
	}
	switch {
	case r.Skin:
		h.Any, h.Skin = true, true
		x.s.Skin.Out, x.s.Skin.Freed = true, false
		x.s.Skin.Stop = x.s.Skin.Stop || x.e.Cautions.ReducedSensation
		x.tell(Notice{Kind: NoticeSkin})
		x.say(SaySkin)
	case r.Report():
		h.SkinOK = h.SkinOK || r.SkinOK
		h.Clean = true
	}
}

func (x *hearing) didExercises() {
	h := &x.s.Heard
	if x.r.Done == "" {
		return
	}
	h.Any = true
	part := SayDone
	switch x.r.Done {
	case DoneAll:
		h.Halves = 2
		if x.s.Hold != nil && x.r.Pain == nil {
			part, x.out.Ask = SayAskNumber, AskPain
		}
	case DoneSome:
		h.Halves = max(h.Halves, 1)
		part = SaySome
	case DoneNone:
		h.None = true
		part, x.out.Ask = SayWhyNot, AskPain
	}
	switch {
	case x.s.Decided == 0:
		part = SayNotYet
		x.out.Ask = AskNothing
	case x.s.Pause != nil:
		part = SayStillPaused
		x.out.Ask = AskNothing
	}
	if len(x.out.Parts) == 0 { // a score or a safety text says it already
		x.say(part)
	}
}

// asks takes what the patient asks for.
func (x *hearing) asks() {
	r := x.r
	if x.s.Lost && r.Report() {
		x.tell(Notice{Kind: NoticeBack})
		x.say(SayLost)
	}
	if r.Away != nil {
		x.away(*r.Away)
	}
	if r.How != nil {
		x.say(SayHow)
	}
	if r.AskStop {
		x.tell(Notice{Kind: NoticeAskStop})
		x.say(SayAskStop)
	}
	if r.Help {
		x.say(SayHelp)
	}
	if r.Call {
		x.tell(Notice{Kind: NoticeCall})
		x.say(SayCall)
	}
}

// away makes the n dates after the report's day dates away. A report made
// after some dates were slept through counts from yesterday.
func (x *hearing) away(n int) {
	if n < 1 || n > MaxAway {
		x.tell(Notice{Kind: NoticeUnread})
		x.say(SayAwayLong)
		return
	}
	day := x.today
	if x.s.Decided != 0 {
		day = max(x.s.Decided, x.today-1)
	}
	x.s.Away = &Away{From: day + 1, To: day + Date(n)}
	x.say(SayAway)
}

// leftOver passes on what could not be read. A notice of something else shows
// the clinician the text already.
func (x *hearing) leftOver() {
	if !x.r.Unread {
		return
	}
	part := SayUnread
	if len(x.out.Parts)+len(x.out.Notices) > 0 {
		part = SayPassedOn
	}
	if len(x.out.Notices) == 0 {
		x.tell(Notice{Kind: NoticeUnread})
	}
	x.say(part)
}
