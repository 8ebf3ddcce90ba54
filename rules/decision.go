package rules

import (
	"encoding/json"
	"time"
)

// Code names why a program day or wear day moved or waited. Codes are part
// of the journal's format and of --json output: never renamed, only added.
type Code string

// Why the program day did what it did.
const (
	FirstDay   Code = "first day"
	NotBegun   Code = "not begun"   // before the exercises' start date
	Paused     Code = "paused"      // a pause stands or begins
	StepBack   Code = "step back"   // to the first day of the previous block
	BlockAgain Code = "block again" // within 7 dates of a step back, or first block: first day of the current block
	PainHeld   Code = "pain hold"   // a hold begins or stands
	ClinicHeld Code = "clinic hold"
	AwayCode   Code = "away"
	OptedOut   Code = "opted out"
	Suspended  Code = "suspended"
	NoConsent  Code = "no consent"
	Unheard    Code = "unheard"  // incoming messages could not be read in time
	NotSent    Code = "not sent" // the carrier never took the last message due
	Capped     Code = "cap"
	Waiting    Code = "waiting" // end of a block, advance rule not met
	TableEnd   Code = "table end"
	Tick       Code = "tick"
	Break      Code = "break"      // 14 dates without a report: back one block, wear from the start
	Lost       Code = "silent"     // 21 dates without a report: nothing goes out until the clinic confirms
	Review     Code = "review"     // before a week that wants a review first
	FirstRise  Code = "first step" // first-step pain rose twice running: a hold begins
	Finished   Code = "finished"
	Discharged Code = "discharged"
	Released   Code = "released" // the first date after a pause: P stays where it was left
)

// Why the wear day did what it did; FirstDay, Paused, PainHeld, ClinicHeld,
// AwayCode, OptedOut, Suspended, NoConsent, Unheard, NotSent, Released and
// Tick serve here too.
const (
	WearNone   Code = "no wear"      // the program has no wear-in, or nothing is dispensed yet
	SkinOut    Code = "skin"         // a skin report: devices out
	SkinBack   Code = "skin back"    // back in, at the next lower wear time
	SkinWaits  Code = "skin waits"   // counting reports without a skin complaint
	NotToday   Code = "not today"    // the patient said "not today"
	WoreLittle Code = "wore little"  // under half of the hours asked
	WearQuiet  Code = "three silent" // three dates running without a report
	WearFull   Code = "full"         // at the full time already
	SkinStop   Code = "skin stop"    // reduced sensation: no wear until the clinician releases it
	SkinCheck  Code = "skin check"   // reduced sensation: no growth without a reported skin check
	DeviceAway Code = "device out"   // the device is not with the patient
	DeviceNew  Code = "device new"   // remade, or a second pair: wear begins again
)

// Reason says why, where the rule stands, and the numbers behind it.
type Reason struct {
	Code  Code   `json:"code"`
	Rule  string `json:"rule,omitempty"`  // key of Program.Where, or "entry"
	At    Pos    `json:"at,omitzero"`     // file and line of the rule
	Score *int   `json:"score,omitempty"` // the worst score behind it
	Line  int    `json:"line,omitempty"`  // the pain line it reached
	Since Date   `json:"since,omitzero"`  // a hold's, pause's or away's first date; away: last date
	Have  int    `json:"have,omitempty"`  // clear dates so far; or what the advance rule found
	Need  int    `json:"need,omitempty"`
	Short string `json:"short,omitempty"` // waiting: "dates", "done", "scores", "over steady" or "due dates"
	By    string `json:"by,omitempty"`    // clinician behind an entry; or the danger word behind a pause
}

