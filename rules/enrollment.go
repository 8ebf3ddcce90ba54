package rules

import "fmt"

// Enrollment is one patient on one program, as far as the rules need to know:
// names and contacts stay outside.
type Enrollment struct {
	ID        string
	Program   string
	Dispensed Date // the orthoses were handed over; wear counts from here
	Start     Date // the exercises begin; same as Dispensed unless named
	Consent   bool
	Affected  string // "left", "right" or "both"
	Entries   []Entry
	At        Pos
}

// First is the first date that may be decided.
func (e *Enrollment) First() Date {
	if e.Start < e.Dispensed {
		return e.Start
	}
	return e.Dispensed
}

// Day is the calendar day D of a date: 1 on the start date. It never waits.
func (e *Enrollment) Day(d Date) int { return int(d-e.Start) + 1 }

// Entry is something a clinician wrote into the enrollment, with date and
// name. It counts once, when it is first read.
type Entry struct {
	Kind EntryKind
	On   Date   // written on
	By   string // who
	Why  string
	Step int // for cap: the highest step, from 1; 0 lifts the cap
	At   Pos
}

// EntryKind names what a clinician's entry does.
type EntryKind string

// The clinician's entries. Release ends a pause or a clinician's hold begun
// before it was read; it never ends a pain hold. Confirm says that a
// suspended contact is the right one after all.
const (
	EntryHold      EntryKind = "hold"
	EntryRelease   EntryKind = "release"
	EntryCap       EntryKind = "cap"
	EntryDischarge EntryKind = "discharge"
	EntryConfirm   EntryKind = "confirm contact"
)

// ID tells entries apart: the same words read again are the same entry.
func (n Entry) ID() string {
	return fmt.Sprintf("%s|%s|%s|%s|%d", n.Kind, n.On, n.By, n.Why, n.Step)
}
