package rules

import (
	"reflect"
	"slices"
)

// Pending lists the clinician's entries that have not been read yet and whose
// date has come, in the order written.
func Pending(e *Enrollment, s State, today Date) []Entry {
	var due []Entry
	for _, n := range e.Entries {
		if n.On <= today && !slices.Contains(s.Read, n.ID()) {
			due = append(due, n)
		}
	}
	return due
}

// Enter takes one clinician's entry into the state. Each counts once. None of
// them rewrites what was decided.
//
// A release ends a pause or a clinician's hold that stands now and starts a
// fresh window; it never ends a pain hold. A report taken by phone is to be
// heard too: that is EnterReport.
func Enter(s State, n Entry, today Date) State {
	s.Read = append(slices.Clone(s.Read), n.ID())
	s.Rev++
	switch n.Kind {
	case EntryHold:
		s.Held = &ClinicHold{Since: n.On, By: n.By, At: n.At}
	case EntryRelease:
		if n.OfHold != 0 && (s.Held == nil || s.Held.Since != n.OfHold) {
			break
		}
		if n.AsBefore && s.Pause != nil {
			s = asBefore(s)
		}
		s.Held = nil
		if n.OfHold == 0 {
			s.Pause = nil
		}
		s.Window, s.Days = today, nil
		if s.Hold != nil {
			hold := *s.Hold
			hold.From, hold.Told = today, false
			s.Hold = &hold
		}
	case EntryCap:
		// The protection of a step back ends: the cap may bring a patient who
		// never stepped back down to the same block, unprotected.
		s.Cap, s.Back = n.Step, 0
	case EntryDischarge:
		s.Discharged = true
	case EntryConfirm:
		// Silence is counted anew also where nothing was in doubt yet: else one
		// who is lost on the next date would be worse off than one lost before.
		s.Suspended, s.Lost = false, false
		s.Mute, s.Quiet = 0, 0
	case EntryWear:
		if s.Skin.Out {
			s.Skin = Skin{Out: true, Fresh: s.Skin.Fresh, Freed: true}
		}
	case EntryReview:
		s.Reviews++
	case EntryStrike, EntryReplace:
		s = corrected(s, n.Report, n.Score)
	}
	return s
}

// EnterReport takes a report that somebody at the clinic took by phone: what
// its words were read as is heard like a text that comes in at this moment, so
// it belongs to the latest decided date whatever date it bears. It may raise no
// more than a text could: START is the patient's own to send, and a how-to or
// HELP would be answered to nobody. One of a date before the latest decided one
// is older than what was decided since: it can worsen, and counts toward
// nothing.
func EnterReport(p *Program, e *Enrollment, s State, n Entry, r Reading, today Date, optedOut bool) (State, Hearing) {
	s = Enter(s, n, today)
	r.Start, r.Help, r.How = false, false, nil
	if n.On >= s.Decided {
		return Hear(p, e, s, r, today, optedOut)
	}
	steady := e.Pain(p).Steady
	low := func(score *int) bool { return score != nil && *score <= steady }
	if low(r.Pain) {
		r.Pain = nil
	}
	if low(r.FirstStep) {
		r.FirstStep = nil
	}
	if r.Done != DoneNone {
		r.Done = ""
	}
	r.SkinOK = false
	if reflect.DeepEqual(r, Reading{Side: r.Side}) {
		return s, Hearing{}
	}
	clean := s.Heard.Clean
	s, h := Hear(p, e, s, r, today, optedOut)
	s.Heard.Clean = clean
	return s, h
}

// asBefore undoes the step back of a pause that was a false alarm: P stands
// where it stood, or never moves if the pause is not settled yet. The pain
// hold that comes with a pause begins, and stays until enough dates are clear;
// a dose that was eased stays so meanwhile.
func asBefore(s State) State {
	if settled := s.Decided > s.Pause.Since; settled {
		if s.Pause.P > 0 {
			s.P, s.Week, s.Maint, s.Back = s.Pause.P, s.Pause.Week, s.Pause.Maint, 0
		}
		return s
	}
	hold := PainHold{Since: s.Pause.Since}
	if s.Hold != nil {
		hold = *s.Hold
	}
	hold.Clear, hold.Rise = 0, false
	s.Hold = &hold
	s.Heard.Flag, s.Heard.Score = false, nil
	return s
}

// corrected puts another daily score, or none, in the place of a report's. It
// counts from now on: what was decided from the report stays decided, and a
// worse score than the one it was decided from counts in the next settlement.
func corrected(s State, report Date, score *int) State {
	if s.Decided == report {
		s.Heard.Score = score
		return s
	}
	for i, day := range s.Days {
		if day.Date != report {
			continue
		}
		if h := s.Heard.Score; over(score, day.Score) && over(score, h) {
			s.Heard.Score = score
		}
		s.Days = slices.Clone(s.Days)
		s.Days[i].Score = score
	}
	return s
}

// over tells whether a score is worse than another; nil is none.
func over(a, b *int) bool { return a != nil && (b == nil || *a > *b) }
