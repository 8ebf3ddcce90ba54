package templates

import (
	"time"

	"stepgate/rules"
)

// PatientReport is the record of one patient for the review visit. Its JSON is
// what `report --json` prints: keys are added, never renamed.
type PatientReport struct {
	Language string       `json:"language"`
	Clinic   ReportClinic `json:"clinic"`
	Made     time.Time    `json:"made"`                 // in the patient's zone
	Quick    bool         `json:"quick_time,omitempty"` // of a made-up calendar
	ID       string       `json:"id"`
	Name     string       `json:"name"`
	Program  string       `json:"program"` // its title

	Dispensed rules.Date       `json:"dispensed"`
	Start     rules.Date       `json:"start"` // of the exercises
	AsOf      rules.Date       `json:"as_of"` // the last decided date; none: nothing is decided yet
	Day       int              `json:"day"`   // D on that date
	DayOfWear bool             `json:"day_of_wear,omitempty"`
	Step      int              `json:"step"` // from 1; 0: the exercises have not begun, or there are none
	Steps     int              `json:"steps"`
	Wears     bool             `json:"wears"`        // the program has a wear-in
	WearMin   int              `json:"wear_minutes"` // asked on that date; 0: the devices are out
	State     rules.InState    `json:"state"`
	Why       rules.Reason     `json:"why"`
	Cautions  []string         `json:"cautions"` // sensation, skin, balance, growing
	Visits    []rules.Date     `json:"visits"`
	Lines     ReportLines      `json:"lines"`
	LinesBy   string           `json:"lines_by,omitempty"` // who set the patient's own lines
	LinesOn   rules.Date       `json:"lines_on,omitzero"`
	Messages  int              `json:"messages"` // dates on which a message was due
	Answered  int              `json:"answered"` // of them, those with a report
	Days      []ReportDay      `json:"days"`
	Weeks     []ReportWeek     `json:"weeks"`
	Wear      []ReportWearWeek `json:"wear_weeks"`
	First     ReportFirst      `json:"first_step"`
	Spans     []ReportSpan     `json:"holds"`
	Alerts    []ReportAlert    `json:"alerts"`
	Talk      []ReportSaying   `json:"messages_and_answers"`
}

// ReportClinic is what a report says of the clinic.
type ReportClinic struct {
	Name       string `json:"name"`
	Phone      string `json:"phone"`
	AfterHours string `json:"after_hours"`
	Emergency  string `json:"emergency"`
}

// ReportLines are the pain lines that count for the patient.
type ReportLines struct {
	Steady   int `json:"steady"`
	Hold     int `json:"hold"`
	StepBack int `json:"step_back"`
	Pause    int `json:"pause"`
	Clear    int `json:"clear_days"`
}

// ReportDay is one decided date.
type ReportDay struct {
	Date     rules.Date    `json:"date"`
	Day      int           `json:"day"`
	Score    *int          `json:"score"` // worst daily score; nil: none
	Step     int           `json:"step"`
	Allowed  int           `json:"allowed"` // the step the calendar alone would allow
	State    rules.InState `json:"state"`
	Asked    bool          `json:"asked"` // a message was due
	Answered bool          `json:"answered"`
}

// ReportWeek is a week of the exercises, over the dates that are over.
type ReportWeek struct {
	Week    int        `json:"week"` // from 1
	From    rules.Date `json:"from"`
	Due     int        `json:"due"`    // dates with an exercise due
	Halves  int        `json:"halves"` // done on them: 2 for all, 1 for some of it
	Low     *int       `json:"low"`    // daily scores
	High    *int       `json:"high"`
	First   *int       `json:"first_step"` // worst first-step score
	Step    int        `json:"step"`
	Allowed int        `json:"allowed"`
	Held    int        `json:"held"` // dates held or paused, today's too
}

// ReportWearWeek is a week of the wear-in, counted from the dispense date.
type ReportWearWeek struct {
	Week     int        `json:"week"`
	From     rules.Date `json:"from"`
	Asked    int        `json:"asked"`    // dates with wear asked
	Reported int        `json:"reported"` // of them, those with hours reported
	Kept     int        `json:"kept"`     // of those, the hours asked or more
	AskedMin int        `json:"asked_minutes"`
	WornMin  int        `json:"worn_minutes"`
}

// ReportFirst is the series of first-step pain.
type ReportFirst struct {
	Base    *int                `json:"base"`
	Usual   bool                `json:"base_is_usual"` // named at the visit; else the first answer
	Goal    *int                `json:"goal"`          // the highest score that counts as better
	Answers []ReportFirstAnswer `json:"answers"`
	By      []ReportImproved    `json:"improved"`
}

// ReportFirstAnswer is one answer about the first steps.
type ReportFirstAnswer struct {
	Date  rules.Date `json:"date"`
	Day   int        `json:"day"`
	Score int        `json:"score"`
}

// ReportImproved says whether first-step pain was lower by a week, by a change
// that counts.
type ReportImproved struct {
	Week  int        `json:"week"`
	Is    string     `json:"is"` // yes, no, no base, no pain, no answer or not there yet
	Score *int       `json:"score"`
	Date  rules.Date `json:"date"`
}

// ReportSpan is a time in which the plan did not go on, and why. The facts are
// named here and put into words by the page.
type ReportSpan struct {
	Kind   string       `json:"kind"` // pain, back, pause, clinic, away, silent, off, waiting, cap or review
	From   rules.Date   `json:"from"`
	To     rules.Date   `json:"to"` // its last decided date
	Open   bool         `json:"open"`
	Days   int          `json:"days"` // decided dates in it
	Scores []ReportSaid `json:"scores"`
	Word   string       `json:"word,omitempty"`  // danger word
	By     string       `json:"by,omitempty"`    // of a clinician's hold
	Quote  string       `json:"quote,omitempty"` // the patient's own words
	Line   string       `json:"line"`            // pause, back, hold, word, first, after, entry, advance, review, away, silent or off
	LineAt int          `json:"line_at,omitempty"`
	Ended  string       `json:"ended"` // clear, release, review, back, met, heard, again, paused, discharged, finished or other; empty: not yet
	EndBy  string       `json:"ended_by,omitempty"`
	EndOn  rules.Date   `json:"ended_on,omitzero"`
	Why    rules.Reason `json:"why"`  // of its first date
	Next   rules.Reason `json:"next"` // of the decided date after it
}

// ReportSaid is a score behind a hold, and the day it is of.
type ReportSaid struct {
	Score int        `json:"score"`
	On    rules.Date `json:"on"`
}

// ReportAlert is one alert about the patient.
type ReportAlert struct {
	At     time.Time    `json:"at"`
	Notice rules.Notice `json:"notice"`
	Needs  bool         `json:"needs_answer"` // else it is for information
	Acked  time.Time    `json:"answered,omitzero"`
	How    string       `json:"how,omitempty"`
	By     string       `json:"by,omitempty"`
}

// ReportSaying is one message to or from the patient.
type ReportSaying struct {
	At   time.Time `json:"at"`
	Kind string    `json:"kind"` // out, answer, in, or phone for a report the clinic took by phone
	Text string    `json:"text"`
	// Fate is what became of one that did not simply go out: waiting, withdrawn,
	// rejected, unknown, expired or undelivered.
	Fate string `json:"fate,omitempty"`
}
