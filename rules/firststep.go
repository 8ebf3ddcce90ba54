package rules

import "slices"

// firstSteps takes the first-step score. One that is FirstStep.Rise or more
// over the usual or over the lowest of the last four answers, whichever is
// lower, is a rise: once it is told, twice running it starts a hold. It
// returns why P waits then.
func (x *settling) firstSteps() *Reason {
	s, score := &x.s, x.s.Heard.First
	if score == nil {
		return nil
	}
	before := s.Firsts
	if x.e.UsualStep != nil {
		before = append(slices.Clone(before), *x.e.UsualStep)
	}
	firsts := append(slices.Clone(s.Firsts), *score)
	s.Firsts = firsts[max(0, len(firsts)-4):]
	if len(before) == 0 {
		return nil
	}
	base := slices.Min(before)
	if *score < base+max(1, x.p.FirstStep.Rise) {
		s.Rises = 0
		return nil
	}
	s.Rises++
	x.notices = append(x.notices, Notice{Kind: NoticeFirstRise, Score: score, Since: x.reportDay()})
	if s.Rises < 2 {
		return nil
	}
	x.startHold(true)
	x.tellHeldLong()
	return &Reason{Code: FirstRise, Rule: "first step", At: x.p.At("first step"), Score: score, Line: base,
		Since: x.s.Hold.Since, Need: x.lines.ClearDays}
}

// checkIn is the last check-in day up to today: the first date, and every
// FirstStep.Every dates from then on. It hangs on the calendar alone, so that
// no history brings a message on a date that another does not.
func (x *settling) checkIn() Date {
	return x.d - (x.d-x.e.First())%Date(x.p.FirstStep.Every)
}

// checkInToday tells whether the date is a check-in day, which brings a
// message also where nothing is due. Maintenance asks in its own messages.
func (x *settling) checkInToday() bool {
	return x.p.FirstStep.Every > 0 && x.checkIn() == x.d && x.s.Maint == 0
}

// asks picks the one number the day's message asks for. First-step pain is
// asked when its turn comes, but never in a hold, after a score over steady or
// as the one question of a long silence: then how it is now matters more. A
// question that was put off is not asked again within half the time to the
// next.
func (x *settling) asks(weekly bool) Question {
	s, every := &x.s, Date(x.p.FirstStep.Every)
	switch {
	case s.Over:
		return AskPainNow
	case every > 0 && s.Hold == nil && !weekly && s.StepAsk < x.checkIn() && (s.StepAsk == 0 || x.d-s.StepAsk > every/2):
		s.StepAsk = x.d
		return AskFirstStep
	}
	return AskPain
}
