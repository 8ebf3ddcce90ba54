package rules

// WearIn is the wear-in schedule of a patient: the program's, slowed to weekly
// growth at most where sensation is reduced. nil: none.
func (e *Enrollment) WearIn(p *Program) *Wear {
	if p.Wear == nil || !e.Cautions.ReducedSensation || p.Wear.Every >= 7 {
		return p.Wear
	}
	slow := *p.Wear
	slow.Every = 7
	return &slow
}

// wearDay moves W by one outcome. It comes after the program day, because a
// pain hold that stands today keeps the wear time too.
func (x *settling) wearDay() Reason {
	s, w := &x.s, x.wear
	if w == nil || x.d < x.e.Dispensed {
		return Reason{Code: WearNone}
	}
	at := x.p.At("wear")
	first := s.W == 0
	if first {
		s.W, x.wearMoved = 1, true
	}
	if why, waits := x.devices(); waits {
		return why
	}
	if why, waits := x.skin(at); waits {
		return why
	}
	if why, waits := x.wearHeld(); waits {
		return why
	}
	if first {
		return Reason{Code: FirstDay, Rule: "wear", At: at}
	}
	return x.wearOn(at)
}

// wearOn lets the wear time grow, unless something of its own keeps it.
func (x *settling) wearOn(at Pos) Reason {
	s, w, h := &x.s, x.wear, x.s.Heard
	switch {
	case h.None:
		return Reason{Code: NotToday, Rule: "wear", At: at}
	case h.Wear != nil && *h.Wear*60*2 < float64(s.WearMin):
		return Reason{Code: WoreLittle, Rule: "wear", At: at, Have: int(*h.Wear * 60), Need: s.WearMin}
	case s.Blank >= 3:
		return Reason{Code: WearQuiet, Rule: "wear", At: at, Have: s.Blank}
	case s.W >= w.FullDay():
		return Reason{Code: WearFull, Rule: "wear", At: at}
	case x.e.Cautions.ReducedSensation && !h.SkinOK:
		return Reason{Code: SkinCheck, Rule: "enrollment", At: x.e.At}
	}
	s.W++
	x.wearMoved = true
	return Reason{Code: Tick, Rule: "wear", At: at}
}

// devices takes what happened to the devices since the last settlement. While
// they are out W waits; remade, or as a second pair, they begin again at 1.
func (x *settling) devices() (Reason, bool) {
	s := &x.s
	var last, fresh Device // what says where they are; what they began anew with
	for _, dev := range x.e.Devices {
		if dev.On > x.d {
			continue
		}
		switch dev.Kind {
		case DeviceRemade, DeviceSecond:
			if dev.On > max(s.Device, x.e.Dispensed) {
				fresh = dev
			}
			last = dev
		case DeviceOut, DeviceBack:
			last = dev
		}
	}
	s.DevOut = last.Kind == DeviceOut
	if fresh.On != 0 {
		s.Device, s.W, x.wearMoved = fresh.On, 1, true
		s.Skin.Wait = 0
	}
	switch {
	case s.DevOut:
		x.skinMeanwhile()
		return Reason{Code: DeviceAway, Rule: "enrollment", At: last.At, Since: last.On}, true
	case fresh.On != 0 && !s.Skin.Out && !s.Heard.Skin:
		return Reason{Code: DeviceNew, Rule: "enrollment", At: fresh.At, Since: fresh.On}, true
	}
	return Reason{}, false
}

// skinMeanwhile takes a skin report that came while the devices are not with
// the patient. Reports without one say nothing of devices that are not worn.
func (x *settling) skinMeanwhile() {
	if x.s.Heard.Skin {
		x.skin(Pos{})
	} else {
		x.s.Skin.Fresh = false
	}
}

// skin takes the devices out after a skin report until a report without one
// comes, then starts them again at the next lower wear time, which waits for
// as many dates with such reports as end a hold. W goes down when they come
// out. A skin report that follows a date without one takes it down once more
// even while they are out: it would if a report between had put them back in.
// With reduced sensation only the clinician lets them in again. A
// release of wear stands in for the report without one; where it is read
// before the skin report is settled, W still goes down.
func (x *settling) skin(at Pos) (Reason, bool) {
	s, h := &x.s, x.s.Heard
	why := Reason{Rule: "wear", At: at}
	switch {
	case h.Skin && !s.Skin.Freed:
		x.lower()
		s.Skin = Skin{Out: true, Fresh: true, Stop: s.Skin.Stop || x.e.Cautions.ReducedSensation}
		why.Code = SkinOut
	case s.Skin.Out && !h.Clean && !s.Skin.Freed || s.Skin.Stop:
		s.Skin = Skin{Out: true, Stop: s.Skin.Stop}
		why.Code = SkinOut
	case s.Skin.Out:
		if h.Skin { // released before it was settled
			x.lower()
		}
		s.Skin = Skin{Wait: x.lines.ClearDays}
		x.wearMoved = true
		why.Code = SkinBack
	case s.Skin.Wait > 0:
		s.Skin.Wait = min(s.Skin.Wait, x.lines.ClearDays) // an edit may ask fewer
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
	if s.Skin.Stop {
		why.Code = SkinStop
	}
	why.Need = x.lines.ClearDays
	if !s.Skin.Out {
		why.Have = why.Need - s.Skin.Wait
	}
	return why, true
}

// lower takes W to the next lower wear time, once for skin reports running.
func (x *settling) lower() {
	if !x.s.Skin.Fresh {
		x.s.W = x.wear.Lower(x.s.W)
	}
}

// wearHeld gives the reasons that hold P and W alike.
func (x *settling) wearHeld() (Reason, bool) {
	switch {
	case x.s.Pause != nil:
		return x.paused(), true
	case x.s.Hold != nil && !x.wear.GoesOn:
		return x.heldReason(), true
	}
	if why, waits := x.standing(); waits {
		return why, true
	}
	return x.unanswered()
}
