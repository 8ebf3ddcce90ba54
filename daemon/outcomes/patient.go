package outcomes

import (
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Patient is what is read of one patient.
type Patient struct {
	ID, Program string
	Start       rules.Date    // the exercises begin: week 1 of the exercises
	Dispensed   rules.Date    // the orthoses were handed over: week 1 of the wear; zero: as Start
	Usual       *int          // usual daily pain, 0-10; nil: not said
	UsualStep   *int          // usual first-step pain; nil: not said
	Lines       rules.Lines   // the patient's own, or the program's
	StepWeeks   []int         // the week at which each step of Program begins, rising; nil: not known
	State       rules.InState // shown today
	Today       rules.Date    // the patient's local date; zero: every date is over
	Days        []journal.Day // rising by date
}

// Course is what became of one patient.
type Course struct {
	ID      string        `json:"id"`
	Program string        `json:"program"`
	State   rules.InState `json:"state"`
	Today   rules.Date    `json:"today"`

	// Total is the sum of Weeks, week 0 included, and TotalWear that of Wear.
	Total     Counts     `json:"total"`
	TotalWear WearCounts `json:"total_wear"`
	// Weeks are the weeks of the exercises, rising, none left out up to the
	// last decided date. Number 0, where it is there, holds all dates before
	// the exercises began.
	Weeks []Week `json:"weeks"`
	// Wear are the weeks since the devices were dispensed, in the same way.
	Wear []WearWeek `json:"wear_weeks"`

	Base    *Base    `json:"base"` // what first-step pain is compared with; nil: nothing to compare with
	Firsts  []First  `json:"first_steps"`
	Week6   Improved `json:"improved_by_week_6"`
	Week12  Improved `json:"improved_by_week_12"`
	Spans   []Span   `json:"spans"`
	Steps   []StepOn `json:"steps"`
	Backs   []Back   `json:"step_backs"`
	Silence Silence  `json:"silence"`

	start rules.Date // week 1 of the exercises begins
}

// Counts count dates that are over, for exercise and for answering. Exercise
// adherence is Halves of twice Due: a due date without a report counts as not
// done, which is how the advance rule counts it. The share answered is Answered
// of Sent.
type Counts struct {
	Decided int `json:"decided"` // dates decided
	Stood   int `json:"stood"`   // of them, dates that stand (see the package)

	Due       int `json:"due"`       // dates that stand and had an exercise due
	Halves    int `json:"halves"`    // done on them, in halves: 2 for all, 1 for some of it
	Done      int `json:"done"`      // of Due: all done
	Some      int `json:"some"`      // of Due: some of it
	NotToday  int `json:"not_today"` // of Due: "not today", and nothing done
	Unreached int `json:"unreached"` // of Due: the message is known not to have arrived

	Sent     int `json:"sent"`     // dates that stand on which a message was due
	Answered int `json:"answered"` // of Sent: with a text that held a report
	Scored   int `json:"scored"`   // of Stood: with a daily score that no clinician struck
	Pain     int `json:"pain"`     // of Scored: at or over the patient's hold line

	// Of Decided, dates on which the program day waited, each under one cause;
	// see [CauseOf].
	Held    int `json:"held"`    // a pain hold or a step back
	Paused  int `json:"paused"`  // a pause
	Clinic  int `json:"clinic"`  // a clinician's hold
	Waiting int `json:"waiting"` // the advance rule was not met yet
	Away    int `json:"away"`
	Other   int `json:"other"` // any other cause
}

// Week is one week of the exercises, days 7n-6 to 7n counted from the start
// date. What is not decided is not counted.
type Week struct {
	Number int        `json:"week"`
	From   rules.Date `json:"from"` // the first date of the week; of number 0: the first decided
	Counts
	Step    int `json:"step"`    // on its last decided date; 0: none
	Allowed int `json:"allowed"` // the step that the calendar alone would have given then; 0: not known
}

// WearCounts count dates that are over. Asked is the denominator of Reported,
// and Reported that of Kept and of the minutes. A date without a report of
// wear is not known: it is neither kept nor broken.
//
// Wear is asked for as long as the devices are with the patient, on dates
// without a message too: once the full time is reached fewer reports are to be
// expected, and Reported of Asked falls for that reason alone.
type WearCounts struct {
	Asked         int `json:"asked"`          // dates that stand, with wear asked
	Reported      int `json:"reported"`       // of Asked: with minutes reported
	Kept          int `json:"kept"`           // of Reported: the minutes asked, or more
	AskedMinutes  int `json:"asked_minutes"`  // of the dates Reported
	WornMinutes   int `json:"worn_minutes"`   // of the dates Reported
	SkinComplaint int `json:"skin_complaint"` // decided dates with a skin complaint, whether wear was asked or not
}

// WearWeek is one week of wear, counted from the dispense date.
type WearWeek struct {
	Number int        `json:"week"`
	From   rules.Date `json:"from"`
	WearCounts
	Minutes int `json:"minutes"` // wear asked on its last decided date
}

// Where a base is from.
const (
	FromUsual = "usual"        // the usual first-step pain, written at enrollment
	FromFirst = "first answer" // the first answer, where no usual was written
)

// Base is the first-step pain that later answers are compared with.
type Base struct {
	Score int        `json:"score"`
	From  string     `json:"from"`
	Date  rules.Date `json:"date"` // of the first answer
}

// First is one first-step answer.
type First struct {
	Date   rules.Date `json:"date"`
	Day    int        `json:"day"` // of the exercises
	Score  int        `json:"score"`
	Change int        `json:"change"` // from the base; under 0 is better
	// Improved says that the change reaches the rule of [Improves].
	Improved bool `json:"improved"`
}

// Verdict says whether first-step pain had improved by some week.
type Verdict string

// The verdicts.
const (
	Yes      Verdict = "yes"
	No       Verdict = "no"
	NoBase   Verdict = "no base"   // neither a usual score nor an earlier answer
	NoPain   Verdict = "no pain"   // the base is 0: nothing to improve
	NoAnswer Verdict = "no answer" // none near that week
	NotYet   Verdict = "not there yet"
)

// Improved is the verdict by one week, and the answer it rests on.
type Improved struct {
	Week    int        `json:"week"`
	Verdict Verdict    `json:"verdict"`
	Date    rules.Date `json:"date"`   // of the answer; "": none
	Score   *int       `json:"score"`  // the answer
	Change  *int       `json:"change"` // from the base
}

// Span is a run of decided dates on which the program day waited for one
// cause. A report shows from the date it was settled on, the next decided one.
type Span struct {
	Cause Cause      `json:"cause"`
	Code  rules.Code `json:"code"` // the reason on its first date
	From  rules.Date `json:"from"`
	To    rules.Date `json:"to"`    // its last decided date
	Dates int        `json:"dates"` // decided dates in it
	Open  bool       `json:"open"`  // it holds on the last decided date
}

// StepOn is the step of one decided date.
type StepOn struct {
	Date    rules.Date `json:"date"`
	Day     int        `json:"day"`         // of the exercises; under 1 before they begin
	P       int        `json:"program_day"` // 0: not begun
	Step    int        `json:"step"`
	Steps   int        `json:"of_steps"`
	Allowed int        `json:"allowed"` // the step that the calendar alone would have given; 0: not known
}

// Back is one date on which the program day went back.
type Back struct {
	Date rules.Date `json:"date"`
	Code rules.Code `json:"code"`
	From int        `json:"from_step"` // the step before
	To   int        `json:"to_step"`
}

// DropDates is how many silent dates make a drop-off: as many as make a break
// for the program day.
const DropDates = 14

// Silence says how long no report came. It is counted in decided dates that
// are over, from the first message since the last report that got none; dates
// away and paused do not count. Where no message goes out there is no silence.
type Silence struct {
	Last    rules.Date `json:"last_report"` // "": never one
	Week    int        `json:"week"`        // of the exercises, of that report; 0: never, or before they began
	Dates   int        `json:"dates"`
	Dropped bool       `json:"dropped"` // DropDates or more, and neither discharged nor finished
}
