package daemon

import (
	"time"

	"stepgate/config"
	"stepgate/rules"
)

// localInstant is the instant at which a clock in loc shows the time c on
// date d. Where the clocks were put back and the time comes twice, it is the
// first of the two. Where they were put forward and the time is missing, it
// is read with the offset before the change (RFC 5545, section 3.3.5), which
// lands after the gap; if that lands on another date, the last minute of d is
// taken instead.
//
// time.Date is not used for this: which of the two instants it gives is not
// specified, and in a gap it goes back in some zones. Nor are 24 hours ever
// added to get to the next day.
func localInstant(d rules.Date, c config.Clock, loc *time.Location) time.Time {
	y, mo, day := d.Civil()
	wall := time.Date(y, mo, day, int(c)/60, int(c)%60, 0, 0, time.UTC)
	_, before := wall.Add(-24 * time.Hour).In(loc).Zone()
	_, after := wall.Add(24 * time.Hour).In(loc).Zone()
	a := wall.Add(-time.Duration(before) * time.Second).In(loc)
	b := wall.Add(-time.Duration(after) * time.Second).In(loc)
	if b.Before(a) {
		a, b = b, a
	}
	shows := func(t time.Time) bool {
		return rules.DateOf(t) == d && t.Hour()*60+t.Minute() == int(c)
	}
	switch {
	case shows(a):
		return a
	case shows(b):
		return b
	}
	gap := wall.Add(-time.Duration(before) * time.Second).In(loc)
	if rules.DateOf(gap) == d {
		return gap
	}
	return clampToDate(gap, d)
}

// clampToDate brings an instant that a gap pushed over midnight back into d:
// the last whole minute that still shows d. A date the zone never had (a move
// across the date line) gives the instant itself, on the date after.
func clampToDate(t time.Time, d rules.Date) time.Time {
	for m := range 24 * 60 {
		u := t.Add(-time.Duration(m) * time.Minute)
		switch {
		case rules.DateOf(u) == d:
			return u
		case rules.DateOf(u) < d:
			return t
		}
	}
	return t
}
