package rules

import (
	"encoding/json"
	"fmt"
	"time"
)

// Date is a calendar date with no time and no zone: the number of days since
// 1970-01-01. The zero value means "no date".
type Date int32

// NewDate returns the date of a year, month and day of the month. Days past
// the end of a month run on into the next one, as in [time.Date].
func NewDate(year int, month time.Month, day int) Date {
	return Date(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// DateOf returns the calendar date that t shows in its own location.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return NewDate(y, m, d)
}

// ParseDate reads a date written 2026-10-05. A date that does not exist, such
// as 2026-02-30, is an error.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("parse date %q: want an existing date written like 2026-10-05", s)
	}
	return DateOf(t), nil
}

// Time returns midnight UTC of the date; for its calendar fields only.
func (d Date) Time() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// Civil returns the year, month and day of the month.
func (d Date) Civil() (int, time.Month, int) { return d.Time().Date() }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.Time().Weekday() }

// String writes the date like 2026-10-05, and no date as "-".
func (d Date) String() string {
	if d == 0 {
		return "-"
	}
	return d.Time().Format(time.DateOnly)
}

// MarshalJSON writes the date as a string, and no date as "".
func (d Date) MarshalJSON() ([]byte, error) {
	if d == 0 {
		return []byte(`""`), nil
	}
	return json.Marshal(d.String())
}

// UnmarshalJSON reads what MarshalJSON writes.
func (d *Date) UnmarshalJSON(b []byte) error {
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return err
	}
	if s == "" {
		*d = 0
		return nil
	}
	v, err := ParseDate(s)
	*d = v
	return err
}
