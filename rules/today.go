package rules

import "time"

// finish says what is due on the date and closes the settlement.
func (x *settling) finish() (State, Decision) {
	s := &x.s
	dec := Decision{
		Date: x.d, Day: x.e.Day(x.d), P: s.P, W: s.W,
		Steps: len(x.p.Blocks), Why: x.why, WearWhy: x.wearWhy, Notices: x.notices,
		Eased: s.Eased,
	}
	if s.P > 0 && len(x.p.Blocks) > 0 {
		dec.Step = x.block() + 1
	}
	if dec.Step > 0 {
		s.Week = x.p.Blocks[dec.Step-1].Week // an edit may have taken a block away
	}
	s.WasAway, s.WasPaused = s.Away.on(x.d), s.Pause != nil
	x.wearToday(&dec)
	x.dosesToday(&dec)
	s.Due = len(dec.Doses) > 0
	s.Heard = Heard{}
	s.Decided = x.d
	s.Last = x.why.Code
	dec.Send = x.reachable() && (s.Due || dec.WearNow || s.Hold != nil)
	if dec.Send {
		dec.First = !s.Greeted
		dec.Ask = AskPain
		if s.Over {
			dec.Ask = AskPainNow
		}
		s.Greeted, s.Asked = true, dec.Ask
	}
	s.Sent, s.First, s.NotSent = dec.Send, dec.First, false
	s.Rev++
	dec.State = s.Shown(x.d, x.f.OptedOut)
	return x.s, dec
}

// reachable tells whether a message may go out on the date.
func (x *settling) reachable() bool {
	s := &x.s
	return s.Pause == nil && !s.WasAway && !x.f.OptedOut && !s.Suspended && x.e.Consent && !s.Discharged
}

func (x *settling) wearToday(dec *Decision) {
	s, w := &x.s, x.p.Wear
	s.WearMin = 0
	if w == nil || s.W == 0 {
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
	if dec.Step > 0 && !x.rest {
		for _, dose := range x.p.Blocks[dec.Step-1].dueOn(dec.Day, x.d) {
			dec.Doses = append(dec.Doses, x.p.due(dose, dec.Eased))
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

// Untaken is the state after the carrier did not take the message of date d:
// the next settlement waits, and a first text is still the first.
func Untaken(s State, d Date) State {
	if s.Decided != d || !s.Sent {
		return s
	}
	s.NotSent = true
	if s.First {
		s.Greeted = false
	}
	s.Rev++
	return s
}

// dueOn lists the block's doses that are due on calendar day d.
func (b Block) dueOn(day int, d Date) []Dose {
	var due []Dose
	for _, dose := range b.Doses {
		if dose.On.Due(day, d) {
			due = append(due, dose)
		}
	}
	return due
}

// Listed are the exercises in the order the last daily message listed them,
// so that "the second exercise" means the same to both sides; where that date
// had none, all of the block.
func (p *Program) Listed(e *Enrollment, s State) []Due {
	if s.P == 0 || len(p.Blocks) == 0 {
		return nil
	}
	block := p.Blocks[p.served(s.P, s.Week)]
	doses := block.dueOn(e.Day(s.Decided), s.Decided)
	if len(doses) == 0 {
		doses = block.Doses
	}
	list := make([]Due, len(doses))
	for i, dose := range doses {
		list[i] = p.due(dose, s.Eased)
	}
	return list
}

// due is a dose as it is to be done.
func (p *Program) due(dose Dose, eased bool) Due {
	d := Due{Exercise: dose.Do, Side: dose.Side, Sets: dose.Sets, Reps: dose.Reps,
		Hold: dose.Hold, Sessions: dose.Sessions}
	if d.Side == "" {
		d.Side = p.Exercises[dose.Do].Side
	}
	if eased {
		d = d.ease()
	}
	return d
}
