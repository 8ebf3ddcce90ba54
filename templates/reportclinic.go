package templates

import (
	"fmt"
	"strconv"
	"time"

	"stepgate/rules"
)

// ClinicReport is the clinic's page: whom to call first, and what has become
// of everybody. Its words are English: it is for the clinic's own people.
type ClinicReport struct {
	Clinic   string
	Made     time.Time // in the clinic's zone
	Enrolled int
	Decided  int // of them, for whom a day was decided
	Look     int // of them, who need a look
	Gone     int // whose record is kept, and who are in the files no more
	Groups   []BoardGroup
	LookOff  int // who need a look and are not listed
	RestOff  int // of the rest, who are not listed
	Notes    []string

	Begun    int // with a decided date that is over
	Dates    int // those dates
	Improved []ClinicImproved
	Exercise []ClinicWeek
	Wear     []ClinicWeek
	Whole    []ClinicSpread
	Answers  []ClinicAnswers
	Open     int // neither discharged nor finished
	Dropped  int // of them, who stopped answering
	Never    int // of those, who never answered
	Holds    []ClinicHold
	Steps    []ClinicHurt
	Moves    []ClinicHurt // exercises
	FewWho   int          // under so many patients, or
	FewDays  int          // so many patient-days, it is too few to say
}

// BoardGroup is a group of the caseload.
type BoardGroup struct {
	Title string
	Needs bool // somebody should look at them
	N     int  // how many they are; Rows may be fewer
	Rows  []BoardRow
}

// BoardRow is one patient.
type BoardRow struct {
	ID, Name, Program string
	Link              string // where the patient's page is; empty: nowhere
	Cause             string
	Alerts            []string // not acknowledged
	Day               int      // since the devices were dispensed
	Step, Steps       int
	Halves, Due       int   // of the last due dates
	Scores            []int // the last days, oldest first; under 0: none
	WearMin, WearFull int
	WearOut           bool
	Visit             rules.Date
}

// ClinicImproved counts who had less first-step pain by a week.
type ClinicImproved struct {
	Week, Patients, NotYet, There, NoBase, NoPain, NoAnswer, Compared, Improved int
	ByUsual, ByFirst                                                            int
	Rate                                                                        *ClinicRate // of Compared
	TooFew                                                                      bool
}

// ClinicRate is a rate per hundred with its 95 % interval.
type ClinicRate struct{ Per100, Low, High float64 }

// ClinicWeek is a median with quartiles over N patients, in per cent.
type ClinicWeek struct {
	Week, N           int
	Low, Median, High float64
}

// ClinicSpread is the same of a whole course.
type ClinicSpread struct {
	What              string
	N                 int
	Low, Median, High float64
}

// ClinicAnswers counts who still answered in a week, of those who could.
type ClinicAnswers struct{ Week, Could, Answering int }

// ClinicHold is the time spent in one kind of hold.
type ClinicHold struct {
	Cause           string
	Dates, Patients int
	Share           float64 // per hundred dates
}

// ClinicHurt says how often pain was reported on a step or with an exercise.
type ClinicHurt struct {
	Program, What                        string
	Patients, Days, Answered, Pain, Hurt int
	Rate                                 *ClinicRate // per hundred days
	TooFew                               bool
}

// clinicPage is what the template sees.
type clinicPage struct {
	sheet
	*ClinicReport
	When             string
	Calls, Rest      []BoardGroup
	Exercised        *drawing
	Worn             *drawing
	Answering        *drawing
	StepTop, MoveTop float64
}

// Rows of each table that go on paper, so that the page keeps to two.
const (
	callsOnPaper = 16
	hurtsOnPaper = 8
)

// ClinicReport renders the page.
func (s *Set) ClinicReport(r ClinicReport) []byte {
	v := clinicPage{sheet: s.sheet(fallback, ""), ClinicReport: &r}
	v.Title = r.Clinic
	v.When = v.long(rules.DateOf(r.Made)) + ", " + r.Made.Format("15:04")
	for _, g := range r.Groups {
		if g.Needs {
			v.Calls = append(v.Calls, g)
		} else {
			v.Rest = append(v.Rest, g)
		}
	}
	if anyWeek(r.Exercise) {
		v.Exercised = v.spreadChart(r.Exercise, "Line chart of exercises done by week: the median patient, with the middle half as a band. The figures are in the table below it.")
	}
	if anyWeek(r.Wear) {
		v.Worn = v.spreadChart(r.Wear, "Line chart of wear by week: the median patient, with the middle half as a band. The figures are in the table below it.")
	}
	if len(r.Answers) > 0 && r.Answers[0].Could > 0 {
		v.Answering = v.answersChart(r.Answers)
	}
	v.StepTop, v.MoveTop = topOf(r.Steps), topOf(r.Moves)
	return renderPage("clinic", v)
}

