package journal

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"stepgate/rules"
)

// Day is one decided date of a patient, and what was reported of it. A date
// whose message was withdrawn, or is not handed over yet, is none.
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
	// its way; sent, rejected, unknown or expired of a hand-over; withdrawn
	// before it was tried again; delivered, undelivered or "no news" once the
	// carrier told.
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

// Told is the last decision that stands, as a caseload shows it.
type Told struct {
	Date    rules.Date   `json:"date"`
	Day     int          `json:"day"`
	Step    int          `json:"step,omitempty"`
	Steps   int          `json:"steps,omitempty"`
	Why     rules.Reason `json:"why"`
	WearWhy rules.Reason `json:"wear_why"`
}

// Days returns the days of an enrollment from one date to another, both
// included and 0 for no bound, rising.
func (tx *Tx) Days(id string, from, to rules.Date) ([]Day, error) {
	var days []Day
	cur := tx.c.in(inDays).Cursor()
	sheet, start := sheet{}, append([]byte(id), 0)
	for k, v := cur.Seek(sheetKey(id, max(from, 0))); bytes.HasPrefix(k, start); k, v = cur.Next() {
		if err := sheet.parse(k, v); err != nil {
			return nil, err
		}
		for _, d := range sheet.days {
			if d.Date >= from && (to == 0 || d.Date <= to) {
				days = append(days, d)
			}
		}
		if to != 0 && sheet.first > to {
			break
		}
	}
	return days, nil
}

// AllDays calls fn with the days of each enrollment that has any, rising, in
// order of id, and stops at its first error. The next call overwrites the
// slice; the strings in it stay.
func (tx *Tx) AllDays(fn func(id string, days []Day) error) error {
	var days []Day
	sheet, id := sheet{known: map[string]string{}}, []byte(nil)
	cur := tx.c.in(inDays).Cursor()
	for k, v := cur.First(); ; k, v = cur.Next() {
		if k == nil || len(k) > sheetTail && !bytes.Equal(k[:len(k)-sheetTail], id) {
			if len(days) > 0 {
				if err := fn(string(id), days); err != nil {
					return err
				}
			}
			if k == nil {
				return nil
			}
			id, days = append(id[:0], k[:len(k)-sheetTail]...), days[:0]
		}
		if err := sheet.parse(k, v); err != nil {
			return err
		}
		days = append(days, sheet.days...)
	}
}

// A sheet is one row of the bucket: the days of one enrollment in four weeks.
const (
	sheetDates = 28
	sheetTail  = 5 // of its key: 0 and the number of the four weeks
)

func sheetKey(id string, d rules.Date) []byte {
	return binary.BigEndian.AppendUint32(append([]byte(id), 0), uint32(d/sheetDates))
}

// sheetOf reads the sheet that a date belongs to; an empty one if there is none.
// It is good until the next one is read.
func (c *core) sheetOf(id string, d rules.Date) (*sheet, error) {
	s := &c.sheet
	if s.known == nil {
		s.known = map[string]string{}
	}
	k := sheetKey(id, d)
	v := c.get(inDays, k)
	if v == nil {
		s.first, s.days = d/sheetDates*sheetDates, s.days[:0]
		return s, nil
	}
	return s, s.parse(k, v)
}

// day changes the day of a date, and makes it first if make is set.
func (f *fold) day(d rules.Date, make bool, change func(*Day)) error {
	if d <= 0 {
		return nil // what came in before the first decided date
	}
	s := f.sheet
	if s == nil || s.first != d/sheetDates*sheetDates {
		var err error
		if s, err = f.c.sheetOf(f.id, d); err != nil {
			return err
		}
		f.sheet = s
	}
	at, known := s.find(d)
	switch {
	case !known && !make:
		return nil
	case !known:
		s.insert(at, Day{Date: d, Score: -1, FirstStep: -1, Worn: -1})
	}
	change(&s.days[at])
	f.put(inDays, sheetKey(f.id, d), s.marshal())
	return nil
}

// forgetDays drops all sheets of an enrollment.
func (f *fold) forgetDays(id string) {
	cur, start := f.c.in(inDays).Cursor(), append([]byte(id), 0)
	for k, _ := cur.Seek(start); bytes.HasPrefix(k, start); k, _ = cur.Next() {
		f.del(inDays, bytes.Clone(k))
	}
}

func damagedSheet(k []byte) error { return fmt.Errorf("%w: days %q", ErrDamaged, k) }
