package outcomes

// Clinic is what is told of all patients added.
type Clinic struct {
	Patients int `json:"patients"` // added
	Begun    int `json:"begun"`    // of them, with a decided date that is over
	Closed   int `json:"closed"`   // of Patients: discharged or finished today
	Dates    int `json:"dates"`    // decided dates that are over, of all patients

	Week6  Improvement `json:"improved_by_week_6"`
	Week12 Improvement `json:"improved_by_week_12"`

	// Exercise is each patient's share of due dates done, a "some" counting
	// half, over the whole course; over patients with a due date.
	Exercise *Spread `json:"exercise"`
	// WearKept is each patient's share of reported wear dates that were kept;
	// over patients with a wear report. WearReported is each patient's share of
	// asked wear dates with a report.
	WearKept     *Spread `json:"wear_kept"`
	WearReported *Spread `json:"wear_reported"`
	// Weeks are weeks of the exercises from 1, and Wear weeks of wear from 1,
	// none left out. A week counts for a patient once all its dates are over.
	Weeks []ClinicWeek     `json:"weeks"`
	Wear  []ClinicWearWeek `json:"wear_weeks"`

	Holds []Hold `json:"holds"` // by cause, in the order of the causes; only those there were
	// PainHeld is each patient's share of decided dates spent in a pain hold or
	// a pause; over patients Begun.
	PainHeld *Spread `json:"pain_held"`

	DropOff DropOff `json:"drop_off"`

	Steps     []Hurt `json:"steps"`     // by program and step
	Exercises []Hurt `json:"exercises"` // by program and exercise
}

// Improvement counts the verdicts by one week. Patients = There + NotYet, and
// There = Compared + NoBase + NoPain + NoAnswer.
type Improvement struct {
	Week     int `json:"week"`
	Patients int `json:"patients"`
	NotYet   int `json:"not_there_yet"`
	There    int `json:"there"`     // the week is over for them, whether or not they are still treated
	NoBase   int `json:"no_base"`   // nothing to compare with
	NoPain   int `json:"no_pain"`   // the base was 0
	NoAnswer int `json:"no_answer"` // none near that week
	Compared int `json:"compared"`  // with a base over 0 and an answer
	ByUsual  int `json:"by_usual"`  // of Compared: with the usual score written at enrollment
	ByFirst  int `json:"by_first"`  // of Compared: with the first answer
	Improved int `json:"improved"`  // of Compared

	// Share is Improved per hundred Compared, one patient counting once. Those
	// who gave no answer are not in it: tell NoAnswer beside it.
	Share  *Rate   `json:"share"`
	Change *Spread `json:"change"` // of Compared: points from the base, under 0 is better
	TooFew bool    `json:"too_few"`
}

// ClinicWeek is one week of the exercises over all patients.
type ClinicWeek struct {
	Number int `json:"week"`
	Over   int `json:"over"` // patients for whom the week is over and has a decided date
	// Exercise is each patient's share of the week's due dates done; its N are
	// the patients who had one.
	Exercise *Spread `json:"exercise"`
	Due      int     `json:"due"`    // due dates of all patients
	Halves   int     `json:"halves"` // done on them, in halves
	// Could are patients who could still have answered, and Answering those of
	// them who did, in that week or later. See [DropOff].
	Could     int `json:"could"`
	Answering int `json:"answering"`
}

// ClinicWearWeek is one week of wear over all patients.
type ClinicWearWeek struct {
	Number       int     `json:"week"`
	Over         int     `json:"over"`          // patients for whom the week is over and wear was asked in it
	WearKept     *Spread `json:"wear_kept"`     // each patient's share of reported dates kept
	WearReported *Spread `json:"wear_reported"` // each patient's share of asked dates reported
	Asked        int     `json:"asked"`         // dates of all patients
	Reported     int     `json:"reported"`      // of Asked
	Kept         int     `json:"kept"`          // of Reported
}

