package config

import (
	"slices"
	"strings"

	"stepgate/rules"
)

// entries reads what the clinician wrote into the enrollment.
func (r *reading) entries(p *patient, s *enrollmentShape) {
	seen := map[string]rules.Pos{}
	var over rules.Pos // of a discharge
	for _, x := range s.Entries {
		if x.At.Bad {
			continue
		}
		entry, ok := r.entry(x)
		if entry.Kind == rules.EntryDischarge {
			if over.Line > 0 {
				r.wrong(x.At.Pos, "the patient is discharged a second time, first at "+over.String(), "keep one of them")
			}
			over = x.At.Pos
		}
		if !ok {
			continue
		}
		if entry.Kind == rules.EntryDischarge && p.Dispensed != 0 && entry.On < p.First() {
			r.wrong(x.Discharge.At, "the discharge is dated before the enrollment begins", "look whether both dates are right")
		}
		if entry.Kind != rules.EntryDischarge && p.Dispensed != 0 && entry.On < p.First() {
			r.warn(x.At.Pos, "the entry is dated before the enrollment begins", "look whether its date is right; it counts when it is read")
		}
		if entry.Report != 0 && p.Dispensed != 0 && entry.Report < p.First() {
			r.wrong(x.At.Pos, "the report is dated before the enrollment begins", "write the day the patient was asked about")
		}
		if first, twice := seen[entry.ID()]; twice {
			r.warn(x.At.Pos, "this entry is word for word the one at "+first.String()+" and counts only once", apartFrom(entry.Kind))
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
func (r *reading) entry(s entryShape) (rules.Entry, bool) {
	out := rules.Entry{At: s.At.Pos}
	value, ok := r.entryKind(&out, s)
	if !ok {
		return out, false
	}
	kind := string(out.Kind)
	switch out.Kind {
	case rules.EntryCap:
		ok = r.cap(&out, value)
	case rules.EntryStrike, rules.EntryReplace:
		out.Report, ok = r.date(value)
	}
	date := value
	if slices.Contains(datedByOn, out.Kind) {
		date = s.On
		ok = r.need(s.At, "on", "write the date of the "+kind+", like 2026-10-20") && ok
	} else if s.At.has("on") {
		r.wrong(s.On.At, "a "+kind+" has its date after "+quoted(kind+":")+", and no on", "write the date there")
		ok = false
	}
	var okDate bool
	out.On, okDate = r.date(date)
	if r.need(s.At, "by", "write the clinician's name") {
		out.By, _ = r.line(s.By, 80)
	}
	out.Why, _ = r.line(s.Why, 500)
	good := r.entryParts(&out, s)
	return out, ok && okDate && good && out.By != ""
}

// entryKind reads what the entry does, and gives the value written there.
func (r *reading) entryKind(e *rules.Entry, s entryShape) (Value, bool) {
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
		r.wrong(e.At, "the entry doesn't say what it does", "write one of "+oneOf(names)+", with its date")
		return value, false
	case len(found) > 1:
		r.wrong(e.At, "the entry does several things: "+strings.Join(found, ", "), "write an entry for each")
		e.Kind = ""
		return value, false
	}
	return value, true
}

// entryParts reads what only some kinds of entry have.
func (r *reading) entryParts(e *rules.Entry, s entryShape) bool {
	ok := r.releaseParts(e, s)
	switch {
	case e.Kind == rules.EntryReport:
		if r.need(s.At, "said", "write what the patient said, as a text would have it, like said: D P2") {
			e.Said, _ = r.line(s.Said, maxSaid)
		}
		if e.Said != "" && strings.Trim(e.Said, "0123456789 ") == "" {
			r.wrong(s.Said.At, "said is a bare number, which answers no question here", "write it with its letter, as a text would have it: for pain that is a P in English, like P8")
			ok = false
		}
		ok = e.Said != "" && ok
	case s.At.has("said"):
		r.wrong(s.Said.At, "only a report has said", "write report: with the date, or take said away")
		ok = false
	}
	switch {
	case e.Kind == rules.EntryReplace:
		if ok = r.need(s.At, "score", "write the score that counts instead, from 0 to 10") && ok; ok {
			var score int
			score, ok = r.whole(s.Score, 0, 10)
			e.Score = &score
		}
	case s.At.has("score"):
		r.wrong(s.Score.At, "only a replace has a score", "write replace: with the day of the report, or take the score away")
		ok = false
	}
	if e.Kind != rules.EntryStrike && e.Kind != rules.EntryReplace {
		return ok
	}
	ok = r.need(s.At, "why", "write why the patient's report was wrong; it is kept with the record") && e.Why != "" && ok
	if e.Report != 0 && e.On != 0 && e.Report > e.On {
		r.wrong(e.At, "the entry is dated before the report it changes", "look whether both dates are right")
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
func (r *reading) cap(e *rules.Entry, v Value) bool {
	if v.Text == "none" {
		return true
	}
	var ok bool
	if e.Step, ok = digits(v.Text); v.given() && (!ok || e.Step < 1 || e.Step > maxWeeks) {
		r.unreadable(v, "the number of the highest step, from 1, or none to lift the cap")
		return false
	}
	return ok
}

// releaseParts reads what only a release can have.
func (r *reading) releaseParts(e *rules.Entry, s entryShape) bool {
	before, of := s.At.has("as before"), s.At.has("of hold")
	ok := true
	if before {
		e.AsBefore, ok = r.yes(s.AsBefore)
	}
	if of {
		var read bool
		e.OfHold, read = r.date(s.OfHold)
		ok = ok && read
	}
	switch {
	case before && e.Kind != rules.EntryRelease:
		r.wrong(s.AsBefore.At, "only a release can be as before", "take it away")
	case of && e.Kind != rules.EntryRelease:
		r.wrong(s.OfHold.At, "only a release can be of a hold", "take it away")
	case before && of:
		r.wrong(s.OfHold.At, "as before is about a pause, which a release of a hold leaves", "take one of them away")
	case e.OfHold > e.On:
		r.wrong(s.OfHold.At, "the hold would begin after its release", "write the date of the hold")
	default:
		return ok
	}
	return false
}
