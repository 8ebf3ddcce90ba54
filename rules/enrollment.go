package rules

import "fmt"

// Enrollment is one patient on one program, as far as the rules need to know:
// names and contacts stay outside.
type Enrollment struct {
	ID         string
	Program    string
	Dispensed  Date // the orthoses were handed over; wear counts from here
	Start      Date // the exercises begin; same as Dispensed unless named
	Consent    bool
	Affected   string // "left", "right" or "both"
	FromDay    int    // P of the first decided date; 0 and 1: the first day
	Cautions   Cautions
	Usual      *int   // usual daily pain, 0-10; nil: not said
	UsualStep  *int   // usual first-step pain; nil: not said
	Lines      *Lines // the patient's own pain lines; nil: the program's
	LinesAt    Pos
	UsualWords []string // danger words usual for this patient: they alert but do not pause
	Tailoring  []Tailor
	Devices    []Device // by date
	Entries    []Entry
	At         Pos
}

// Pain gives the lines that count for a patient: their own, or the program's.
func (e *Enrollment) Pain(p *Program) Lines {
	if e.Lines != nil {
		return *e.Lines
	}
	return p.Pain
}

// Cautions are what the clinician knows of a patient that asks for care.
type Cautions struct {
	ReducedSensation bool // wear grows weekly at most and after a reported skin check only
	FragileSkin      bool // diabetes or fragile skin: skin checks
	Balance          bool // hold a firm support
	Growing          bool // a child or a youth
}

// SkinChecks tells whether the daily text asks for a look at the skin.
func (c Cautions) SkinChecks() bool { return c.ReducedSensation || c.FragileSkin }

// Tailor changes one exercise of the program for one patient, with the date
// and the name of who did. It never adds to a dose.
type Tailor struct {
	Exercise string
	LeaveOut bool
	Form     string // do this form
	Side     string // on this side only: "left" or "right"; empty: both
	Sets     int    // at most; 0: as in the program
	By       string
	On       Date
	At       Pos
}

// Device is something that happened to the devices on a date.
type Device struct {
	Kind DeviceKind
	On   Date
	At   Pos
}

// DeviceKind names what happened to the devices.
type DeviceKind string

// What can happen to devices. Out makes the wear day wait until back; remade
// and a second pair start it at 1; the others are kept for the record.
const (
	DeviceDispensed DeviceKind = "dispensed"
	DeviceAdjusted  DeviceKind = "adjusted"
	DeviceOut       DeviceKind = "out"
	DeviceBack      DeviceKind = "back"
	DeviceRemade    DeviceKind = "remade"
	DeviceSecond    DeviceKind = "second pair"
)

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
	// AsBefore, of a release, says that the pause was a false alarm: P goes
	// back to where it stood before.
	AsBefore bool
	// OfHold, of a release, is the date of the one hold that it ends. It was
	// written ahead, so a pause or another hold that began meanwhile stands until
	// somebody has seen to it. 0: a release of whatever stands.
	OfHold Date
	Report Date   // for strike and replace: the day of the report
	Score  *int   // for replace: the daily score instead
	Said   string // for report: the patient's words, as a text would have them
	At     Pos
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
	EntryWear      EntryKind = "release wear" // devices may go in again after a skin report
	EntryReview    EntryKind = "review done"
	EntryStrike    EntryKind = "strike"  // a report was wrong: its score does not count
	EntryReplace   EntryKind = "replace" // the same, with another score
	EntryReport    EntryKind = "report"  // taken by phone: heard when it is read, see EnterReport
)

// ID tells entries apart: the same words read again are the same entry.
func (n Entry) ID() string {
	id := fmt.Sprintf("%s|%s|%s|%s|%d", n.Kind, n.On, n.By, n.Why, n.Step)
	if n.AsBefore {
		id += "|as before"
	}
	if n.OfHold != 0 {
		id += "|of hold " + n.OfHold.String()
	}
	if n.Report != 0 {
		id += "|" + n.Report.String()
	}
	if n.Score != nil {
		id += fmt.Sprintf("|%d", *n.Score)
	}
	if n.Said != "" {
		id += "|said " + n.Said
	}
	return id
}
