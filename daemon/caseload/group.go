package caseload

import (
	"slices"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Group is where a patient stands on the board: why somebody should look, or
// one of the groups of those who need nothing. Names are part of --only and of
// the JSON: added, never renamed.
type Group string

// The groups, most urgent first.
const (
	Danger    Group = "danger"    // a danger word
	Paused    Group = "paused"    // after pain
	Skin      Group = "skin"      // wear stopped by a skin complaint
	Call      Group = "call"      // asked to be called
	Unreached Group = "unreached" // messages do not arrive, or the contact is in doubt
	OptedOut  Group = "opted-out"
	Held      Group = "held" // by pain or by a clinician; an eased dose too
	Silent    Group = "silent"
	Alerted   Group = "alert"  // any other alert that nobody acknowledged
	Review    Group = "review" // the plan waits for one, or a visit is near
	OnCourse  Group = "on-course"
	Away      Group = "away"
	NotBegun  Group = "not-begun"
	Ended     Group = "ended" // finished or discharged
)

// Groups are all groups, in the order of the board. Those up to Review need a
// look.
var Groups = []Group{Danger, Paused, Skin, Call, Unreached, OptedOut, Held, Silent, Alerted, Review, OnCourse, Away, NotBegun, Ended}

// States are all states a patient can be shown in.
var States = []rules.InState{rules.InActive, rules.InWaiting, rules.InMaintenance, rules.InHeld, rules.InEased, rules.InPaused, rules.InAway,
	rules.InSuspended, rules.InOptedOut, rules.InFinished, rules.InDischarged}

var titles = map[Group]string{
	Danger: "Danger word", Paused: "Paused", Skin: "Skin complaint", Call: "Asked for a call", Unreached: "Not reached",
	OptedOut: "Stopped the texts", Held: "Held", Silent: "Silent", Alerted: "Alert not acknowledged", Review: "Review due",
	OnCourse: "On course", Away: "Away", NotBegun: "Not begun", Ended: "Finished or discharged",
}

// Title is the heading of the group.
func (g Group) Title() string { return titles[g] }

// NeedsLook tells whether somebody should look at the patients of the group.
func (g Group) NeedsLook() bool { return g.place() <= Review.place() }

func (g Group) place() int { return slices.Index(Groups, g) }

// Facts are what tells where a patient stands.
type Facts struct {
	Enrollment *config.Enrollment
	Person     *journal.Person
	Alerts     []journal.AlertRow // not acknowledged, newest first
	OptedOut   bool
	Lines      rules.Lines // the patient's pain lines
	Today      rules.Date  // the patient's
}

// visitSoon is how many dates ahead a review visit is on the board: the week
// that begins today.
const visitSoon = 7

// silentAfter is how many messages running without a report make a silence,
// as the alert has it.
const silentAfter = 3

// Groups are all the reasons to look at a patient, most urgent first; where
// there is none, the one group the patient is in.
func (f Facts) Groups() []Group {
	st := &f.Person.State
	in := map[Group]bool{
		Danger:   st.Pause != nil && st.Pause.Cause != "" && st.Pause.Cause != "pain",
		Paused:   st.Pause != nil && (st.Pause.Cause == "" || st.Pause.Cause == "pain"),
		Skin:     st.Skin.Stop || st.Skin.Out && !st.Skin.Freed,
		OptedOut: f.OptedOut,
		// A reply since the last message ends a silence at once.
		Silent:    st.Lost || st.Quiet >= silentAfter && !st.Heard.Any,
		Unreached: st.Suspended,
		Held:      st.Pause == nil && (st.Hold != nil || st.Held != nil || st.Eased || f.willHold()),
		Review:    st.Last == rules.Review || f.visit(visitSoon) != 0,
	}
	if st.Finished || st.Discharged {
		in = map[Group]bool{}
	}
	for _, a := range f.open() {
		in[alertGroup(a.Notice)] = true
	}
	if f.anyOf(in, Danger, Paused, Skin, Call, Unreached, OptedOut, Held, Silent) {
		delete(in, Alerted)
	}
	var list []Group
	for _, g := range Groups {
		if in[g] {
			list = append(list, g)
		}
	}
	if len(list) == 0 {
		list = append(list, f.rest())
	}
	return list
}

// willHold tells whether a score came in that holds the plan at the next message
// time. The patient was told to stop for today.
func (f Facts) willHold() bool {
	score := f.Person.State.Heard.Score
	return score != nil && f.Lines.Hold > 0 && *score >= f.Lines.Hold
}

func (f Facts) anyOf(in map[Group]bool, groups ...Group) bool {
	return slices.ContainsFunc(groups, func(g Group) bool { return in[g] })
}

// rest is the group of a patient who needs no look.
func (f Facts) rest() Group {
	st := &f.Person.State
	switch {
	case st.Finished, st.Discharged:
		return Ended
	case st.Decided == 0:
		return NotBegun
	case st.Shown(f.Today, f.OptedOut) == rules.InAway:
		return Away
	}
	return OnCourse
}

// visit is the next review visit within so many dates from today, or 0.
func (f Facts) visit(within int) rules.Date {
	for _, v := range f.Enrollment.Visits {
		if v >= f.Today && (within == 0 || v < f.Today+rules.Date(within)) {
			return v
		}
	}
	return 0
}

// alertGroup is the group of an open alert.
func alertGroup(kind string) Group {
	switch rules.NoticeKind(kind) {
	case rules.NoticeRedFlag:
		return Danger
	case rules.NoticePause:
		return Paused
	case rules.NoticeCall:
		return Call
	case rules.NoticeContact, rules.NoticeUndelivered, rules.NoticeWrong, rules.NoticeUnknownSent:
		return Unreached
	}
	return Alerted
}

// open are the alerts that still want somebody. Nobody need acknowledge what
// the course has overtaken: a silence that ended, a hold that is over. An entry
// that a clinician wrote on a later date answers for all before it; a release
// written ahead does not, nor does a report taken by phone.
func (f Facts) open() []journal.AlertRow {
	var acted rules.Date
	for _, n := range f.Enrollment.Entries {
		if n.On <= f.Today && n.OfHold == 0 && n.Kind != rules.EntryReport {
			acted = max(acted, n.On)
		}
	}
	var list []journal.AlertRow
	for _, a := range f.Alerts {
		if rules.DateOf(a.At.In(f.Enrollment.Zone)) >= acted && !f.overtaken(rules.NoticeKind(a.Notice)) {
			list = append(list, a)
		}
	}
	return list
}

func (f Facts) overtaken(kind rules.NoticeKind) bool {
	st := &f.Person.State
	switch kind {
	case rules.NoticePause:
		return st.Pause == nil
	case rules.NoticeSilent:
		return st.Heard.Any || st.Quiet < silentAfter
	case rules.NoticeLost, rules.NoticeBack:
		return !st.Lost
	case rules.NoticeHeldLong, rules.NoticeSecondBack, rules.NoticeFirstRise:
		return st.Hold == nil
	case rules.NoticeReview:
		return st.Last != rules.Review
	case rules.NoticeSkin: // the devices are back in, and the wear time grows again
		return !st.Skin.Out && !st.Skin.Fresh && !st.Skin.Stop && st.Skin.Wait == 0
	case rules.NoticeOptOut:
		return !f.OptedOut
	case rules.NoticeGone:
		return true // back in the files, or it would not be on the board
	}
	return false
}

// ackFor is how long an alert that nobody acknowledged stays on the board, and
// how long one can be answered.
const ackFor = 30 * 24 * time.Hour

// needsNoAck is the rank from which on nobody need acknowledge an alert.
const needsNoAck = 2

// OpenAlerts are the alerts of the last 30 days that nobody acknowledged, by
// enrollment, newest first. Those under "" are about the clinic itself.
func OpenAlerts(tx *journal.Tx, now time.Time) (map[string][]journal.AlertRow, error) {
	open := map[string][]journal.AlertRow{}
	err := tx.Alerts(func(a *journal.AlertRow) error {
		if now.Sub(a.At) > ackFor {
			return errOld
		}
		if a.Acked.IsZero() && a.Rank < needsNoAck {
			open[a.Enrollment] = append(open[a.Enrollment], *a)
		}
		return nil
	})
	if err == errOld {
		err = nil
	}
	return open, err
}

// ParseGroup reads the name of a group or a state as it is typed.
func ParseGroup(s string) (name string, ok bool) {
	name = strings.ReplaceAll(strings.ToLower(strings.Join(strings.Fields(s), " ")), " ", "-")
	return name, slices.Contains(GroupNames(), name)
}

// GroupNames are the names of all groups and states, as they are typed.
func GroupNames() []string {
	var names []string
	for _, g := range Groups {
		names = append(names, string(g))
	}
	for _, st := range States {
		if name := typed(st); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

func typed(st rules.InState) string { return strings.ReplaceAll(string(st), " ", "-") }
