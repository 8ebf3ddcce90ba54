package config

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"stepgate/rules"
)

// usualAlertHours are when alerts that can wait go out, if the clinic doesn't
// say: common practice for a clinic's working week.
func usualAlertHours() Week {
	w := Week{Hours: Hours{9 * 60, 17 * 60}}
	for d := time.Monday; d <= time.Friday; d++ {
		w.Days[d] = true
	}
	return w
}

// alerts reads where the clinician is told, and when.
func (l *loader) alerts(s *settingsShape) {
	l.clinic.AlertWeek = usualAlertHours()
	if s.Alerts == nil {
		if !s.At.has("alerts") {
			l.wrong(s.At.Pos, "alerts is missing", "write alerts: {email: ADDRESS} for the clinician who must hear of pain")
		}
		return
	}
	a := s.Alerts
	own := contactShape{At: a.At, Spool: a.Spool, SMS: a.SMS, Email: a.Email}
	l.clinic.Alerts = l.staff(own, "alerts", "alerts go by ")
	if a.Backup != nil {
		l.backup(*a.Backup)
	}
	if a.Hours != nil {
		l.alertHours(a.Hours)
	}
	l.covers(a.Cover)
}

// staff reads the contact of someone at the clinic.
func (l *loader) staff(s contactShape, of, what string) Address {
	a, v, ok := l.contact(s, of)
	if !ok {
		return Address{}
	}
	if l.ours(a) {
		l.wrong(v.At, "this is a number that the clinic's texts come from", "write the number of a person")
	}
	l.configured(a.Channel, v.At, what+a.Channel, useSpool)
	return a
}

// backup reads who is told besides, once nobody acknowledged an alert.
func (l *loader) backup(s contactShape) {
	l.clinic.Backup = l.staff(s, "backup", "the backup is told by ")
	if l.alertsGoTo(l.clinic.Backup) {
		l.wrong(s.At.Pos, "backup is the contact that alerts go to anyway", "write another contact, or take backup away")
	}
}

// alertsGoTo tells whether a contact is the one of the alerts.
func (l *loader) alertsGoTo(a Address) bool {
	own := l.clinic.Alerts
	return a.To != "" && a.Channel == own.Channel && strings.EqualFold(a.To, own.To)
}

// alertHours reads when alerts that can wait go out.
func (l *loader) alertHours(s *alertHoursShape) {
	w := &l.clinic.AlertWeek
	if days, ok := l.weekdays(s.Days); ok {
		w.Days = days
	}
	hours, good := w.Hours, true
	for _, x := range []struct {
		v    Value
		into *Clock
	}{{s.From, &hours.From}, {s.To, &hours.To}} {
		if c, ok := l.clock(x.v); ok {
			*x.into = c
		}
		good = good && !x.v.Bad
	}
	if good && hours.From >= hours.To {
		at := s.From.At
		if !s.From.written() {
			at = s.To.At
		}
		l.wrong(at, "the alert hours begin at "+hours.From.String()+" and end at "+hours.To.String(), "write a from that is earlier than the to")
		return
	}
	w.Hours = hours
}

// weekdays reads days of the week: mon-fri, or a list such as [mon, thu]. A
// range may go past the end of the week, like sat-mon.
func (n *notes) weekdays(o OneOrMore) (days [7]bool, ok bool) {
	for _, v := range o.Items {
		first, last, ranged := strings.Cut(strings.ToLower(v.Text), "-")
		from, known := weekdayWords[strings.TrimSpace(first)]
		to := from
		if ranged && known {
			to, known = weekdayWords[strings.TrimSpace(last)]
		}
		if !known {
			n.unreadable(v, "weekdays, like mon-fri, or a list like [mon, thu]")
			return days, false
		}
		for d := from; ; d = (d + 1) % 7 {
			if days[d] {
				n.wrong(v.At, v.Key+" names "+d.String()+" twice", "keep one of them")
				return days, false
			}
			days[d] = true
			if d == to {
				break
			}
		}
	}
	return days, len(o.Items) > 0
}

// covers reads on which dates someone else gets the alerts.
func (l *loader) covers(list []coverShape) {
	type placed struct {
		Cover
		at rules.Pos
	}
	var all []placed
	for _, s := range list {
		if c, ok := l.cover(s); ok {
			all = append(all, placed{c, s.At.Pos})
		}
	}
	slices.SortStableFunc(all, func(a, b placed) int { return cmp.Compare(a.From, b.From) })
	var longest placed // the one so far that reaches farthest
	for _, c := range all {
		if longest.To != 0 && c.From <= longest.To {
			// The later one in the file is the one complained about.
			one, other := longest.at, c.at
			if one.Line > other.Line || one.Line == other.Line && one.Column > other.Column {
				one, other = other, one
			}
			l.wrong(other, "the dates of this cover overlap with those at "+one.String(), "let one end before the other begins")
		}
		if c.To > longest.To {
			longest = c
		}
		l.clinic.Cover = append(l.clinic.Cover, c.Cover)
	}
}

// cover reads one of them.
func (l *loader) cover(s coverShape) (Cover, bool) {
	if s.At.Bad {
		return Cover{}, false
	}
	var c Cover
	var okFrom, okTo bool
	if l.need(s.At, "from", "write the first date, like 2026-12-24") {
		c.From, okFrom = l.date(s.From)
	}
	if l.need(s.At, "to", "write the last date, like 2027-01-02") {
		c.To, okTo = l.date(s.To)
	}
	c.Address = l.staff(contactShape{At: s.At, Spool: s.Spool, SMS: s.SMS, Email: s.Email}, "the cover", "the cover is told by ")
	if l.alertsGoTo(c.Address) {
		l.wrong(s.At.Pos, "the cover is the contact that alerts go to anyway", "write another contact, or take the cover away")
	}
	if !okFrom || !okTo {
		return c, false
	}
	if c.From > c.To {
		l.wrong(s.From.At, "the cover begins on "+c.From.String()+" and ends on "+c.To.String(), "write a from that is no later than the to")
		return c, false
	}
	return c, true
}
