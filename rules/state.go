package rules

// State is what is remembered of a patient between two dates. It is the
// outcome of every decision and report so far: the journal stores it and
// never works it out again.
type State struct {
	// Rev goes up with every change that a decision depends on. A decision
	// made from one revision is void once the state has another.
	Rev int `json:"rev"`

	Program string `json:"prog,omitempty"` // P and W belong to this program
	Edition string `json:"ed,omitempty"`   // which text of it, by the start of its hash
	Decided Date   `json:"dec"`            // last decided date
	P       int    `json:"p,omitempty"`    // program day; 0 until the exercises begin
	W       int    `json:"w,omitempty"`    // wear day; 0 until the devices are dispensed
	Base    Date   `json:"base,omitzero"`  // P would have been 1 on this date
	Week    int    `json:"wk,omitempty"`   // the block served begins at this week

	// The decided date that Heard belongs to.
	Due     bool `json:"due,omitempty"` // an exercise was due
	Sent    bool `json:"msg,omitempty"` // a message was due
	WasAway bool `json:"wa,omitempty"`  // the patient was away
	// WasPaused: a pause stood; also after a release the same day.
	WasPaused bool `json:"wp,omitempty"`
	NotSent   bool `json:"ns,omitempty"`    // and the carrier did not take it
	First     bool `json:"first,omitempty"` // it was the first text
	WearMin   int  `json:"wm,omitempty"`    // minutes of wear asked; 0: devices out

	Heard  Heard    `json:"heard"`          // reports since the last settlement
	Window Date     `json:"win"`            // the advance window begins here
	Days   []DayLog `json:"days,omitempty"` // settled dates of the window, oldest first

	Hold  *PainHold   `json:"hold,omitempty"`
	Pause *Pause      `json:"pause,omitempty"`
	Held  *ClinicHold `json:"held,omitempty"`
	Back  Date        `json:"back"`            // last date that lost a block
	Backs []Date      `json:"backs,omitempty"` // step backs of the last 14 dates
	Over  bool        `json:"over,omitempty"`  // the last score heard was over steady
	Eased bool        `json:"eased,omitempty"`
	Cap   int         `json:"cap,omitempty"` // highest step, from 1; 0: none
	Away  *Away       `json:"away,omitempty"`
	Skin  Skin        `json:"skin"`            // what a skin report left behind
	Quiet int         `json:"quiet,omitempty"` // messages running without a report
	Blank int         `json:"blank,omitempty"` // decided dates running without a report
	Mute  int         `json:"mute,omitempty"`  // the same, of dates that count to a contact being lost
	Hush  int         `json:"hush,omitempty"`  // at the last decided date: such a silence that the daily messages stop; its dates
	Gap   int         `json:"gap,omitempty"`   // dates running without a report, away or opted out
	Told  Date        `json:"said,omitzero"`   // last date a message was due

	Breaks  int  `json:"brk,omitempty"`   // steps back that this break has had
	BrkWeek int  `json:"brkwk,omitempty"` // the block served before them begins at this week
	Gone    Date `json:"gone,omitzero"`   // the break's first date
	Off     int  `json:"off,omitempty"`   // dates running away or opted out, the last decided date among them

	Firsts  []int `json:"fs,omitempty"`     // the last answers about first steps, at most 4
	Rises   int   `json:"rises,omitempty"`  // of them, how many running rose
	StepAsk Date  `json:"stepask,omitzero"` // when they were asked for last
	Maint   Date  `json:"maint,omitzero"`   // maintenance began
	Reviews int   `json:"revs,omitempty"`   // reviews recorded
	RevTold int   `json:"rvtold,omitempty"` // the week whose review the clinician was told of
	Device  Date  `json:"dev,omitzero"`     // the devices worn now are of this date; zero: as dispensed
	DevOut  bool  `json:"devout,omitempty"` // the device is not with the patient

	Suspended  bool     `json:"susp,omitempty"` // contact in doubt, nothing goes out
	Lost       bool     `json:"lost,omitempty"` // the same after a long silence; reports still count
	Finished   bool     `json:"fin,omitempty"`
	Reach      bool     `json:"reach,omitempty"` // a message could go out on the decided date, but for a pause
	Discharged bool     `json:"disc,omitempty"`
	Greeted    bool     `json:"greet,omitempty"` // the first text went out
	Asked      Question `json:"asked,omitempty"` // what the last text out asked
	Last       Code     `json:"last,omitempty"`  // why of the last decision
	Read       []string `json:"read,omitempty"`  // ids of the entries read so far
}

