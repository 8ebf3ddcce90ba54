package config

import (
	"strings"

	"stepgate/rules"
)

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
			if p.open = false; over.Line > 0 {
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
		if first, twice := seen[entry.ID()]; twice {
			l.warn(x.At.Pos, "this entry is word for word the one at "+first.String()+" and counts only once", "take one of them away, or change its date")
		}
		seen[entry.ID()] = x.At.Pos
		p.Entries = append(p.Entries, entry)
	}
}

// entry reads one entry: a kind with its date, and the clinician's name.
func (l *loader) entry(s entryShape) (rules.Entry, bool) {
	out := rules.Entry{At: s.At.Pos}
	kinds := []struct {
		kind rules.EntryKind
		v    Value
	}{
		{rules.EntryHold, s.Hold}, {rules.EntryRelease, s.Release}, {rules.EntryCap, s.Cap},
		{rules.EntryDischarge, s.Discharge}, {rules.EntryConfirm, s.Confirm},
	}
	var found []string
	var value Value
	for _, k := range kinds {
		if s.At.has(string(k.kind)) {
			found = append(found, string(k.kind))
			out.Kind, value = k.kind, k.v
		}
	}
	switch {
	case len(found) == 0:
		l.wrong(out.At, "the entry doesn't say what it does", "write one of hold, release, cap, discharge or confirm contact, with its date")
		return out, false
	case len(found) > 1:
		l.wrong(out.At, "the entry does several things: "+strings.Join(found, ", "), "write an entry for each")
		out.Kind = ""
		return out, false
	}
	ok := true
	if out.Kind == rules.EntryCap {
		ok = l.cap(&out, value)
		value = s.On
		ok = l.need(s.At, "on", "write the date of the cap, like 2026-10-20") && ok
	} else if s.At.has("on") {
		l.wrong(s.On.At, "only a cap has on; a "+found[0]+" has its date after "+quoted(found[0]+":"), "write the date there")
		ok = false
	}
	var okDate bool
	out.On, okDate = l.date(value)
	if l.need(s.At, "by", "write the clinician's name") {
		out.By, _ = l.line(s.By, 80)
	}
	out.Why, _ = l.line(s.Why, 500)
	return out, ok && okDate && out.By != ""
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
