package caseload

import (
	"slices"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// today is a date far from any bound.
const today rules.Date = 20_000

// facts are those of a patient in their third week.
func facts(st rules.State, alerts ...journal.AlertRow) Facts {
	if st.Decided == 0 {
		st.Decided = today
	}
	return Facts{
		Enrollment: &config.Enrollment{Enrollment: rules.Enrollment{ID: "p", Start: today - 20, Dispensed: today - 20}, Zone: time.UTC},
		Person:     &journal.Person{State: st}, Alerts: alerts, Lines: rules.DefaultLines(), Today: today,
	}
}

func alertOn(kind rules.NoticeKind, on rules.Date) journal.AlertRow {
	return journal.AlertRow{Enrollment: "p", Notice: string(kind), At: on.Time().Add(12 * time.Hour)}
}

// TestGroups: what each state and each open alert is to the clinician.
func TestGroups(t *testing.T) {
	four, three := 4, 3
	for _, c := range []struct {
		name string
		f    Facts
		want []Group
	}{
		{"nothing", facts(rules.State{}), []Group{OnCourse}},
		{"a danger word", facts(rules.State{Pause: &rules.Pause{Cause: "sudden pop"}}), []Group{Danger}},
		{"a danger word without a pause", facts(rules.State{}, alertOn(rules.NoticeRedFlag, today)), []Group{Danger}},
		{"pain at the pause line", facts(rules.State{Pause: &rules.Pause{Cause: "pain"}, Hold: &rules.PainHold{}}), []Group{Paused}},
		{"a blister", facts(rules.State{Skin: rules.Skin{Out: true}}), []Group{Skin}},
		{"a blister, released", facts(rules.State{Skin: rules.Skin{Out: true, Freed: true}}), []Group{OnCourse}},
		{"wear stopped", facts(rules.State{Skin: rules.Skin{Stop: true}}), []Group{Skin}},
		{"call me", facts(rules.State{}, alertOn(rules.NoticeCall, today)), []Group{Call}},
		{"undelivered", facts(rules.State{}, alertOn(rules.NoticeUndelivered, today)), []Group{Unreached}},
		{"wrong person", facts(rules.State{Suspended: true}), []Group{Unreached}},
		{"a pain hold", facts(rules.State{Hold: &rules.PainHold{}}), []Group{Held}},
		{"a clinician's hold", facts(rules.State{Held: &rules.ClinicHold{}}), []Group{Held}},
		{"eased", facts(rules.State{Eased: true}), []Group{Held}},
		{"a score that will hold", facts(rules.State{Heard: rules.Heard{Any: true, Score: &four}}), []Group{Held}},
		{"a score that won't", facts(rules.State{Heard: rules.Heard{Any: true, Score: &three}}), []Group{OnCourse}},
		{"three messages without an answer", facts(rules.State{Quiet: 3}), []Group{Silent}},
		{"two", facts(rules.State{Quiet: 2}), []Group{OnCourse}},
		{"an answer after five", facts(rules.State{Quiet: 5, Heard: rules.Heard{Any: true}}), []Group{OnCourse}},
		{"21 days", facts(rules.State{Lost: true}), []Group{Silent}},
		{"words nobody could read", facts(rules.State{}, alertOn(rules.NoticeUnread, today)), []Group{Alerted}},
		{"a week that waits for a review", facts(rules.State{Last: rules.Review}), []Group{Review}},
		{"away", facts(rules.State{Away: &rules.Away{From: today, To: today + 1}}), []Group{Away}},
		{"back since today", facts(rules.State{Away: &rules.Away{From: today - 3, To: today - 1}}), []Group{OnCourse}},
		{"finished", facts(rules.State{Finished: true, Hold: &rules.PainHold{}}), []Group{Ended}},
		{"discharged, then a danger word", facts(rules.State{Discharged: true}, alertOn(rules.NoticeRedFlag, today)), []Group{Danger}},
		{"two things", facts(rules.State{Hold: &rules.PainHold{}}, alertOn(rules.NoticeCall, today)), []Group{Call, Held}},
		{"an alert beside something graver", facts(rules.State{Hold: &rules.PainHold{}}, alertOn(rules.NoticeUnread, today)), []Group{Held}},
		{"a silence that is over", facts(rules.State{}, alertOn(rules.NoticeSilent, today-5)), []Group{OnCourse}},
		{"a hold that is over", facts(rules.State{}, alertOn(rules.NoticeHeldLong, today-5)), []Group{OnCourse}},
	} {
		if got := c.f.Groups(); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	f := facts(rules.State{})
	if f.Person.State.Decided = 0; f.Groups()[0] != NotBegun {
		t.Errorf("before the first date: %q", f.Groups())
	}
	f = facts(rules.State{})
	if f.OptedOut = true; f.Groups()[0] != OptedOut {
		t.Errorf("opted out: %q", f.Groups())
	}
}

// TestVisits: a visit is on the board for the week before it, and on its day.
func TestVisits(t *testing.T) {
	for ahead, want := range map[int]Group{-1: OnCourse, 0: Review, 6: Review, 7: OnCourse} {
		f := facts(rules.State{})
		f.Enrollment.Visits = []rules.Date{today + rules.Date(ahead)}
		if got := f.Groups(); got[0] != want {
			t.Errorf("a visit in %d days: %q, want %s", ahead, got, want)
		}
	}
}

// TestEntryAnswersAlerts: what a clinician wrote on a later date answers for an
// alert; on the same date it may have come first, so the alert stays.
func TestEntryAnswersAlerts(t *testing.T) {
	for on, want := range map[rules.Date]Group{today - 3: Call, today - 2: Call, today - 1: OnCourse, today + 1: Call} {
		f := facts(rules.State{}, alertOn(rules.NoticeCall, today-2))
		f.Enrollment.Entries = []rules.Entry{{Kind: rules.EntryRelease, On: on}}
		if got := f.Groups(); got[0] != want {
			t.Errorf("an entry %d days after the alert: %q, want %s", on-(today-2), got, want)
		}
	}
}

// TestEntryThatAnswersNothing: a release written ahead of a hold, and a report
// taken by phone, leave an alert open.
func TestEntryThatAnswersNothing(t *testing.T) {
	for _, n := range []rules.Entry{{Kind: rules.EntryRelease, OfHold: today - 5}, {Kind: rules.EntryReport, Said: "P2"}} {
		f := facts(rules.State{}, alertOn(rules.NoticeCall, today-2))
		n.On = today
		f.Enrollment.Entries = []rules.Entry{n}
		if got := f.Groups(); got[0] != Call {
			t.Errorf("%+v: %q, want %s", n, got, Call)
		}
	}
}

// TestTitles: every group has a heading, and every name is typed as it is kept.
func TestTitles(t *testing.T) {
	for _, g := range Groups {
		if g.Title() == "" {
			t.Errorf("%s has no title", g)
		}
	}
	if !Review.NeedsLook() || OnCourse.NeedsLook() {
		t.Error("the groups that need a look end with review")
	}
	if name, ok := ParseGroup(" Opted  out"); !ok || name != string(OptedOut) {
		t.Errorf("read as %q, %v", name, ok)
	}
	if _, ok := ParseGroup("hold"); ok {
		t.Error("hold is read as a group")
	}
}