// Heard gathers the reports since the last settlement: the worst of each
// counts, so their order does not matter.
type Heard struct {
	Any    bool     `json:"any,omitempty"`
	Score  *int     `json:"score,omitempty"` // worst daily score
	Halves int      `json:"half,omitempty"`  // 2 done, 1 some of it
	None   bool     `json:"none,omitempty"`  // "not today"
	Skin   bool     `json:"skin,omitempty"`
	Clean  bool     `json:"clean,omitempty"` // a report without a skin complaint
	Wear   *float64 `json:"wear,omitempty"`  // fewest hours reported worn
	First  *int     `json:"first,omitempty"` // worst first-step score
	SkinOK bool     `json:"skin_ok,omitempty"`
	Flag   bool     `json:"flag,omitempty"` // a danger word
}

// DayLog is one settled date of the advance window.
type DayLog struct {
	Date   Date `json:"d"`
	Due    bool `json:"due,omitempty"`
	Halves int  `json:"h,omitempty"`
	Score  *int `json:"s,omitempty"`
	Any    bool `json:"a,omitempty"`
}

// PainHold is a hold that pain started. Clear counts the dates at or under
// steady since.
type PainHold struct {
	Since Date `json:"since"`
	From  Date `json:"from,omitzero"` // it is long from here: a release starts the count anew
	Clear int  `json:"clear,omitempty"`
	Told  bool `json:"told,omitempty"` // the clinician was told that it lasts
	Rise  bool `json:"rise,omitempty"` // by the first-step rule
}

// Away is a time the patient said to be away; both dates belong to it.
type Away struct {
	From Date `json:"from"`
	To   Date `json:"to"`
}

// on tells whether d is a date away.
func (a *Away) on(d Date) bool { return a != nil && a.From <= d && d <= a.To }

// Pause stops all proactive messages until a clinician's release.
type Pause struct {
	Since Date   `json:"since"`
	Cause string `json:"cause"` // "pain" or the name of the danger word
	// P, Week and Maint stood like this before the step back that came with it.
	P     int  `json:"p,omitempty"`
	Week  int  `json:"wk,omitempty"`
	Maint Date `json:"maint,omitzero"`
}

// ClinicHold is a hold that a clinician wrote.
type ClinicHold struct {
	Since Date   `json:"since"`
	By    string `json:"by,omitempty"`
	At    Pos    `json:"at,omitzero"`
}

// Skin is what a skin report left behind: out until a report without one,
// then Wait dates with such reports before the wear time grows again. Fresh:
// the last settled date had a skin report.
type Skin struct {
	Out   bool `json:"out,omitempty"`
	Wait  int  `json:"wait,omitempty"`
	Fresh bool `json:"fresh,omitempty"`
	Stop  bool `json:"stop,omitempty"`  // reduced sensation: out until the clinician releases wear
	Freed bool `json:"freed,omitempty"` // released, to go back in
}

// Question is the number that a text asks for; a bare number answers the
// question asked last.
type Question string

// The questions.
const (
	AskNothing   Question = ""
	AskPain      Question = "pain"
	AskPainNow   Question = "pain now" // after a score over steady: how is it now
	AskFirstStep Question = "first-step"
)

// InState names the state a person is shown; the first that applies.
type InState string

// The states, in the order they apply.
const (
	InDischarged  InState = "discharged"
	InFinished    InState = "finished"
	InOptedOut    InState = "opted out"
	InSuspended   InState = "suspended"
	InPaused      InState = "paused"
	InAway        InState = "away"
	InEased       InState = "eased"
	InHeld        InState = "held"
	InWaiting     InState = "waiting"
	InMaintenance InState = "maintenance"
	InActive      InState = "active"
)

// Shown names the state on date d. Opt-out belongs to the contact, so the
// caller says whether it stands.
func (s *State) Shown(d Date, optedOut bool) InState {
	switch {
	case s.Discharged:
		return InDischarged
	case s.Finished:
		return InFinished
	case optedOut:
		return InOptedOut
	case s.Suspended, s.Lost:
		return InSuspended
	case s.Pause != nil:
		return InPaused
	case s.Away.on(d):
		return InAway
	case s.Eased:
		return InEased
	case s.Hold != nil || s.Held != nil:
		return InHeld
	case s.Last == Waiting:
		return InWaiting
	case s.Maint != 0:
		return InMaintenance
	}
	return InActive
}