func anyWeek(weeks []ClinicWeek) bool {
	for _, w := range weeks {
		if w.N > 0 {
			return true
		}
	}
	return false
}

// topOf is the end of a scale that holds every interval worth drawing.
func topOf(rows []ClinicHurt) float64 {
	top := 10.0
	for _, r := range rows {
		if r.Rate != nil && !r.TooFew {
			top = max(top, r.Rate.High)
		}
	}
	for _, round := range []float64{10, 20, 40, 60, 80} {
		if top <= round {
			return round
		}
	}
	return 100
}

// DoneOf is "6 of 7", halves and all.
func (r BoardRow) DoneOf() string {
	if r.Due == 0 {
		return ""
	}
	return fmt.Sprintf("%s of %d", halves(r.Halves), r.Due)
}

// StepOf is "2 of 4".
func (r BoardRow) StepOf() string {
	if r.Step == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d", r.Step, r.Steps)
}

// WearOf is the wear asked now, of the full time.
func (r BoardRow) WearOf() string {
	switch {
	case r.WearFull == 0:
		return ""
	case r.WearMin == 0:
		return "out"
	}
	return brief(time.Duration(r.WearMin)*time.Minute) + " of " + brief(time.Duration(r.WearFull)*time.Minute)
}

// Last is the newest score, and All all of them for a screen reader.
func (r BoardRow) Last() string {
	for i := len(r.Scores) - 1; i >= 0; i-- {
		if r.Scores[i] >= 0 {
			return strconv.Itoa(r.Scores[i])
		}
	}
	return ""
}

// Spark draws the last days as small bars; a day without a score is a gap.
func (r BoardRow) Spark() drawing {
	d := drawing{W: 84, H: 22, Class: "spark", Alt: "Pain by day, oldest first:"}
	d.line("axis", 0, 21.5, 84, 21.5)
	for i, n := range r.Scores {
		if n < 0 {
			d.Alt += " –"
			continue
		}
		d.Alt += " " + strconv.Itoa(n)
		h := max(1.2, float64(n)*2)
		d.rect("bar", float64(i)*6+0.5, 21-h, 4.4, h)
	}
	return d
}

// CallOff is how many of those who need a look are not printed.
func (v clinicPage) CallOff() int { return max(0, v.Look-callsOnPaper) }

// Share is a rate in words.
func (r ClinicRate) Share() string { return unitsOf(r.Per100) }

// Between is its interval.
func (r ClinicRate) Between() string { return unitsOf(r.Low) + " to " + unitsOf(r.High) }

// People writes a number of patients.
func (v clinicPage) People(n int) string {
	if n == 1 {
		return "1 patient"
	}
	return strconv.Itoa(n) + " patients"
}

// Needing says how many need a look.
func (v clinicPage) Needing() string {
	verb := "need"
	if v.Look == 1 {
		verb = "needs"
	}
	return fmt.Sprintf("%d of %s enrolled %s a look.", v.Look, v.People(v.Enrolled), verb)
}

// Reached says in words what a figure about improvement is of.
func (v clinicPage) Reached(k ClinicImproved) string {
	s := fmt.Sprintf("Of %s, %d have that week behind them and %d not yet", v.People(k.Patients), k.There, k.NotYet)
	if k.There == 0 {
		return s + "."
	}
	s += fmt.Sprintf(". Of the %d: %d with pain to compare and an answer near it (%d compared with the usual, %d with the first answer)",
		k.There, k.Compared, k.ByUsual, k.ByFirst)
	for _, x := range []struct {
		n    int
		what string
	}{{k.NoAnswer, "without an answer near it"}, {k.NoBase, "with nothing to compare with"}, {k.NoPain, "without pain at first"}} {
		if x.n > 0 {
			s += fmt.Sprintf(", %d %s", x.n, x.what)
		}
	}
	return s + "."
}

// boardPart is a group with what its rows need to know of those before it.
type boardPart struct {
	BoardGroup
	before int
}

// Of tells a group how many rows stand before it.
func (v clinicPage) Of(g BoardGroup) boardPart {
	before := 0
	for _, other := range v.Groups {
		if other.Title == g.Title {
			break
		}
		before += len(other.Rows)
	}
	return boardPart{g, before}
}

// Screen tells whether a row is not printed.
func (p boardPart) Screen(i int) bool { return p.before+i >= callsOnPaper }

// hurtsPart is a table of steps or exercises.
type hurtsPart struct {
	Rows []ClinicHurt
	Top  float64
	Head string
	Many bool // several programs: each row names its own
}

// Hurts is such a table.
func (v clinicPage) Hurts(rows []ClinicHurt, top float64, head string) hurtsPart {
	many := false
	for _, r := range rows {
		many = many || r.Program != rows[0].Program
	}
	return hurtsPart{rows, top, head, many}
}

// OnPaper tells whether the row of this number is printed.
func (p hurtsPart) OnPaper(i int) bool { return i < hurtsOnPaper }
