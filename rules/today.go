package rules

import "time"

// finish says what is due on the date and closes the settlement.
func (x *settling) finish() (State, Decision) {
	s := &x.s
	dec := Decision{
		Date: x.d, Day: x.e.Day(x.d), P: s.P, W: s.W,
		Steps: len(x.p.Blocks), Why: x.why, WearWhy: x.wearWhy, Notices: x.notices,
		Eased: s.Eased, Closing: x.closing,
	}
	if s.P > 0 && len(x.table) > 0 {
		i := x.block()
		dec.Step = min(i+1, dec.Steps)
	}
	s.WasAway, s.WasPaused = s.Away.on(x.d), s.Pause != nil
	switch off := s.WasAway || x.f.OptedOut; {
	case !off:
		s.Off = 0
	case s.Off > 0:
		s.Off += int(x.d - s.Decided)
	default:
		s.Off = 1
	}
	s.Reach = s.Off == 0 && !s.Suspended && x.e.Consent
	s.Hush = 0
	if s.Mute >= weeklyAfter {
		s.Hush = s.Blank
	}
	x.wearToday(&dec)
	x.dosesToday(&dec)
	s.Due = len(dec.Doses) > 0
	s.Heard = Heard{}
	s.Decided = x.d
	s.Last = x.why.Code
	x.message(&dec)
	s.Rev++
	dec.State = s.Shown(x.d, x.f.OptedOut)
	return x.s, dec
}

// message says whether one is due and what it asks for.
func (x *settling) message(dec *Decision) {
	s := &x.s
	dec.Send = x.reachable() && (s.Due || dec.WearNow || s.Hold != nil || x.closing || x.checkInToday())
	if dec.Send && !x.closing {
		dec.Send, dec.Weekly = x.speak()
	}
	if dec.Send {
		dec.First = !s.Greeted
		dec.Skin = x.e.Cautions.SkinChecks() && dec.Wear > 0
		dec.Support = x.e.Cautions.Balance && len(dec.Doses) > 0
		if !x.closing {
			dec.Ask = x.asks(dec.Weekly)
		}
		s.Greeted, s.Asked, s.Told = true, dec.Ask, x.d
	}
	if dec.Weekly || x.closing {
		dec.Doses = nil
	}
	s.Sent, s.First, s.NotSent = dec.Send, dec.First, false
}

// reachable tells whether a message may go out on the date.
func (x *settling) reachable() bool {
	s := &x.s
	return s.Reach && s.Pause == nil && !s.Lost && !s.Discharged
}

func (x *settling) wearToday(dec *Decision) {
	s, w := &x.s, x.wear
	s.WearMin = 0
	if w == nil || s.W == 0 || s.DevOut {
		return
	}
	dec.WearOut = s.Skin.Out
	dec.WearNow = s.W < w.FullDay() || x.wearMoved || s.Skin.Out || s.Skin.Wait > 0
	if !s.Skin.Out {
		dec.Wear = w.OnDay(s.W)
		s.WearMin = int(dec.Wear / time.Minute)
	}
}

// dosesToday lists the exercises due. The date of a step back is a rest day.
// During a hold a date with nothing due is a rest day too, with a message.
func (x *settling) dosesToday(dec *Decision) {
	i := 0
	if dec.Step > 0 {
		i = x.block()
	}
	if dec.Step > 0 && !x.rest && x.messageDay(i) {
		block := x.table[i]
		for dose := range x.e.dueOn(block, x.d) {
			if dec.Doses == nil {
				dec.Doses = make([]Due, 0, len(block.Doses))
			}
			dec.Doses = append(dec.Doses, x.e.due(x.p, dose, dec.Eased))
		}
	}
	dec.Rest = len(dec.Doses) == 0 && x.s.Hold != nil
}

// ease halves a dose, rounding up: the sets; with one set the reps; with one
// rep the sessions; with one session the hold, to the second.
func (d Due) ease() Due {
	half := func(n int) int { return (n + 1) / 2 }
	switch {
	case d.Sets > 1:
		d.Sets = half(d.Sets)
	case d.Reps > 1:
		d.Reps = half(d.Reps)
	case d.Sessions > 1:
		d.Sessions = half(d.Sessions)
	case d.Hold > time.Second:
		d.Hold = (d.Hold/2 + time.Second - 1).Truncate(time.Second)
	}
	return d
}

// messageDay tells whether maintenance speaks on the date: on so many days of
// the week. The dose table always does.
func (x *settling) messageDay(i int) bool {
	if i < len(x.p.Blocks) {
		return true
	}
	return Schedule{Kind: DaysAWeek, PerWeek: x.p.After.PerWeek}.Due(x.e.Day(x.d), x.d)
}

// Untaken is the state after the carrier did not take the message of date d:
// the next settlement waits, and what it said first or last or asked now and
// then is still to be said.
func Untaken(s State, d Date) State {
	if s.Decided != d || !s.Sent {
		return s
	}
	s.NotSent = true
	if s.First {
		s.Greeted = false
	}
	if s.Asked == AskFirstStep {
		s.StepAsk = 0
	}
	s.Finished, s.Told = false, 0
	s.Rev++
	return s
}
