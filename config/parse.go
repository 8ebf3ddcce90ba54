package config

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"stepgate/rules"
)

// unreadable notes a value that is not what its key asks for.
func (n *notes) unreadable(v Value, want string) {
	n.wrong(v.At, v.Key+" can't be read: "+v.shown(), "write "+want)
}

// outside notes a value that is too small or too large.
func (n *notes) outside(v Value, want string) {
	n.wrong(v.At, v.Key+" is out of range: "+v.shown(), "write "+want)
}

// date reads a date such as 2026-10-05. Like its siblings below it returns
// false for a value that is missing or has been complained about.
func (n *notes) date(v Value) (rules.Date, bool) {
	if !v.given() {
		return 0, false
	}
	d, err := rules.ParseDate(v.Text)
	if err != nil || d < rules.NewDate(2000, 1, 1) || d > rules.NewDate(2199, 12, 31) {
		n.wrong(v.At, v.Key+" is no date: "+v.shown(), "write a date that exists, like 2026-10-05")
		return 0, false
	}
	return d, true
}

// whole reads a whole number from low to high.
func (n *notes) whole(v Value, low, high int) (int, bool) {
	if !v.given() {
		return 0, false
	}
	want := "a whole number from " + strconv.Itoa(low) + " to " + strconv.Itoa(high)
	i, ok := digits(v.Text)
	switch {
	case !ok:
		n.unreadable(v, want)
	case i < low || i > high:
		n.outside(v, want)
		ok = false
	}
	return i, ok
}

// digits reads a whole number of at most six plain digits.
func digits(s string) (int, bool) {
	if len(s) > 6 || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	i, err := strconv.Atoi(s)
	return i, err == nil
}

var decimalForm = regexp.MustCompile(`^\d{1,6}(\.\d{1,6})?$`)

// decimal reads a plain number such as 1 or 0.5, from low to high.
func (n *notes) decimal(v Value, low, high float64) (float64, bool) {
	if !v.given() {
		return 0, false
	}
	want := fmt.Sprintf("a plain number from %g to %g", low, high)
	if !decimalForm.MatchString(v.Text) {
		n.unreadable(v, want)
		return 0, false
	}
	f, err := strconv.ParseFloat(v.Text, 64)
	if err != nil || f < low || f > high {
		n.outside(v, want)
		return 0, false
	}
	return f, true
}

// percent reads a share such as 70%.
func (n *notes) percent(v Value) (int, bool) {
	if !v.given() {
		return 0, false
	}
	number, found := strings.CutSuffix(v.Text, "%")
	i, ok := digits(strings.TrimSpace(number))
	if !found || !ok || i > 100 {
		n.unreadable(v, "a share from 0% to 100%, like 70%")
		return 0, false
	}
	return i, true
}

var (
	spanPart = regexp.MustCompile(`^(\d{1,6}) ?([a-z]+) ?`)
	dayWords = regexp.MustCompile(`^(\d{1,4}) ?(days?|weeks?)$`)
	clockHM  = regexp.MustCompile(`^(\d{1,2}):(\d\d)$`)
)

var spanUnits = map[string]time.Duration{
	"s": time.Second, "sec": time.Second, "secs": time.Second, "second": time.Second, "seconds": time.Second,
	"m": time.Minute, "min": time.Minute, "mins": time.Minute, "minute": time.Minute, "minutes": time.Minute,
	"h": time.Hour, "hr": time.Hour, "hrs": time.Hour, "hour": time.Hour, "hours": time.Hour,
}

// span reads a length of time such as 10s, 20 s, 30 min or 1h 30m.
func (n *notes) span(v Value, low, high time.Duration, like string) (time.Duration, bool) {
	if !v.given() {
		return 0, false
	}
	d, ok := parseSpan(v.Text)
	if !ok {
		n.unreadable(v, "a number with its unit, like "+like)
		return 0, false
	}
	if d < low || d > high {
		n.outside(v, "from "+spoken(low)+" to "+spoken(high))
		return 0, false
	}
	return d, true
}

