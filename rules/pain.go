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
	if x.s.Over && score > x.p.Pain.Steady {
		score = max(score, x.p.Pain.Hold)
	}
	x.s.Over = *h > x.p.Pain.Steady
	return &score
}

// pain applies the pause, step-back and hold lines to what was reported.
func (x *settling) pain(score *int) (Reason, bool) {
	lines := x.p.Pain
	over := func(line int) bool { return score != nil && *score >= line }
	switch {
	case x.s.Heard.Flag || over(lines.Pause):
		why := x.stepBack()
		if x.s.Pause != nil {
			why = x.paused()
		}
		why.Score, why.Line = x.s.Heard.Score, lines.Pause
		if !over(lines.Pause) {
			why.Line = 0
		}
		return why, true
	case over(lines.StepBack):
		why := x.stepBack()
		why.Score, why.Line = x.s.Heard.Score, lines.StepBack
		return why, true
	case over(lines.Hold):
		x.startHold()
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

// protected is how many dates after a lost block another is not lost.
const protected = 7

// stepBack takes P to the first day of the previous block; within 7 dates of
// the last lost block, or at the first, to the first day of the current one.
// The next block cannot be entered within those dates, since a block lasts at
// least seven. The date is a rest day and a hold begins.
func (x *settling) stepBack() Reason {
	s := &x.s
	x.rest = true
	x.startHold()
	x.tellHeldLong()
	x.newWindow()
	x.countBack()
	if s.P == 0 || len(x.p.Blocks) == 0 {
		return Reason{Code: BlockAgain, Rule: "pain.step back", At: x.p.At("pain.step back")}
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
	s.P, s.Week = x.p.Blocks[i].FirstDay(), x.p.Blocks[i].Week
	return Reason{Code: code, Rule: "pain.step back", At: x.p.At("pain.step back"), Since: x.reportDay()}
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

func (x *settling) startHold() {
	hold := PainHold{Since: x.reportDay()}
	if x.s.Hold != nil {
		hold = *x.s.Hold
	}
	hold.Clear = 0
	x.s.Hold = &hold
}

// holdStands counts the clear dates of a standing hold and ends it when they
// are enough. It returns why P waits, or nil.
func (x *settling) holdStands(score *int) *Reason {
	if x.s.Hold == nil {
		return nil
	}
	hold := *x.s.Hold
	if score != nil {
		if *score <= x.p.Pain.Steady {
			hold.Clear++
		} else {
			hold.Clear = 0
		}
	}
	if hold.Clear >= x.p.Pain.ClearDays {
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
	return Reason{Code: PainHeld, Rule: "pain.hold", At: x.p.At("pain.hold"),
		Since: x.s.Hold.Since, Have: x.s.Hold.Clear, Need: x.p.Pain.ClearDays}
}
