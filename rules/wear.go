package rules

// wearDay moves W by one outcome. It comes after the program day, because a
// pain hold that stands today keeps the wear time too.
func (x *settling) wearDay() Reason {
	s, w, h := &x.s, x.p.Wear, x.s.Heard
	if w == nil || x.d < x.e.Dispensed {
		return Reason{Code: WearNone}
	}
	at := x.p.At("wear")
	first := s.W == 0
	if first {
		s.W, x.wearMoved = 1, true
	}
	if why, waits := x.skin(at); waits {
		return why
	}
	if why, waits := x.wearHeld(); waits {
		return why
	}
	switch {
	case first:
		return Reason{Code: FirstDay, Rule: "wear", At: at}
	case h.None:
		return Reason{Code: NotToday, Rule: "wear", At: at}
	case h.Wear != nil && *h.Wear*60*2 < float64(s.WearMin):
		return Reason{Code: WoreLittle, Rule: "wear", At: at, Have: int(*h.Wear * 60), Need: s.WearMin}
	case s.Blank >= 3:
		return Reason{Code: WearQuiet, Rule: "wear", At: at, Have: s.Blank}
	case s.W >= w.FullDay():
		return Reason{Code: WearFull, Rule: "wear", At: at}
	}
	s.W++
	x.wearMoved = true
	return Reason{Code: Tick, Rule: "wear", At: at}
}

// skin takes the devices out after a skin report until a report without one
// comes, then starts them again at the next lower wear time, which waits for
// as many dates with such reports as end a hold. W goes down when they come
// out. A skin report that follows a date without one takes it down once more
// even while they are out: it would if a report between had put them back in.
func (x *settling) skin(at Pos) (Reason, bool) {
	s, h := &x.s, x.s.Heard
	why := Reason{Rule: "wear", At: at}
	switch {
	case h.Skin:
		if !s.Skin.Fresh {
			s.W = x.p.Wear.Lower(s.W)
		}
		s.Skin = Skin{Out: true, Fresh: true}
		why.Code = SkinOut
	case s.Skin.Out && !h.Clean:
		s.Skin = Skin{Out: true}
		why.Code = SkinOut
	case s.Skin.Out:
		s.Skin = Skin{Wait: x.p.Pain.ClearDays}
		x.wearMoved = true
		why.Code = SkinBack
	case s.Skin.Wait > 0:
		s.Skin.Wait = min(s.Skin.Wait, x.p.Pain.ClearDays) // an edit may ask fewer
		if h.Clean {
			s.Skin.Wait--
		}
		if s.Skin.Wait == 0 {
			return Reason{}, false
		}
		why.Code = SkinWaits
	default:
		return Reason{}, false
	}
	why.Need = x.p.Pain.ClearDays
	if !s.Skin.Out {
		why.Have = why.Need - s.Skin.Wait
	}
	return why, true
}

// wearHeld gives the reasons that hold P and W alike.
func (x *settling) wearHeld() (Reason, bool) {
	switch {
	case x.s.Pause != nil:
		return x.paused(), true
	case x.s.Hold != nil:
		return x.heldReason(), true
	}
	return x.standing()
}