// Decision is the outcome for one date.
type Decision struct {
	Date    Date    `json:"date"`
	Day     int     `json:"day"`         // D
	P       int     `json:"program_day"` // after settling
	W       int     `json:"wear_day"`
	Step    int     `json:"step"`  // from 1; 0 where the program has no exercises or they have not begun
	Steps   int     `json:"steps"` // how many the program has
	State   InState `json:"state"`
	Why     Reason  `json:"why"`
	WearWhy Reason  `json:"wear_why"`

	Wear    time.Duration `json:"-"` // wear time asked today; 0: out or none
	WearOut bool          `json:"wear_out,omitempty"`
	WearNow bool          `json:"wear_now,omitempty"` // the wear-in is running or a device is out: worth a line
	Doses   []Due         `json:"doses,omitempty"`    // what is due today
	Rest    bool          `json:"rest,omitempty"`     // nothing to do because of pain
	Eased   bool          `json:"eased,omitempty"`
	Weekly  bool          `json:"weekly,omitempty"`     // a long silence: one question a week, no exercises listed
	Closing bool          `json:"closing,omitempty"`    // the last text: the program is finished
	Skin    bool          `json:"skin_check,omitempty"` // asks for a look at the skin
	Support bool          `json:"support,omitempty"`    // balance: hold a firm support

	Send    bool     `json:"send"`              // a message is due
	First   bool     `json:"first,omitempty"`   // the first text of the enrollment
	Ask     Question `json:"ask,omitempty"`     // what it asks for
	Notices []Notice `json:"notices,omitempty"` // for the clinician
}

// Due is one exercise as it is to be done on a date.
type Due struct {
	Exercise string        `json:"exercise"`
	Side     Side          `json:"side"`
	Sets     int           `json:"sets"`
	Reps     int           `json:"reps"`
	Hold     time.Duration `json:"-"`
	Sessions int           `json:"sessions"`
	Form     string        `json:"form,omitempty"`
	Only     string        `json:"only,omitempty"` // the form on this side only: "left" or "right"
	Rest     time.Duration `json:"-"`
	RM       int           `json:"rm,omitempty"`
	Load     Text          `json:"load,omitempty"`
	Tempo    Tempo         `json:"tempo,omitzero"`
}

// Notice is one thing a clinician should be told.
type Notice struct {
	Kind  NoticeKind `json:"kind"`
	Score *int       `json:"score,omitempty"`
	Flags []RedFlag  `json:"flags,omitempty"`
	Since Date       `json:"since,omitzero"`
}

// NoticeKind names a cause for telling the clinician.
type NoticeKind string

// The causes.
const (
	NoticeRedFlag     NoticeKind = "red flag"
	NoticeUsual       NoticeKind = "usual danger word"  // listed as usual for this patient: no pause
	NoticeDenied      NoticeKind = "danger word denied" // "not numb anymore": no pause, passed on
	NoticePause       NoticeKind = "pause"
	NoticeSkin        NoticeKind = "skin"
	NoticeCall        NoticeKind = "call me"
	NoticeWrong       NoticeKind = "wrong person"
	NoticeOptOut      NoticeKind = "opted out"
	NoticeOptIn       NoticeKind = "opted in"
	NoticeUnread      NoticeKind = "unread text"
	NoticeAskStop     NoticeKind = "asked to stop"
	NoticeSilent      NoticeKind = "silent"
	NoticeLost        NoticeKind = "silent 21 days" // nothing more goes out
	NoticeBack        NoticeKind = "answered again" // after such a silence
	NoticeFirstRise   NoticeKind = "first-step rise"
	NoticeReview      NoticeKind = "review due"
	NoticeVisit       NoticeKind = "visit tomorrow"
	NoticeFinished    NoticeKind = "finished"
	NoticeHeldLong    NoticeKind = "held 7 days"
	NoticeSecondBack  NoticeKind = "second step back"
	NoticeContact     NoticeKind = "contact"     // the carrier refused the contact
	NoticeUndelivered NoticeKind = "undelivered" // messages do not arrive, since a date or one of them, and no other way is on file
	NoticeByMail      NoticeKind = "by mail"     // texts do not arrive: messages go to the mail address from now on
	NoticeUnknownSent NoticeKind = "send unknown"
	NoticeStranger    NoticeKind = "stranger" // a text from a number nobody is enrolled with
	NoticeGone        NoticeKind = "gone from the files"
	NoticeBadFiles    NoticeKind = "bad files"
	NoticeSender      NoticeKind = "sender trouble" // our own account or number takes no messages; told to the admin
)

