package rules

// Facts are what the caller knows of a date and the rules cannot: both make
// the program day wait.
type Facts struct {
	Unheard  bool // incoming messages could not be read within the grace time
	OptedOut bool // the contact has opted out
}

// Decidable tells whether date d may be decided: it is after the last decided
// date, not before the start, and the patient is not discharged. A date that
// was slept through, or that a clock set back brings round again, never is.
func Decidable(e *Enrollment, s State, d Date) bool {
	return d > s.Decided && d >= e.First() && !s.Discharged && !s.Finished
}

// Decide settles date d: it reads the reports since the last settlement,
// moves the program day and the wear day by one outcome each, and says what
// is due. The date must be [Decidable]. The state that comes back holds once
// the message is handed over, or at once where none is due.
func Decide(p *Program, e *Enrollment, s State, d Date, f Facts) (State, Decision) {
	x := &settling{p: p, e: e, f: f, d: d, s: s, table: p.Table(), lines: e.Pain(p), wear: e.WearIn(p)}
	x.moveProgram()
	x.bound()
	x.logDay()
	x.begin()
	x.clampToCap()
	x.breaks()
	x.keepBlock()
	x.why = x.programDay()
	x.wearWhy = x.wearDay()
	return x.finish()
}

// settling is one date being settled. s starts as the state before and ends
// as the state after; slices in it are replaced, never written into.
type settling struct {
	p         *Program
	table     []Block // the program's, with maintenance
	lines     Lines   // the patient's
	wear      *Wear   // the patient's; nil: none
	e         *Enrollment
	f         Facts
	d         Date
	s         State
	why       Reason
	wearWhy   Reason
	rest      bool
	first     bool // the exercises begin today
	broke     bool // a break is counted today
	closing   bool // the program is finished today
	wearMoved bool
	notices   []Notice
}

// moveProgram starts a patient who was moved to another program at its first
// day. A pain hold and what was reported come along. Any edit ends the
// protection of the last step back: a table with fewer blocks may have brought
// a patient who never stepped back down to the same block, unprotected.
func (x *settling) moveProgram() {
	if edition := x.p.Hash[:min(len(x.p.Hash), 16)]; x.s.Edition != edition {
		x.s.Edition, x.s.Back = edition, 0
	}
	if x.s.Program == x.p.ID {
		return
	}
	if x.s.Program != "" { // else a review was recorded before the first date
		x.s.Reviews, x.s.RevTold = 0, 0
	}
	x.s.Program = x.p.ID
	x.s.P, x.s.W, x.s.Week, x.s.Back, x.s.Maint = 0, 0, 0, 0, 0
	x.s.Breaks, x.s.BrkWeek = 0, 0
	if x.s.Pause != nil {
		x.s.Pause = &Pause{Since: x.s.Pause.Since, Cause: x.s.Pause.Cause} // the day before it was another program's
	}
	x.newWindow()
}

// bound keeps both days within the calendar, where a start or a dispense date
// was moved to later or a starting day taken back, and the wear day within the
// first day of the full time, where an edit brought that nearer. Moving them
// ends the protection of a step back, as an edit of the program does.
func (x *settling) bound() {
	s := &x.s
	if base := x.e.Start - Date(x.e.firstP()-1); s.Base != base {
		s.Base, s.Back = base, 0
	}
	s.P = min(s.P, x.calendarP())
	if s.P == 0 {
		s.Week = 0
	}
	s.W = min(s.W, max(0, int(x.d-x.e.Dispensed)))
	if x.wear != nil {
		s.W = min(s.W, x.wear.FullDay())
	}
}

func (x *settling) newWindow() {
	x.s.Window, x.s.Days = x.d, nil
}

// logDay files the last decided date with what was reported of it.
func (x *settling) logDay() {
	s, h := &x.s, x.s.Heard
	if s.Decided == 0 {
		return
	}
	x.countSilence()
	if s.WasAway || s.Decided < s.Window {
		return
	}
	day := DayLog{Date: s.Decided, Due: s.Due, Halves: h.Halves, Score: h.Score, Any: h.Any}
	days := append(append(make([]DayLog, 0, len(s.Days)+1), s.Days...), day)
	s.Days = days[max(0, len(days)-x.p.Advance.Last):]
}

// reportDay is the date the reports being settled belong to.
func (x *settling) reportDay() Date {
	if x.s.Decided != 0 {
		return x.s.Decided
	}
	return x.d
}

