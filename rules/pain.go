package rules

// effectiveScore is the worst daily score. After a score over steady the
// patient is asked how it is now; an answer still over steady counts as at
// the hold line.
func (x *settling) effectiveScore() *int {
	h := x.s.Heard.Score
	if h == nil {
		return nil
	}
	score := *h
	if x.s.Over && score > x.lines.Steady {
		score = max(score, x.lines.Hold)
	}
	x.s.Over = *h > x.lines.Steady
	return &score
}

// pain applies the pause, step-back and hold lines to what was reported.
func (x *settling) pain(score *int) (Reason, bool) {
	lines := x.lines
	over := func(line int) bool { return score != nil && *score >= line }
	switch {
	case x.s.Heard.Flag || over(lines.Pause):
		return x.pauseStep(over(lines.Pause)), true
	case over(lines.StepBack):
		why := x.stepBack()
		why.Score, why.Line = x.s.Heard.Score, lines.StepBack
		if x.s.Pause != nil {
			pause := *x.s.Pause // this one is no false alarm
			pause.P, pause.Week, pause.Maint = 0, 0, 0
			x.s.Pause = &pause
		}
		return why, true
	case over(lines.Hold):
		x.startHold(false)
		x.tellHeldLong()
		why := x.heldReason()
		why.Score, why.Line = x.s.Heard.Score, lines.Hold
		if x.s.Pause != nil {
			why = x.paused()
		}
		return why, true
	}
	return Reason{}, false
}

// pauseStep is the step back that a pause includes. A pause that a release
// ended before it was settled leaves the step back alone.
func (x *settling) pauseStep(scored bool) Reason {
	p, week, maint := x.s.P, x.s.Week, x.s.Maint
	why := x.stepBack()
	line := x.lines.StepBack
	if x.s.Pause != nil {
		why, line = x.paused(), x.lines.Pause
		pause := *x.s.Pause
		if pause.P == 0 {
			pause.P, pause.Week, pause.Maint = p, week, maint
		}
		x.s.Pause = &pause
	}
	if scored {
		why.Score, why.Line = x.s.Heard.Score, line
	}
	return why
}

// protected is how many dates after a lost block another is not lost.
const protected = 7

// stepBack takes P to the first day of the previous block; within 7 dates of
// the last lost block, or at the first, to the first day of the current one.
// The next block cannot be entered within those dates, since a block lasts at
// least seven. The date is a rest day and a hold begins.
func (x *settling) stepBack() Reason {
	s := &x.s
	x.rest = true
	x.startHold(false)
	x.tellHeldLong()
	x.newWindow()
	x.countBack()
	at := x.line("pain.step back")
	if s.P == 0 || len(x.table) == 0 {
		return Reason{Code: BlockAgain, Rule: "pain.step back", At: at}
	}
	i, code := x.block(), BlockAgain
	switch {
	case i == 0:
		s.Eased = true
	case s.Back != 0 && x.d-s.Back <= protected:
	default:
		i, code = i-1, StepBack
		s.Back = x.d
	}
	x.backTo(i)
	return Reason{Code: code, Rule: "pain.step back", At: at, Since: x.reportDay()}
}

// backTo puts P on the first day of a block.
func (x *settling) backTo(i int) {
	x.s.P = x.table[i].FirstDay()
	x.serve(i)
}

// countBack remembers step backs and tells of a second one in 14 dates.
func (x *settling) countBack() {
	var recent []Date
	for _, d := range x.s.Backs {
		if x.d-d < 14 {
			recent = append(recent, d)
		}
	}
	if len(recent) > 0 {
		x.notices = append(x.notices, Notice{Kind: NoticeSecondBack, Since: recent[0]})
	}
	x.s.Backs = append(recent, x.d)
}

// startHold begins a pain hold, or begins its count of clear dates anew. rise:
// by the first-step rule.
func (x *settling) startHold(rise bool) {
	hold := PainHold{Since: x.reportDay()}
	if x.s.Hold != nil {
		hold = *x.s.Hold
	}
	hold.Clear, hold.Rise = 0, rise
	x.s.Hold = &hold
}

// line is where a pain line stands that counts for the patient.
func (x *settling) line(key string) Pos {
	if x.e.Lines != nil {
		return x.e.LinesAt
	}
	return x.p.At(key)
}

// holdStands counts the clear dates of a standing hold and ends it when they
// are enough. It returns why P waits, or nil.
func (x *settling) holdStands(score *int) *Reason {
	if x.s.Hold == nil {
		return nil
	}
	hold := *x.s.Hold
	if score != nil {
		if *score <= x.lines.Steady {
			hold.Clear++
		} else {
			hold.Clear = 0
		}
	}
	if hold.Clear >= x.lines.ClearDays {
		x.s.Hold, x.s.Eased = nil, false
		return nil
	}
	x.s.Hold = &hold
	x.tellHeldLong()
	why := x.heldReason()
	why.Score = x.s.Heard.Score
	return &why
}

// tellHeldLong tells once of a hold that has lasted seven days, a pause not
// counted: the clinician knows of that. It may put a mark on the hold, which
// must be this settlement's own copy.
func (x *settling) tellHeldLong() {
	hold := x.s.Hold
	if !hold.Told && x.s.Pause == nil && x.d-max(hold.Since, hold.From) >= 7 {
		hold.Told = true
		x.notices = append(x.notices, Notice{Kind: NoticeHeldLong, Since: hold.Since})
	}
}

func (x *settling) heldReason() Reason {
	why := Reason{Code: PainHeld, Rule: "pain.hold", At: x.line("pain.hold"),
		Since: x.s.Hold.Since, Have: x.s.Hold.Clear, Need: x.lines.ClearDays}
	if x.s.Hold.Rise {
		why.Rule, why.At = "first step", x.p.At("first step")
	}
	return why
}