// Hold is the time that program days waited for one cause.
type Hold struct {
	Cause    Cause   `json:"cause"`
	Dates    int     `json:"dates"`    // of Clinic.Dates
	Share    float64 `json:"share"`    // Dates per hundred of Clinic.Dates
	Patients int     `json:"patients"` // of Clinic.Begun: with one such date or more
}

// DropOff counts who stopped answering. A patient has dropped off when they
// have been silent for DropDates or more, as [Silence] counts it, and are
// neither discharged nor finished.
//
// ClinicWeek.Could counts a patient in a week that ended with DropDates dates
// over since, so that a silence would show, and not after they were discharged
// or finished. ClinicWeek.Answering are those of them with a report in that
// week or later. Whoever has been silent for less than DropDates since a report
// before that week counts in neither: no message could go to them, as in a long
// pause or after STOP, so nobody can tell.
type DropOff struct {
	Open    int           `json:"open"`    // patients Begun, neither discharged nor finished
	Dropped int           `json:"dropped"` // of Open
	Never   int           `json:"never"`   // of Dropped: not one report
	Weeks   []DropOffWeek `json:"weeks"`   // the others, rising; only weeks with any
}

// DropOffWeek counts patients by the week of the exercises that had their last
// report; week 0 is the time before the exercises began.
type DropOffWeek struct {
	Number   int `json:"week"`
	Patients int `json:"patients"`
}

// Too few to say: a row with fewer patients or fewer patient-days tells
// nothing of a program (common practice, not a statistical bound).
const (
	FewPatients = 5
	FewDays     = 30
)

// Hurt says how often pain was reported on one step of a program, or on the
// days on which one exercise was due. A patient-day is a date that stands and
// is over, on that step or with that exercise due, and not a rest day because
// of pain. Pain is a daily score at or over that patient's own hold line. A
// date whose score a clinician struck or replaced is left out altogether.
//
// Pain reported on a day with several exercises counts for each of them: the
// rows of exercises say where pain was reported, not what caused it. Exercises
// that are always due together have the same figures.
type Hurt struct {
	Program  string `json:"program"`
	Step     int    `json:"step,omitempty"`     // from 1; 0 in a row of an exercise
	Exercise string `json:"exercise,omitempty"` // its id

	Patients int `json:"patients"` // with a patient-day
	Days     int `json:"days"`     // patient-days
	Answered int `json:"answered"` // of Days: with a daily score
	Pain     int `json:"pain"`     // of Answered: at or over the hold line
	Hurt     int `json:"hurt"`     // of Patients: with a pain day

	Rate       *Rate `json:"rate"`        // Pain per hundred Days
	OfAnswered *Rate `json:"of_answered"` // Pain per hundred Answered: silence is not freedom from pain
	TooFew     bool  `json:"too_few"`     // under FewPatients or FewDays: too few to say
}

// Rate is a rate per hundred with its 95 % interval. The interval is the exact
// binomial one of Clopper and Pearson (Biometrika 1934;26:404-13) over an
// effective number of days (Korn EL, Graubard BI, Survey Methodology
// 1998;24:193-201): the days divided by the design effect, and by the square
// of how much wider the t distribution is with so few patients. With one
// patient the spread between patients is not known: the interval is 0 to 100.
type Rate struct {
	Per100 float64 `json:"per_100"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	// Effect is the design effect: how many days of patients tell as much as one
	// day would if days of one patient were not alike. 1 or more; 1 too where
	// all days agree and nothing can be estimated.
	Effect float64 `json:"design_effect"`
}

// Spread is a median with quartiles over N patients, shares being percent. A
// quartile that falls between two patients is interpolated linearly, as
// spreadsheets do (type 7 of Hyndman RJ, Fan Y, Am Stat 1996;50:361-5).
type Spread struct {
	N      int     `json:"n"`
	Q1     float64 `json:"q1"`
	Median float64 `json:"median"`
	Q3     float64 `json:"q3"`
}
