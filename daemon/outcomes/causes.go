package outcomes

import (
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Cause groups the reasons for which a program day waits.
type Cause string

// The causes.
const (
	CausePain    Cause = "pain hold"   // a hold, a step back, a first-step rise
	CausePause   Cause = "pause"       // until a clinician's release, and the date of it
	CauseClinic  Cause = "clinic hold" // a clinician wrote it
	CauseAway    Cause = "away"
	CauseOptOut  Cause = "opted out"
	CauseSilent  Cause = "silent" // no reports, or the contact is in doubt
	CauseWaiting Cause = "waiting"
	CauseReview  Cause = "review" // one is wanted first
	CauseCap     Cause = "cap"
	CauseSending Cause = "not sent" // no message was taken, or none could be read
	CauseConsent Cause = "no consent"
)

// causes lists them in the order a clinic is told of them.
var causes = [...]Cause{CausePain, CausePause, CauseClinic, CauseAway, CauseOptOut, CauseSilent,
	CauseWaiting, CauseReview, CauseCap, CauseSending, CauseConsent}

// byCode says which cause a reason belongs to; one that is not here is none.
var byCode = map[rules.Code]Cause{
	rules.PainHeld: CausePain, rules.StepBack: CausePain, rules.BlockAgain: CausePain, rules.FirstRise: CausePain,
	rules.Paused: CausePause, rules.Released: CausePause,
	rules.ClinicHeld: CauseClinic,
	rules.AwayCode:   CauseAway,
	rules.OptedOut:   CauseOptOut,
	rules.Suspended:  CauseSilent, rules.Lost: CauseSilent, rules.Break: CauseSilent, rules.WearQuiet: CauseSilent,
	rules.Waiting: CauseWaiting,
	rules.Review:  CauseReview,
	rules.Capped:  CauseCap,
	rules.NotSent: CauseSending, rules.Unheard: CauseSending,
	rules.NoConsent: CauseConsent,
}

// CauseOf says why the program day waited or went back on a date; empty: it
// did not, or there was none to move. Each date has one cause: a pause before
// all, then the reason of the decision. So a date away during a pain hold is
// one of the pain hold.
func CauseOf(d *journal.Day) Cause {
	switch {
	case d.State == rules.InPaused:
		return CausePause
	case d.Why == rules.Tick:
		return ""
	}
	return byCode[d.Why]
}

// stands tells whether the patient could be asked for something on a date; see
// the package.
func stands(d *journal.Day) bool {
	switch d.State {
	case rules.InActive:
	case rules.InDischarged, rules.InFinished, rules.InOptedOut, rules.InSuspended, rules.InPaused, rules.InAway:
		return false
	}
	return d.Why != rules.NoConsent
}
