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
	return d > s.Decided && d >= e.First() && !s.Discharged
}

// Decide settles date d: it reads the reports since the last settlement,
// moves the program day and the wear day by one outcome each, and says what
// is due. The date must be [Decidable]. The state that comes back holds once
// the message is handed over, or at once where none is due.
func Decide(p *Program, e *Enrollment, s State, d Date, f Facts) (State, Decision) {
	x := &settling{p: p, e: e, f: f, d: d, s: s}
	x.moveProgram()
	x.bound()
	x.clampToCap()
	x.logDay()
	x.why = x.programDay()
	x.wearWhy = x.wearDay()
	return x.finish()
}

// settling is one date being settled. s starts as the state before and ends
// as the state after; slices in it are replaced, never written into.
type settling struct {
	p         *Program
	e         *Enrollment
	f         Facts
	d         Date
	s         State
	why       Reason
	wearWhy   Reason
	rest      bool
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
	x.s.Program = x.p.ID
	x.s.P, x.s.W, x.s.Week, x.s.Back = 0, 0, 0, 0
	x.newWindow()
}

// bound keeps both days within the calendar, where a start or a dispense date
// was moved to later, and the wear day within the first day of the full time,
// where an edit brought that nearer.
func (x *settling) bound() {
	s := &x.s
	s.P = min(s.P, max(0, x.e.Day(x.d)-1))
	if s.P == 0 {
		s.Week = 0
	}
	s.W = min(s.W, max(0, int(x.d-x.e.Dispensed)))
	if x.p.Wear != nil {
		s.W = min(s.W, x.p.Wear.FullDay())
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
	switch {
	case h.Any:
		s.Quiet, s.Blank = 0, 0
	default:
		s.Blank++
		if s.Sent && !s.NotSent {
			s.Quiet++
			if s.Quiet == silentAfter {
				x.notices = append(x.notices, Notice{Kind: NoticeSilent, Since: s.Decided - Date(s.Blank) + 1})
			}
		}
	}
	if s.WasAway || s.Decided < s.Window {
		return
	}
	day := DayLog{Date: s.Decided, Due: s.Due, Halves: h.Halves, Score: h.Score, Any: h.Any}
	days := append(append([]DayLog(nil), s.Days...), day)
	s.Days = days[max(0, len(days)-x.p.Advance.Last):]
}

// silentAfter is how many messages without a report a clinician is told of.
const silentAfter = 3

// reportDay is the date the reports being settled belong to.
func (x *settling) reportDay() Date {
	if x.s.Decided != 0 {
		return x.s.Decided
	}
	return x.d
}

// programDay moves P by one outcome, in the order of the contract.
func (x *settling) programDay() Reason {
	s, first := &x.s, false
	if s.P == 0 && x.d >= x.e.Start {
		s.P, s.Week, first = 1, 1, true
		x.newWindow()
	}
	score := x.effectiveScore()
	if why, moved := x.pain(score); moved {
		return why
	}
	held := x.holdStands(score)
	if s.Pause != nil {
		return x.paused()
	}
	if held != nil {
		return *held
	}
	if why, waits := x.standing(); waits {
		return why
	}
	switch {
	case s.P == 0:
		return Reason{Code: NotBegun, Since: x.e.Start, Rule: "enrollment", At: x.e.At}
	case first:
		return Reason{Code: FirstDay, Rule: "enrollment", At: x.e.At}
	}
	return x.forward()
}

func (x *settling) paused() Reason {
	return Reason{Code: Paused, Rule: "pain.pause", At: x.p.At("pain.pause"),
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
	case !e.Consent:
		return Reason{Code: NoConsent, Rule: "enrollment", At: e.At}, true
	case x.f.Unheard:
		return Reason{Code: Unheard}, true
	case s.Sent && s.NotSent:
		return Reason{Code: NotSent, Since: s.Decided}, true
	case s.WasPaused:
		// A paused date sends nothing, so it can't show what a date not sent
		// shows: it waits like one, or a worse history might pass a better.
		return Reason{Code: Released, Since: x.d}, true
	}
	return Reason{}, false
}

// block is the index of the block served. It is not simply the block of P:
// after an edit of the program P may lie in a later block, which is entered
// by the advance rule alone, one block at a time.
func (x *settling) block() int {
	return x.p.served(x.s.P, x.s.Week)
}

// served is the block of a program day that has not been let past week.
func (p *Program) served(day, week int) int {
	i := p.BlockAt(day)
	for i > 0 && p.Blocks[i].Week > week {
		i--
	}
	return i
}

// forward is the cap, the advance rule and the tick.
func (x *settling) forward() Reason {
	s, p := &x.s, x.p
	i := x.block()
	enters := i+1 < len(p.Blocks) && p.BlockAt(s.P+1) > i
	switch {
	case enters && s.Cap > 0 && i+1 >= s.Cap:
		return x.capped()
	case enters:
		if why, met := x.advance(); !met {
			return why
		}
		s.Week = p.Blocks[i+1].Week // one block at a time
		if p.BlockAt(s.P) > i {
			return Reason{Code: Tick, Rule: "advance", At: p.At("advance")} // P was here before an edit
		}
	case p.Weeks > 0 && s.P >= p.Weeks*7:
		return Reason{Code: TableEnd, Rule: "length", At: p.At("length")}
	}
	s.P++
	why := Reason{Code: Tick}
	if enters {
		why.Rule, why.At = "advance", p.At("advance")
	}
	return why
}

func (x *settling) capped() Reason {
	return Reason{Code: Capped, Rule: "entry", At: x.e.capAt(x.d), Need: x.s.Cap}
}

// capAt is where the cap in force was written: the last one whose date came.
func (e *Enrollment) capAt(d Date) Pos {
	at := e.At
	for _, n := range e.Entries {
		if n.Kind == EntryCap && n.On <= d {
			at = n.At
		}
	}
	return at
}

// clampToCap sends P to the last day of the capped block where it stands
// above. It comes before everything else: a step back on the same date goes
// back from there, and a cap is never exceeded.
func (x *settling) clampToCap() {
	s := &x.s
	if s.Cap <= 0 || len(x.p.Blocks) == 0 || s.P == 0 || x.block() < s.Cap {
		return
	}
	c := s.Cap - 1
	s.P, s.Week = x.p.LastDay(c), x.p.Blocks[c].Week
}

// advance is the advance rule over the window. Which of its dates had an
// exercise due is read off the block served now, also for a rest day or a
// date in an earlier block: two histories in one block are asked for the same.
func (x *settling) advance() (Reason, bool) {
	a := x.p.Advance
	why := Reason{Code: Waiting, Rule: "advance", At: x.p.At("advance")}
	days := x.s.Days
	if len(days) < a.Last {
		why.Short, why.Have, why.Need = "dates", len(days), a.Last
		return why, false
	}
	days = days[len(days)-a.Last:]
	block := x.p.Blocks[x.block()]
	due, halves, scores := 0, 0, 0
	for _, d := range days {
		if len(block.dueOn(x.e.Day(d.Date), d.Date)) > 0 {
			due++
			halves += d.Halves
		}
		if d.Score != nil {
			scores++
			if *d.Score > x.p.Pain.Steady {
				why.Short, why.Score, why.Since = "over steady", d.Score, d.Date
				return why, false
			}
		}
	}
	need := (due*a.Done + 50) / 100 // the nearest whole, a half upward
	switch {
	case due < 2:
		why.Short, why.Have, why.Need = "due dates", due, 2
	case halves < 2*need:
		why.Short, why.Have, why.Need = "done", halves/2, need
	case scores < a.Scores:
		why.Short, why.Have, why.Need = "scores", scores, a.Scores
	default:
		return why, true
	}
	return why, false
}
