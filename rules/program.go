package rules

import (
	"fmt"
	"time"
)

// Text is one thing said in several languages: language code to words.
type Text map[string]string

// In returns the words in a language, falling back to English, then to any.
func (t Text) In(lang string) string {
	if s, ok := t[lang]; ok {
		return s
	}
	if s, ok := t["en"]; ok {
		return s
	}
	best := ""
	for k := range t { // one-language programs only: smallest code, so it is stable
		if best == "" || k < best {
			best = k
		}
	}
	return t[best]
}

// Pos is a place in one of the clinic's files. Line and Column count from 1.
type Pos struct {
	File   string `json:"file,omitempty"`
	Line   int    `json:"line,omitempty"`
	Column int    `json:"column,omitempty"`
}

// String writes the place as file:line:column, leaving out what is not known.
func (p Pos) String() string {
	switch {
	case p.File == "":
		return ""
	case p.Line == 0:
		return p.File
	case p.Column == 0:
		return fmt.Sprintf("%s:%d", p.File, p.Line)
	}
	return fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
}

// Program is what the clinician prescribes.
type Program struct {
	ID        string
	Title     Text
	Approved  *Approval // nil: not approved, served on the spool only
	Hash      string    // hex SHA-256 of the file it was read from
	Weeks     int       // length in weeks; 0: no end given
	Exercises map[string]*Exercise
	Blocks    []Block // by week, the first begins at week 1; empty: wear-in only
	Wear      *Wear   // nil: no wear-in schedule
	Pain      Lines
	Advance   Advance
	After     *Maintenance // after the dose table; nil: it ends there. Needs Weeks
	Reviews   []int        // P waits before each of these weeks until a review is recorded; rising
	FirstStep FirstStep    // how often first-step pain is asked

	// Where says where each rule stands: keys are "program", "pain",
	// "pain.steady", "pain.hold", "pain.step back", "pain.pause",
	// "pain.clear days", "advance", "advance.done", "advance.of last",
	// "advance.scores", "wear", "length", "maintenance", "review before week",
	// "first step". A key that the file leaves to its default is absent; use
	// [Program.At].
	Where map[string]Pos
}

// At returns where a rule stands, or where the program begins if the file
// leaves that rule to its default.
func (p *Program) At(key string) Pos {
	if pos, ok := p.Where[key]; ok {
		return pos
	}
	return p.Where["program"]
}

// Approval names the clinician who approved a program, and when.
type Approval struct {
	By string
	On Date
}

// Exercise is one stretch or strengthening movement.
type Exercise struct {
	ID     string
	Kind   string // stretch, strength, balance, mobility or other
	Name   Text
	How    Text
	Easier Text
	Care   Text            // a caution
	Why    Text            // its purpose
	Forms  map[string]Text // ways of doing it, such as toes turned in
	Side   Side            // default for its doses
	Needs  []string
	At     Pos
}

// Side says which side an exercise is done on.
type Side string

// The sides a dose can name.
const (
	SideEach      Side = "each"      // each side in turn
	SideAffected  Side = "affected"  // the enrollment's affected side only
	SideAlternate Side = "alternate" // the sides alternating, rep by rep
	SideTogether  Side = "together"  // both at once
)

// Block is a row of the dose table: it lasts from the first day of its week
// to the day before the next block. Blocks are the patient's steps.
type Block struct {
	Week  int // 1 or more
	Doses []Dose
	At    Pos
}

// FirstDay is the first program day of the block.
func (b Block) FirstDay() int { return (b.Week-1)*7 + 1 }

// Dose is how much of an exercise is done on a day it is due.
type Dose struct {
	Do       string        // exercise id
	Sets     int           // 1 or more
	Reps     int           // in each set, each side; 1 or more
	Hold     time.Duration // each rep; 0: no hold
	Sessions int           // a day; 1 or more
	On       Schedule
	Side     Side          // empty: the exercise's own
	Form     string        // key of the exercise's Forms; empty: the plain one
	Rest     time.Duration // between sets; 0: not said
	RM       int           // load as the most repetitions it can be lifted, such as 12 for 12RM; 0: not said
	Load     Text          // load in words; empty: not said
	Tempo    Tempo         // zero: not said
	At       Pos
}

// Tempo is how long each part of a repetition takes, in whole seconds.
type Tempo struct {
	Up   int `json:"up"`
	Hold int `json:"hold"`
	Down int `json:"down"`
}

// Seconds is the time under tension of one repetition.
func (t Tempo) Seconds() int { return t.Up + t.Hold + t.Down }

// Maintenance is what follows the dose table: doses of its own, messages on
// some days of the week, for some months, then one closing text. Pain lines
// apply; a step back returns to the last block of the table.
type Maintenance struct {
	Doses   []Dose
	PerWeek int // messages a week, 1 to 7
	Months  int // 1 or more
	At      Pos
}

// FirstStep says how often pain at the first steps of the morning is asked,
// inside the daily message and instead of the daily score.
type FirstStep struct {
	Every int // dates between two questions; 0: never asked
	Rise  int // this much over the lowest of the last four answers, or the usual, is a rise
}

