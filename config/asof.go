package config

import (
	"fmt"

	"stepgate/rules"
)

// daysAhead is how far ahead an entry may be dated before check warns; ours. A
// release of a hold is written ahead as a rule.
const daysAhead = 3

// asOf checks what depends on the date of today. It stands apart from the reading
// of a file, which does not, so that what was read once may be used on a later
// date.
func (l *loader) asOf(p *patient) {
	for _, n := range p.Entries {
		if n.Kind == rules.EntryDischarge {
			// One dated ahead changes nothing yet: until then every check holds.
			p.open = n.On > l.today
		}
	}
	if p.at.dispensed != (spot{}) {
		l.farOff(p)
	}
	for _, n := range p.Entries {
		if n.OfHold != 0 {
			continue
		}
		if today := rules.DateOf(l.now.In(p.Zone)); n.On > today+daysAhead {
			l.warn(n.At, fmt.Sprintf("the entry is dated %s ahead", plural(int(n.On-today), "day")),
				"look whether its date is right; one made in quick time has its made-up date, and is to be taken out before you serve for real")
		}
	}
	hours := l.clinic.Texting
	if t := p.Time; p.open && l.textingKnown && p.at.time != (spot{}) && (t < hours.From || t >= hours.To) {
		l.wrong(p.place(p.at.time), "the message time "+t.String()+" is outside the texting hours",
			"choose a time from "+hours.From.String()+" on and before "+hours.To.String())
	}
}

// farOff warns of a dispense date so far from today that a digit may be wrong:
// the patient would hear nothing for months, or be over with the program. The
// spans are ours.
func (l *loader) farOff(p *patient) {
	switch at := p.at.dispensed; {
	case p.Dispensed > l.today+60:
		l.warn(p.place(at), "dispensed is more than 60 days ahead, so nothing goes out until then", "look whether the date is right")
	case p.Dispensed < l.today-3*365:
		l.warn(p.place(at), "dispensed is more than three years ago", "look whether the date is right")
	}
}
