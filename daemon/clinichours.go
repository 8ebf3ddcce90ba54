package daemon

import (
	"time"

	"stepgate/config"
	"stepgate/rules"
)

// nextClinicHour is when an alert that can wait goes out: the next full hour
// of the clinic's hours, their beginning included, after now.
func nextClinicHour(c *config.Clinic, now time.Time) time.Time {
	week := c.AlertWeek
	d := rules.DateOf(now.In(c.Zone))
	for n := range rules.Date(8) {
		if !week.Days[(d + n).Weekday()] {
			continue
		}
		for at := week.From; at < week.To; at = (at/60 + 1) * 60 {
			if t := localInstant(d+n, at, c.Zone); t.After(now) {
				return t
			}
		}
	}
	return now // no clinic day at all: nothing to wait for
}

// clinicDayOn is one clinic day after now: the same time of day on the next
// clinic day, where what comes outside clinic hours counts as come when they
// begin.
func clinicDayOn(c *config.Clinic, now time.Time) time.Time {
	week := c.AlertWeek
	d := rules.DateOf(now.In(c.Zone))
	local := now.In(c.Zone)
	at := config.Clock(local.Hour()*60 + local.Minute())
	switch {
	case !week.Days[d.Weekday()] || at >= week.To:
		d, at = nextClinicDay(week, d), week.From
	case at < week.From:
		at = week.From
	}
	return localInstant(nextClinicDay(week, d), at, c.Zone)
}

// nextClinicDay is the first clinic day after d; the day after d where there
// is none.
func nextClinicDay(week config.Week, d rules.Date) rules.Date {
	for n := rules.Date(1); n <= 7; n++ {
		if week.Days[(d + n).Weekday()] {
			return d + n
		}
	}
	return d + 1
}

// clinicDays counts the clinic days after from up to and including to.
func clinicDays(week config.Week, from, to rules.Date) (n int) {
	for d := from + 1; d <= to && n < 100; d++ {
		if week.Days[d.Weekday()] {
			n++
		}
	}
	return n
}
