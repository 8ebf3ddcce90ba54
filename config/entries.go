package config

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"stepgate/rules"
)

// daysAhead is how far ahead an entry may be dated before check warns; ours. A
// release of a hold is written ahead as a rule.
const daysAhead = 3

// entries reads what the clinician wrote into the enrollment.
func (l *loader) entries(p *patient, s *enrollmentShape) {
	seen := map[string]rules.Pos{}
	var over rules.Pos // of a discharge
	for _, x := range s.Entries {
		if x.At.Bad {
			continue
		}
		entry, ok := l.entry(x)
		if entry.Kind == rules.EntryDischarge {
			// One dated ahead changes nothing yet: until then every check holds.
			p.open = !ok || entry.On > rules.DateOf(time.Now())
			if over.Line > 0 {
				l.wrong(x.At.Pos, "the patient is discharged a second time, first at "+over.String(), "keep one of them")
			}
			over = x.At.Pos
		}
		if !ok {
			continue
		}
		if entry.Kind == rules.EntryDischarge && p.Dispensed != 0 && entry.On < p.First() {
			l.wrong(x.Discharge.At, "the discharge is dated before the enrollment begins", "look whether both dates are right")
		}
		if entry.Kind != rules.EntryDischarge && p.Dispensed != 0 && entry.On < p.First() {
			l.warn(x.At.Pos, "the entry is dated before the enrollment begins", "look whether its date is right; it counts when it is read")
		}
		if today := rules.DateOf(time.Now().In(p.Zone)); entry.On > today+daysAhead && entry.OfHold == 0 {
			l.warn(x.At.Pos, fmt.Sprintf("the entry is dated %s ahead", plural(int(entry.On-today), "day")),
				"look whether its date is right; one made in quick time has its made-up date, and is to be taken out before you serve for real")
		}
		if entry.Report != 0 && p.Dispensed != 0 && entry.Report < p.First() {
			l.wrong(x.At.Pos, "the report is dated before the enrollment begins", "write the day the patient was asked about")
		}
		if first, twice := seen[entry.ID()]; twice {
			l.warn(x.At.Pos, "this entry is word for word the one at "+first.String()+" and counts only once", apartFrom(entry.Kind))
		}
		seen[entry.ID()] = x.At.Pos
		p.Entries = append(p.Entries, entry)
	}
}

// apartFrom is what to do about an entry that stands there twice.
func apartFrom(kind rules.EntryKind) string {
	if kind == rules.EntryReport {
		return `take one of them away, or tell a second call apart with why, like why: "second call, 14:20"`
	}
	return "take one of them away, or change its date"
}

// datedByOn are the entries whose date stands under on, because their own
// value says something else.
var datedByOn = []rules.EntryKind{rules.EntryCap, rules.EntryStrike, rules.EntryReplace}

// entry reads one entry: a kind with its date, and the clinician's name.
func (l *loader) entry(s entryShape) (rules.Entry, bool) {
	out := rules.Entry{At: s.At.Pos}
	value, ok := l.entryKind(&out, s)
	if !ok {
		return out, false
	}
	kind := string(out.Kind)
	switch out.Kind {
	case rules.EntryCap:
		ok = l.cap(&out, value)
	case rules.EntryStrike, rules.EntryReplace:
		out.Report, ok = l.date(value)
	}
	date := value
	if slices.Contains(datedByOn, out.Kind) {
		date = s.On
		ok = l.need(s.At, "on", "write the date of the "+kind+", like 2026-10-20") && ok
	} else if s.At.has("on") {
		l.wrong(s.On.At, "a "+kind+" has its date after "+quoted(kind+":")+", and no on", "write the date there")
		ok = false
	}
	var okDate bool
	out.On, okDate = l.date(date)
	if l.need(s.At, "by", "write the clinician's name") {
		out.By, _ = l.line(s.By, 80)
	}
	out.Why, _ = l.line(s.Why, 500)
	good := l.entryParts(&out, s)
	return out, ok && okDate && good && out.By != ""
}

