package journal

import (
	"errors"

	"stepgate/rules"
)

// Day is one decided date of a patient, and what was reported of it.
type Day struct {
	Date    rules.Date
	Program string // id of the program that was served
	D, P, W int    // calendar day, program day and wear day
	Step    int    // from 1; 0: the exercises have not begun, or there are none
	Steps   int    // how many the program had
	State   rules.InState
	Why     rules.Code // why the program day moved or waited
	WearWhy rules.Code
	Due     []string // ids of the exercises due, in the order of the text
	Wear    int      // minutes of wear asked; 0: none, or the devices are out
	Rest    bool     // nothing to do because of pain
	Eased   bool
	Sent    bool           // a message was due
	Ask     rules.Question // the number it asked for
	// Fate is what became of the message: empty where none was due, or it is on
	// its way; sent, rejected, unknown or expired of a hand-over; delivered or
	// undelivered once the carrier told.
	Fate string

	// Reported of this day; the worst of several reports counts.
	Reports   int  // texts that held a report
	Score     int  // worst daily score; -1: none
	FirstStep int  // worst first-step score; -1: none
	Struck    bool // a clinician struck or replaced the score
	Halves    int  // 2 all done, 1 some of it
	None      bool // "not today"
	Worn      int  // fewest minutes reported worn; -1: none
	Skin      bool // a skin complaint
	SkinOK    bool // looked at the skin, nothing found
	Flag      bool // a danger word
	Call      bool // asked to be called
}

// Days returns the days of an enrollment from one date to another, both
// included and 0 for no bound, rising. The strings in them are shared.
func (tx *Tx) Days(id string, from, to rules.Date) ([]Day, error) {
	return nil, errors.New("not yet")
}

// AllDays calls fn with the days of each enrollment that has any, rising, in
// order of id, and stops at its first error. fn must not keep days: they are
// overwritten by the next call.
func (tx *Tx) AllDays(fn func(id string, days []Day) error) error {
	return errors.New("not yet")
}
