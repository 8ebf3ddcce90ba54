package caseload

import (
	"fmt"
	"strings"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// since is when what a group says began; 0: it is not written down.
func (f Facts) since(g Group, lastReport rules.Date) rules.Date {
	st := &f.Person.State
	switch {
	case (g == Danger || g == Paused) && st.Pause != nil:
		return st.Pause.Since
	case g == Held && st.Hold != nil:
		return st.Hold.Since
	case g == Held && st.Held != nil:
		return st.Held.Since
	case g == Held && f.willHold():
		return st.Decided
	case g == Silent && lastReport != 0:
		return lastReport + 1
	case g == Silent:
		return f.Enrollment.First()
	case g == Away && st.Away != nil:
		return st.Away.From
	case g == Review && st.Last != rules.Review:
		return f.visit(visitSoon)
	}
	// Else the alert tells, of its group; a skin complaint has its own kind.
	for _, a := range f.Alerts {
		if alertGroup(a.Notice) == g || g == Skin && rules.NoticeKind(a.Notice) == rules.NoticeSkin || g == OptedOut && rules.NoticeKind(a.Notice) == rules.NoticeOptOut {
			return rules.DateOf(a.At.In(f.Enrollment.Zone))
		}
	}
	return 0
}

// cause says in words why a patient is in a group: what happened, and since
// when. Which rule it was, and where it stands, is for explain to tell.
func (v View) cause(f Facts, row *Row, was past) string {
	parts := []string{v.first(f, row, was)}
	for _, g := range row.Needs {
		if g != row.Group {
			parts = append(parts, also[g])
		}
	}
	switch st := &f.Person.State; {
	case st.NotSent:
		parts = append(parts, "the last message did not go out")
	case st.Heard.Score != nil && *st.Heard.Score > f.Lines.Steady && row.Group != Danger && row.Group != Paused && !f.willHold():
		parts = append(parts, fmt.Sprintf("pain %d reported since", *st.Heard.Score))
	}
	var said []string
	for _, p := range parts {
		if p != "" {
			said = append(said, p)
		}
	}
	return strings.Join(said, "; ")
}

// also is how a reason is told after a more urgent one.
var also = map[Group]string{
	Paused: "paused after pain", Skin: "wear stopped by a skin complaint", Call: "asked for a call", Unreached: "messages may not arrive",
	OptedOut: "stopped the texts", Held: "held", Silent: "no answers", Alerted: "an alert is not acknowledged", Review: "review due",
}

// first is the cause of the group itself.
func (v View) first(f Facts, row *Row, was past) string {
	st, on := &f.Person.State, when(row.StateSince)
	switch row.Group {
	case Danger, Paused:
		return f.pause(row, was.score)
	case Skin:
		if st.Skin.Stop {
			return "a skin complaint" + on + ", sensation reduced: devices out until you release wear"
		}
		return "a skin complaint" + on + ": devices out until a report without one"
	case Call:
		return "asked for a call" + on
	case Unreached:
		return f.unreached(row, on)
	case OptedOut:
		return "sent a stop word" + on + "; only START from the phone ends it"
	case Held:
		return f.held(row, was)
	case Silent:
		return f.silence(row)
	case Alerted:
		return newest(row.Alerts) + on + "; not acknowledged"
	case Review:
		if st.Last == rules.Review && f.Person.Told != nil {
			return v.plain(f.Person.Told.Why)
		}
		return "comes for review" + on
	case Away:
		return "away through " + short(st.Away.To)
	case NotBegun:
		if first := f.Enrollment.First(); first > f.Today {
			return "begins " + short(first)
		}
		return "begins with the next message"
	case OnCourse:
		return v.onCourse(f)
	}
	return ""
}

// pause is a pause in words, or the alert of a danger word without one.
func (f Facts) pause(row *Row, score int) string {
	st, on := &f.Person.State, when(row.StateSince)
	switch {
	case st.Pause == nil:
		return newest(row.Alerts) + on + "; the alert is not acknowledged"
	case row.Group == Danger:
		return fmt.Sprintf("danger word %q", st.Pause.Cause) + on + "; waits for your release"
	}
	return pain(score) + on + "; waits for your release"
}

// pain names a score that is known.
func pain(score int) string {
	if score == noScore {
		return "pain"
	}
	return fmt.Sprintf("pain %d", score)
}

func (f Facts) unreached(row *Row, on string) string {
	for _, a := range row.Alerts {
		if alertGroup(string(a.Kind)) == Unreached {
			return a.Text + ", " + short(rules.DateOf(a.At))
		}
	}
	return "the contact is in doubt" + on + "; nothing goes out until you confirm it"
}

// held is a hold in words.
func (f Facts) held(row *Row, was past) string {
	st, on := &f.Person.State, when(row.StateSince)
	switch {
	case f.willHold():
		return pain(*st.Heard.Score) + on + "; the plan waits from the next message on"
	case st.Hold == nil && st.Held != nil:
		by := "the clinician"
		if st.Held.By != "" {
			by = st.Held.By
		}
		return "held by " + by + on + "; waits for a release"
	case st.Hold == nil:
		return "an eased dose" + on
	}
	what := pain(was.score) + on
	switch released := f.released(st.Hold.Since); {
	case st.Hold.Rise:
		what = "first-step pain rose twice running" + on
	case was.danger && released != 0:
		what = "danger word" + on + ", released" + when(released)[1:]
	case was.danger:
		what = "danger word" + on
	case st.Back > st.Hold.Since:
		what += ", a step back"
	}
	return what + fmt.Sprintf("; %d of %d clear dates so far", st.Hold.Clear, f.Lines.ClearDays)
}

// released is the date of the last release since a date, or 0.
func (f Facts) released(since rules.Date) (last rules.Date) {
	for _, n := range f.Enrollment.Entries {
		if n.Kind == rules.EntryRelease && n.OfHold == 0 && n.On >= since && n.On <= f.Today {
			last = max(last, n.On)
		}
	}
	return last
}

// silence is a silence in words.
func (f Facts) silence(row *Row) string {
	text := "no answer yet"
	if row.LastReport != 0 {
		text = fmt.Sprintf("last answer %s, %d days ago", short(row.LastReport), f.Today-row.LastReport)
	}
	if f.Person.State.Lost {
		text += "; texts stopped until you confirm the contact"
	}
	return text
}

// onCourse says what is out of the ordinary with a patient who needs no look.
func (v View) onCourse(f Facts) string {
	told := f.Person.Told
	if told == nil {
		return ""
	}
	switch told.Why.Code {
	case rules.Tick, rules.FirstDay, rules.TableEnd:
		return ""
	}
	return v.plain(told.Why)
}

// plain is a reason without its place in the files.
func (v View) plain(r rules.Reason) string {
	r.At = rules.Pos{}
	return v.Words.Why("en", r)
}

func newest(alerts []Alert) string {
	if len(alerts) == 0 {
		return "an alert"
	}
	return alerts[0].Text
}

// when is a date at the end of what happened.
func when(d rules.Date) string {
	if d == 0 {
		return ""
	}
	return ", " + short(d)
}

func short(d rules.Date) string { return d.Time().Format("Jan 2") }

// factsOf gathers what is known of a patient.
func (v View) factsOf(tx *journal.Tx, f Facts) Facts {
	e := f.Enrollment
	f.Today = rules.DateOf(v.Now.In(e.Zone))
	f.OptedOut = tx.AnyOptedOut(e.Contacts())
	if prog := v.Clinic.Programs[e.Program]; prog != nil {
		f.Lines = e.Pain(prog)
	}
	return f
}
