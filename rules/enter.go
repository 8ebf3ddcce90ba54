package rules

import "slices"

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

// Enter takes one clinician's entry into the state. Each counts once.
//
// A release ends a pause or a clinician's hold that stands now and starts a
// fresh window; it never ends a pain hold.
func Enter(s State, n Entry, today Date) State {
	s.Read = append(slices.Clone(s.Read), n.ID())
	s.Rev++
	switch n.Kind {
	case EntryHold:
		s.Held = &ClinicHold{Since: n.On, By: n.By, At: n.At}
	case EntryRelease:
		s.Pause, s.Held = nil, nil
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
		s.Suspended = false
	}
	return s
}