// calendarP is the highest program day that the calendar allowed yesterday.
func (x *settling) calendarP() int {
	if day := x.e.Day(x.d); day > 1 {
		return day - 1 + x.e.firstP() - 1
	}
	return 0
}

// begin puts P on the first day where the exercises begin.
func (x *settling) begin() {
	s := &x.s
	if s.P != 0 || x.d < x.e.Start {
		return
	}
	s.P, x.first = x.e.firstP(), true
	if len(x.table) > 0 {
		x.serve(x.p.BlockAt(s.P))
	}
	x.newWindow()
}

// programDay moves P by one outcome, in the order of the contract. What a cap
// and a break take away is taken already, whatever the outcome.
func (x *settling) programDay() Reason {
	s := &x.s
	score := x.effectiveScore()
	rise := x.firstSteps()
	if why, moved := x.pain(score); moved {
		return why
	}
	held := rise
	if rise == nil {
		held = x.holdStands(score)
	}
	switch {
	case s.Pause != nil:
		return x.paused()
	case x.broke && s.P > 0:
		why, _ := x.unanswered()
		return why
	case held != nil:
		return *held
	}
	if why, waits := x.standing(); waits {
		return why
	}
	if s.P == 0 {
		return Reason{Code: NotBegun, Since: x.e.Start, Rule: "enrollment", At: x.e.At}
	}
	if why, waits := x.unanswered(); waits {
		return why
	}
	if x.first {
		return Reason{Code: FirstDay, Rule: "enrollment", At: x.e.At}
	}
	return x.forward()
}

// WhyPaused is the reason of a pause that stands: the line or the danger word
// that began it. No reason where there is none.
func WhyPaused(p *Program, e *Enrollment, s State) Reason {
	if s.Pause == nil {
		return Reason{}
	}
	return (&settling{p: p, e: e, s: s}).paused()
}

func (x *settling) paused() Reason {
	return Reason{Code: Paused, Rule: "pain.pause", At: x.line("pain.pause"),
		Since: x.s.Pause.Since, By: x.s.Pause.Cause}
}

// standing gives the reasons that are not about pain and hold P and W alike.
func (x *settling) standing() (Reason, bool) {
	s, e := &x.s, x.e
	switch {
	case s.Held != nil:
		return Reason{Code: ClinicHeld, Rule: "entry", At: s.Held.At, Since: s.Held.Since, By: s.Held.By}, true
	case s.Away.on(x.d):
		return Reason{Code: AwayCode, Since: s.Away.To}, true
	case x.f.OptedOut:
		return Reason{Code: OptedOut}, true
	case s.Suspended:
		return Reason{Code: Suspended}, true
	case s.Lost:
		return Reason{Code: Lost, Since: s.Decided - Date(s.Blank) + 1, Need: lostAfter}, true
	case !e.Consent:
		return Reason{Code: NoConsent, Rule: "enrollment", At: e.At}, true
	case x.f.Unheard:
		return Reason{Code: Unheard}, true
	case s.Sent && s.NotSent && s.Last != Finished: // a closing text goes out again
		return Reason{Code: NotSent, Since: s.Decided}, true
	case s.WasPaused:
		// A paused date sends nothing, so it can't show what a date not sent
		// shows: it waits like one, or a worse history might pass a better.
		return Reason{Code: Released, Since: x.d}, true
	}
	return Reason{}, false
}

// firstP is the program day of the first decided date.
func (e *Enrollment) firstP() int { return max(1, e.FromDay) }

// forward is the review, the cap, the advance rule, the end and the tick.
func (x *settling) forward() Reason {
	s := &x.s
	i := x.block()
	enters := i+1 < len(x.table) && x.p.BlockAt(s.P+1) > i
	beyond := x.p.BlockAt(s.P) > i // P lies in a later block since an edit, and stays until that is served
	from, to := (s.P+6)/7, s.P/7+1 // the week of P, and of the day after
	if beyond {
		to = x.table[i+1].Week // as for one who stands on the day before it
		from = to - 1
	}
	if why, waits := x.review(from, to); waits {
		return why
	}
	switch {
	case enters && x.capBlock(i+1) <= i:
		return x.capped()
	case enters:
		if why, met := x.advance(); !met {
			return why
		}
		if !beyond {
			s.P++
		}
		x.serve(i + 1) // one block at a time
		return Reason{Code: Tick, Rule: "advance", At: x.p.At("advance")}
	case x.atEnd(i):
		return x.end()
	}
	s.P++
	return Reason{Code: Tick}
}