// Part is one thing an answer to a patient's text says. An answer may have
// several; they are said in this order.
type Part string

// The parts of an answer.
const (
	SayEmergency   Part = "emergency"
	SayUrgent      Part = "urgent"
	SayClinic      Part = "clinic"
	SayPause       Part = "pause"        // score at or over the pause line
	SayStepBack    Part = "step back"    // score at or over the step-back line
	SayHold        Part = "hold"         // score at or over the hold line
	SaySkin        Part = "skin"         // take the devices out
	SayStillPaused Part = "still paused" // heard, but the clinic has not released yet
	SayClearing    Part = "clearing"     // a low score during a hold
	SayScore       Part = "score"        // a score noted
	SayFirstStep   Part = "first step"   // a first-step score noted
	SayDone        Part = "done"
	SaySome        Part = "some"
	SayWear        Part = "wear"          // hours worn noted
	SayAskNumber   Part = "ask number"    // a bare "done" during a hold: which number?
	SayWhyNot      Part = "why not"       // "not today": because of pain?
	SayAway        Part = "away"          // away until
	SayAwayLong    Part = "away long"     // more than 28 days: please call
	SayHow         Part = "how"           // how-to
	SayNoHow       Part = "no how"        // nothing due to explain
	SayCall        Part = "call"          // call-me noted, nobody reads these at once
	SayAskStop     Part = "ask stop"      // did you mean to stop the texts?
	SayPassedOn    Part = "passed on"     // part of the text went to the clinician
	SayUnread      Part = "unread"        // nothing understood; what can be
	SayNotYet      Part = "not yet"       // before the first text
	SaySkinOK      Part = "skin ok"       // a skin check without findings noted
	SayLost        Part = "texts stopped" // after a long silence: the clinic starts them again
	SayEnded       Part = "ended"         // discharged or finished: call the clinic
	SayWrong       Part = "wrong person"  // neutral, no name, no dose
	SayStranger    Part = "stranger"      // to a contact nobody is enrolled with; as neutral
	SayStopped     Part = "stopped"
	SayStarted     Part = "started"
	SayHelp        Part = "help"
)

// Hearing is what follows from a patient's text.
type Hearing struct {
	Parts   []Part   `json:"parts,omitempty"`
	Notices []Notice `json:"notices,omitempty"`
	Ask     Question `json:"ask,omitempty"` // what the answer asks for; empty: the last question stands
	Score   *int     `json:"score,omitempty"`
	Left    int      `json:"left,omitempty"`    // a low score in a hold: clear dates still wanted after this one
	OptOut  bool     `json:"opt_out,omitempty"` // the contact opts out
	OptIn   bool     `json:"opt_in,omitempty"`
}

// decisionJSON and dueJSON write times as whole minutes and seconds.
type (
	decisionPlain Decision
	decisionJSON  struct {
		*decisionPlain
		WearMinutes int `json:"wear_minutes"`
	}
	duePlain Due
	dueJSON  struct {
		*duePlain
		HoldSeconds int `json:"hold_seconds,omitempty"`
		RestSeconds int `json:"rest_seconds,omitempty"`
	}
)

// MarshalJSON writes the wear time as wear_minutes.
func (d Decision) MarshalJSON() ([]byte, error) {
	return json.Marshal(decisionJSON{(*decisionPlain)(&d), int(d.Wear / time.Minute)})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (d *Decision) UnmarshalJSON(b []byte) error {
	v := decisionJSON{decisionPlain: (*decisionPlain)(d)}
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	d.Wear = time.Duration(v.WearMinutes) * time.Minute
	return nil
}

// MarshalJSON writes the hold as hold_seconds.
func (d Due) MarshalJSON() ([]byte, error) {
	return json.Marshal(dueJSON{(*duePlain)(&d), int(d.Hold / time.Second), int(d.Rest / time.Second)})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (d *Due) UnmarshalJSON(b []byte) error {
	v := dueJSON{duePlain: (*duePlain)(d)}
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	d.Hold = time.Duration(v.HoldSeconds) * time.Second
	d.Rest = time.Duration(v.RestSeconds) * time.Second
	return nil
}
