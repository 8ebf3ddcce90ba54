package rules

// How long a silence is before something is done about it, in the contract's
// own figures.
const (
	silentAfter = 3  // messages without a report: the clinician is told
	weeklyAfter = 7  // messages without a report: one question a week from then on
	lostAfter   = 21 // dates without a report: nothing until the clinic confirms
	breakAfter  = 14 // dates without a report, away or opted out: a step back
)

// countSilence counts what was and was not reported of the last decided date.
func (x *settling) countSilence() {
	s := &x.s
	x.countGap()
	if s.Heard.Any {
		s.Quiet, s.Blank, s.Mute = 0, 0, 0
		return
	}
	s.Blank++
	if s.Reach && !x.nothingAsked() {
		s.Mute++
	}
	if s.Sent && !s.NotSent {
		s.Quiet++
		if s.Quiet == silentAfter {
			x.notices = append(x.notices, Notice{Kind: NoticeSilent, Since: s.Decided - Date(s.Blank) + 1})
		}
	}
	if s.Mute >= lostAfter && !s.Lost {
		s.Lost = true
		x.notices = append(x.notices, Notice{Kind: NoticeLost, Since: s.Decided - Date(s.Blank) + 1})
	}
}

// countGap counts the dates of a break, also those that were never decided:
// nothing reached the patient on them either. A report made while away or
// opted out ends no break. Of dates away or opted out running, no more than
// one break's count; a silence counts on, since a report in its midst would
// make two breaks of it.
func (x *settling) countGap() {
	s, passed := &x.s, int(x.d-x.s.Decided)
	switch {
	case s.Off > 0:
		passed = min(passed, max(0, breakAfter+1-s.Off))
	case s.Heard.Any:
		s.Gap, s.Gone = 0, 0
		passed--
	}
	if s.Off == 0 && x.nothingAsked() || passed == 0 {
		return
	}
	if s.Gap == 0 {
		s.Gone = x.d - Date(passed)
	}
	s.Gap += passed
}

// nothingAsked tells whether the program has nothing to say to a patient: full
// wear, and no exercises. That they do not answer is no silence.
func (x *settling) nothingAsked() bool {
	return (len(x.table) == 0 || x.s.P == 0) && x.p.FirstStep.Every == 0 &&
		(x.wear == nil || x.s.W >= x.wear.FullDay())
}

// breaks takes P one block back and W to 1 for every breakAfter dates of a
// break, and lets the window begin anew until the break is over. P waits
// meanwhile. A cap or an edit that comes during the break finds the block that
// it would have found had the break not come first, and the break then counts
// from there.
func (x *settling) breaks() {
	s := &x.s
	n := s.Gap / breakAfter
	more := max(0, n-s.Breaks)
	s.Breaks, x.broke = n, more > 0
	if n == 0 {
		s.BrkWeek = 0
		return
	}
	if more > 0 && s.W > 0 {
		s.W, x.wearMoved = 1, true
	}
	x.newWindow()
	x.pauseBreaks(more)
	if s.P == 0 || len(x.table) == 0 {
		return
	}
	i := x.block()
	if s.BrkWeek == 0 {
		s.BrkWeek, more = x.table[i].Week, n
	}
	from := min(x.capBlock(x.p.weekBlock(s.BrkWeek)), x.p.BlockAt(max(s.P, x.calendarP())))
	if to := max(0, min(from-n, i-more)); to < i || more > 0 {
		x.backTo(to)
	}
}

// pauseBreaks takes the day that a release as before would bring back along.
func (x *settling) pauseBreaks(more int) {
	if x.s.Pause == nil || x.s.Pause.P == 0 || more == 0 || len(x.table) == 0 {
		return
	}
	pause := *x.s.Pause
	was := State{P: pause.P, Week: pause.Week, Maint: pause.Maint}
	to := x.table[max(0, x.p.block(&was)-more)]
	pause.P, pause.Week, pause.Maint = to.FirstDay(), to.Week, 0
	x.s.Pause = &pause
}

// unanswered gives why P and W wait in a silence. In a break they wait for a
// report. They do so as well from the date on which the daily messages may
// have stopped, and on the first date after: a date without a message can't
// show what a date not sent shows. Dates count and not messages, so that it
// hangs on no schedule.
func (x *settling) unanswered() (Reason, bool) {
	s := &x.s
	switch {
	case s.Gap >= breakAfter:
		return Reason{Code: Break, Since: s.Gone, Need: breakAfter}, true
	case s.Mute >= weeklyAfter || s.Hush > 0:
		return Reason{Code: WearQuiet, Have: max(s.Blank, s.Hush)}, true
	}
	return Reason{}, false
}

// speak says whether the day's message goes out after a silence, and whether
// as the weekly question.
func (x *settling) speak() (send, weekly bool) {
	if x.s.Quiet < weeklyAfter {
		return true, false
	}
	return x.d-x.s.Told >= 7, true
}