// entryKind reads what the entry does, and gives the value written there.
func (l *loader) entryKind(e *rules.Entry, s entryShape) (Value, bool) {
	all := []struct {
		kind rules.EntryKind
		v    Value
	}{
		{rules.EntryHold, s.Hold}, {rules.EntryRelease, s.Release}, {rules.EntryCap, s.Cap},
		{rules.EntryDischarge, s.Discharge}, {rules.EntryConfirm, s.Confirm}, {rules.EntryWear, s.ReleaseWear},
		{rules.EntryReview, s.ReviewDone}, {rules.EntryStrike, s.Strike}, {rules.EntryReplace, s.Replace},
		{rules.EntryReport, s.Report},
	}
	var found, names []string
	var value Value
	for _, k := range all {
		names = append(names, string(k.kind))
		if s.At.has(string(k.kind)) {
			found = append(found, string(k.kind))
			e.Kind, value = k.kind, k.v
		}
	}
	switch {
	case len(found) == 0:
		l.wrong(e.At, "the entry doesn't say what it does", "write one of "+oneOf(names)+", with its date")
		return value, false
	case len(found) > 1:
		l.wrong(e.At, "the entry does several things: "+strings.Join(found, ", "), "write an entry for each")
		e.Kind = ""
		return value, false
	}
	return value, true
}

// entryParts reads what only some kinds of entry have.
func (l *loader) entryParts(e *rules.Entry, s entryShape) bool {
	ok := l.releaseParts(e, s)
	switch {
	case e.Kind == rules.EntryReport:
		if l.need(s.At, "said", "write what the patient said, as a text would have it, like said: D P2") {
			e.Said, _ = l.line(s.Said, maxSaid)
		}
		if e.Said != "" && strings.Trim(e.Said, "0123456789 ") == "" {
			l.wrong(s.Said.At, "said is a bare number, which answers no question here", "write it with its letter, as a text would have it: for pain that is a P in English, like P8")
			ok = false
		}
		ok = e.Said != "" && ok
	case s.At.has("said"):
		l.wrong(s.Said.At, "only a report has said", "write report: with the date, or take said away")
		ok = false
	}
	switch {
	case e.Kind == rules.EntryReplace:
		if ok = l.need(s.At, "score", "write the score that counts instead, from 0 to 10") && ok; ok {
			var score int
			score, ok = l.whole(s.Score, 0, 10)
			e.Score = &score
		}
	case s.At.has("score"):
		l.wrong(s.Score.At, "only a replace has a score", "write replace: with the day of the report, or take the score away")
		ok = false
	}
	if e.Kind != rules.EntryStrike && e.Kind != rules.EntryReplace {
		return ok
	}
	ok = l.need(s.At, "why", "write why the patient's report was wrong; it is kept with the record") && e.Why != "" && ok
	if e.Report != 0 && e.On != 0 && e.Report > e.On {
		l.wrong(e.At, "the entry is dated before the report it changes", "look whether both dates are right")
		ok = false
	}
	return ok
}

// maxSaid is the longest report by phone, in letters: one long text.
const maxSaid = 300

// yes reads true or false.
func (n *notes) yes(v Value) (bool, bool) {
	word, ok := n.choice(v, "true", "false")
	return word == "true", ok
}

// cap reads the highest step a patient may reach, or none to lift the cap.
func (l *loader) cap(e *rules.Entry, v Value) bool {
	if v.Text == "none" {
		return true
	}
	var ok bool
	if e.Step, ok = digits(v.Text); v.given() && (!ok || e.Step < 1 || e.Step > maxWeeks) {
		l.unreadable(v, "the number of the highest step, from 1, or none to lift the cap")
		return false
	}
	return ok
}

// releaseParts reads what only a release can have.
func (l *loader) releaseParts(e *rules.Entry, s entryShape) bool {
	before, of := s.At.has("as before"), s.At.has("of hold")
	ok := true
	if before {
		e.AsBefore, ok = l.yes(s.AsBefore)
	}
	if of {
		var read bool
		e.OfHold, read = l.date(s.OfHold)
		ok = ok && read
	}
	switch {
	case before && e.Kind != rules.EntryRelease:
		l.wrong(s.AsBefore.At, "only a release can be as before", "take it away")
	case of && e.Kind != rules.EntryRelease:
		l.wrong(s.OfHold.At, "only a release can be of a hold", "take it away")
	case before && of:
		l.wrong(s.OfHold.At, "as before is about a pause, which a release of a hold leaves", "take one of them away")
	case e.OfHold > e.On:
		l.wrong(s.OfHold.At, "the hold would begin after its release", "write the date of the hold")
	default:
		return ok
	}
	return false
}