func parseSpan(s string) (time.Duration, bool) {
	var d time.Duration
	for s != "" {
		m := spanPart.FindStringSubmatch(s)
		if m == nil {
			return 0, false
		}
		unit, ok := spanUnits[m[2]]
		if !ok {
			return 0, false
		}
		count, _ := strconv.Atoi(m[1])
		d += time.Duration(count) * unit // 999,999 hours is far from overflowing
		if d > 1e6*time.Hour {
			return 0, false
		}
		s = s[len(m[0]):]
	}
	return d, true
}

// spoken writes a length of time like 90 seconds, 10 minutes or 8 hours.
func spoken(d time.Duration) string {
	switch {
	case d >= time.Hour && d%time.Hour == 0:
		return plural(int(d/time.Hour), "hour")
	case d >= time.Minute && d%time.Minute == 0:
		return plural(int(d/time.Minute), "minute")
	}
	return plural(int(d/time.Second), "second")
}

// weeks reads a number of whole weeks, such as 12 weeks.
func (n *notes) weeks(v Value, low, high int) (int, bool) {
	if !v.given() {
		return 0, false
	}
	m := dayWords.FindStringSubmatch(v.Text)
	if m == nil || !strings.HasPrefix(m[2], "week") {
		n.unreadable(v, "a number of weeks, like 12 weeks")
		return 0, false
	}
	w, _ := strconv.Atoi(m[1])
	if w < low || w > high {
		n.outside(v, "from "+plural(low, "week")+" to "+plural(high, "week"))
		return 0, false
	}
	return w, true
}

// days reads a number of days or weeks, such as 7 days or 2 weeks.
func (n *notes) days(v Value, low, high int) (int, bool) {
	if !v.given() {
		return 0, false
	}
	m := dayWords.FindStringSubmatch(v.Text)
	if m == nil {
		n.unreadable(v, "a number of days or weeks, like 7 days")
		return 0, false
	}
	d, _ := strconv.Atoi(m[1])
	if strings.HasPrefix(m[2], "week") {
		d *= 7
	}
	if d < low || d > high {
		n.outside(v, "from "+plural(low, "day")+" to "+plural(high, "day"))
		return 0, false
	}
	return d, true
}

// clock reads a time of day such as 08:30.
func (n *notes) clock(v Value) (Clock, bool) {
	if !v.given() {
		return 0, false
	}
	m := clockHM.FindStringSubmatch(v.Text)
	if m != nil {
		h, _ := strconv.Atoi(m[1])
		min, _ := strconv.Atoi(m[2])
		if h < 24 && min < 60 {
			return Clock(h*60 + min), true
		}
	}
	n.unreadable(v, "a time of day on the 24-hour clock, like 08:30 or 17:00")
	return 0, false
}

// choice reads one of a few words.
func (n *notes) choice(v Value, words ...string) (string, bool) {
	if !v.given() {
		return "", false
	}
	for _, w := range words {
		if v.Text == w {
			return w, true
		}
	}
	n.wrong(v.At, v.Key+" can't be "+v.shown(), suggest(v.Text, words))
	return "", false
}

// line reads a text on one line of at most so many letters. It may be a name,
// so it is not repeated.
func (n *notes) line(v Value, most int) (string, bool) {
	if !v.given() {
		return "", false
	}
	if strings.Contains(v.Text, "\n") {
		n.wrong(v.At, v.Key+" runs over several lines", "write it on one line")
		return "", false
	}
	if len([]rune(v.Text)) > most {
		n.wrong(v.At, v.Key+" is too long for a text", "write at most "+strconv.Itoa(most)+" letters")
		return "", false
	}
	return v.Text, true
}

var idForm = regexp.MustCompile(`^[A-Za-z0-9_-]{1,40}$`)

// id reads a name that files and records go by. It is not repeated: a person's
// name may stand there by mistake.
func (n *notes) id(v Value) (string, bool) {
	if !v.given() {
		return "", false
	}
	if !idForm.MatchString(v.Text) {
		n.wrong(v.At, v.Key+" has letters in it that can't be used", "write letters, digits, - and _ only, at most 40 of them")
		return "", false
	}
	return v.Text, true
}
