package config

import (
	"regexp"
	"strconv"
	"strings"
	"time"

	"stepgate/rules"
)

var weekdayWords = map[string]time.Weekday{
	"sun": time.Sunday, "mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday,
	"thu": time.Thursday, "fri": time.Friday, "sat": time.Saturday,
	"sunday": time.Sunday, "monday": time.Monday, "tuesday": time.Tuesday, "wednesday": time.Wednesday,
	"thursday": time.Thursday, "friday": time.Friday, "saturday": time.Saturday,
}

var daysAWeek = regexp.MustCompile(`^([1-7]) days? a week$`)

// schedule reads the days a dose is due: every day, every other day, 3 days a
// week, or weekdays such as [mon, thu].
func (n *notes) schedule(o OneOrMore) (rules.Schedule, bool) {
	var s rules.Schedule
	if len(o.Items) == 0 {
		return s, false
	}
	if !o.List {
		text := o.Items[0].Text
		switch m := daysAWeek.FindStringSubmatch(text); {
		case text == "every day":
			return s, true
		case text == rules.EveryOtherDay:
			s.Kind = rules.EveryOtherDay
			return s, true
		case m != nil:
			s.Kind = rules.DaysAWeek
			s.PerWeek, _ = strconv.Atoi(m[1])
			return s, true
		}
	}
	s.Kind = rules.OnWeekdays
	seen := map[time.Weekday]bool{}
	for _, v := range o.Items {
		day, ok := weekdayWords[strings.ToLower(v.Text)]
		if !ok {
			n.unreadable(v, "every day, every other day, 3 days a week, or a list of weekdays like [mon, thu]")
			return rules.Schedule{}, false
		}
		if seen[day] {
			n.wrong(v.At, v.Key+" names "+v.shown()+" twice", "keep one of them")
			return rules.Schedule{}, false
		}
		seen[day] = true
		s.Weekdays = append(s.Weekdays, day)
	}
	return s, true
}