// DefaultFirstStep asks on the first date and then weekly. A change of about
// 2 points on a 0-10 scale matters to the patient (Farrar JT et al., Pain
// 2001;94:149-58).
func DefaultFirstStep() FirstStep { return FirstStep{Every: 7, Rise: 2} }

// Schedule says on which days a dose is due. The zero value is every day.
type Schedule struct {
	Kind     string         // "", "every other day", "days a week" or "weekdays"
	PerWeek  int            // for "days a week": 1 to 7
	Weekdays []time.Weekday // for "weekdays"
}

// The kinds of schedule.
const (
	EveryDay      = ""
	EveryOtherDay = "every other day"
	DaysAWeek     = "days a week"
	OnWeekdays    = "weekdays"
)

// Due tells whether a dose on this schedule is due on calendar day d (1 is
// the start date), which falls on date. It hangs on the calendar alone, so a
// wait brings due days no closer and stops none. Every other day is every odd
// d: 42 days in twelve weeks, as in Rathleff MS et al., Scand J Med Sci
// Sports 2015;25(3):e292-300.
func (s Schedule) Due(d int, date Date) bool {
	switch s.Kind {
	case EveryOtherDay:
		return d%2 == 1
	case DaysAWeek:
		inWeek := (d - 1) % 7
		for i := range s.PerWeek {
			if i*7/s.PerWeek == inWeek {
				return true
			}
		}
		return false
	case OnWeekdays:
		for _, w := range s.Weekdays {
			if w == date.Weekday() {
				return true
			}
		}
		return false
	}
	return true
}

// Wear is the wear-in schedule of the devices.
type Wear struct {
	First time.Duration // on wear day 1
	Add   time.Duration // growth at each step
	Every int           // days between two growths; 1 or more
	Full  time.Duration // the most the clinician asks for
	// GoesOn lets the wear day go on during a pain hold; it waits otherwise.
	GoesOn bool
	At     Pos
}

// OnDay is how long the devices are worn on wear day w.
func (w *Wear) OnDay(day int) time.Duration {
	return min(w.Full, w.First+w.Add*time.Duration((day-1)/w.Every))
}

// FullDay is the first wear day that gives the full time; the wear day stops
// there. With no growth the first day is the full day.
func (w *Wear) FullDay() int {
	if w.First >= w.Full || w.Add <= 0 {
		return 1
	}
	steps := int((w.Full - w.First + w.Add - 1) / w.Add)
	return steps*w.Every + 1
}

// Lower is the first wear day of the next lower wear time below that of day.
func (w *Wear) Lower(day int) int {
	level := (min(day, w.FullDay()) - 1) / w.Every
	return max(0, level-1)*w.Every + 1
}

// Lines are the pain lines, scores from 0 to 10, with
// Steady < Hold <= StepBack <= Pause. The defaults follow the bands 0-3 keep
// going, 4-5 modify, 6-10 stop of a public health service's self-help page;
// the pause line is ours.
type Lines struct {
	Steady    int // at or under: counts toward ending a hold
	Hold      int // at or over: the program day waits
	StepBack  int // at or over: the program day goes back
	Pause     int // at or over: messages stop until a release
	ClearDays int // dates at or under Steady that end a hold; 1 or more
}

// DefaultLines are used where a program does not set its own.
func DefaultLines() Lines {
	return Lines{Steady: 3, Hold: 4, StepBack: 6, Pause: 8, ClearDays: 2}
}

// Advance is what must hold before the program day enters the next block.
type Advance struct {
	Done   int // percent of due dates done, a "some" counting half; 0 to 100
	Last   int // over this many decided dates; 1 to MaxWindow
	Scores int // with at least this many daily scores
}

// MaxWindow is the longest advance window, in dates.
const MaxWindow = 28

// DefaultAdvance is used where a program does not set its own.
func DefaultAdvance() Advance { return Advance{Done: 70, Last: 7, Scores: 2} }

// Table is the dose table with the maintenance, where there is one, as a last
// block that begins after the program's length.
func (p *Program) Table() []Block {
	if p.After == nil || p.Weeks == 0 {
		return p.Blocks
	}
	n := len(p.Blocks)
	return append(p.Blocks[:n:n], Block{Week: p.Weeks + 1, Doses: p.After.Doses, At: p.After.At})
}

// BlockAt is the index of the block of the [Program.Table] that program day p
// falls in. With no blocks it is 0.
func (p *Program) BlockAt(day int) int {
	i, table := 0, p.Table()
	for i+1 < len(table) && table[i+1].FirstDay() <= day {
		i++
	}
	return i
}

// LastDay is the last program day of block i, or 0 where nothing ends it.
func (p *Program) LastDay(i int) int {
	table := p.Table()
	switch {
	case i+1 < len(table):
		return table[i+1].FirstDay() - 1
	case i == len(p.Blocks): // maintenance ends by the calendar
		return 0
	}
	return p.Weeks * 7
}
