package config

import (
	"fmt"
	"math/bits"
	"strings"
	"time"
)

// usualDigest is when the digest goes out: Monday at 07:00, before the week's
// first patients.
const usualDigest = "0 7 * * mon"

// mostDigests is how often a day one may go out before check warns; ours.
const mostDigests = 2

// cronField is one of the five fields of a cron line, as in POSIX crontab(1),
// with steps and with names for months and days.
type cronField struct {
	name      string
	low, high int
	names     []string // of the values from low on
}

var cronFields = [5]cronField{
	{name: "minute", high: 59},
	{name: "hour", high: 23},
	{name: "day of the month", low: 1, high: 31},
	{name: "month", low: 1, high: 12, names: []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}},
	{name: "day of the week", high: 6, names: []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}},
}

// digest reads when the digest goes out.
func (l *loader) digest(v Value) {
	l.clinic.Digest = usualDigest
	if !v.given() {
		return
	}
	if v.Text == "off" || v.Text == "false" { // as an editor may read it
		l.clinic.Digest = ""
		return
	}
	if spec, times := l.cron(v, quoted(usualDigest)+", or off"); spec != "" {
		if times > mostDigests {
			l.warn(v.At, fmt.Sprintf("%s goes out %d times on its days", v.Key, times), "look whether the minute and the hour are right, like "+quoted(usualDigest))
		}
		l.clinic.Digest = spec
	}
}

// cron reads a cron line and how many times a day it fires on its days. like
// is an example of one.
func (l *loader) cron(v Value, like string) (spec string, times int) {
	times, what, do := readCron(v.Text, like)
	if what != "" {
		l.wrong(v.At, v.Key+" can't be read: "+what, do)
		return "", 0
	}
	return strings.Join(strings.Fields(v.Text), " "), times
}

// readCron tells how many times a day a cron line fires on its days, or what is
// wrong with it and what to do. One that never fires is wrong.
func readCron(spec, like string) (times int, what, do string) {
	fields := strings.Fields(spec)
	if len(fields) != len(cronFields) {
		return 0, "it has " + plural(len(fields), "field") + ", and a cron line has 5", "write minute, hour, day of the month, month and day of the week, like " + like
	}
	var sets [5]uint64
	for i, f := range cronFields {
		set, what, do := f.read(fields[i])
		if what != "" {
			return 0, what, do
		}
		sets[i] = set
	}
	times = bits.OnesCount64(sets[0]&^anyValue) * bits.OnesCount64(sets[1]&^anyValue)
	// Where both kinds of day are named, either is enough, and every month has
	// each day of the week.
	if sets[4]&anyValue == 0 {
		return times, "", ""
	}
	for month := 1; month <= 12; month++ {
		longest := time.Date(2024, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day() // of a leap year
		if sets[3]&(1<<month) != 0 && sets[2]&(1<<(longest+1)-1) != 0 {
			return times, "", ""
		}
	}
	return 0, "its day is in none of its months, so its time never comes", "write a day that the month has"
}

// anyValue is the bit of a field that a star leaves open.
const anyValue = 1 << 63

// read gives the values a field stands for, as bits.
func (f cronField) read(text string) (set uint64, what, do string) {
	for part := range strings.SplitSeq(text, ",") {
		low, high, step, what, do := f.part(part)
		if what != "" {
			return 0, what, do
		}
		for n := low; n <= high; n += step {
			set |= 1 << n
		}
		if step == 1 && strings.HasPrefix(part, "*") {
			set |= anyValue
		}
	}
	return set, "", ""
}

// part reads one part of a field's list: *, a value or a range, maybe with a
// step behind it.
func (f cronField) part(text string) (low, high, step int, what, do string) {
	in := "the " + f.name + " " + quoted(text)
	span, every, stepped := strings.Cut(text, "/")
	first, last, ranged := strings.Cut(span, "-")
	ok := true
	switch {
	case span == "*":
		low, high = f.low, f.high
	case ranged:
		var okLast bool
		low, ok = f.value(first)
		high, okLast = f.value(last)
		ok = ok && okLast
	default:
		low, ok = f.value(first)
		high = low
		if stepped {
			high = f.high // from there on
		}
	}
	if step = 1; stepped && ok {
		if step, ok = digits(every); ok && step == 0 {
			return 0, 0, 0, in + " has a step of nought", "write a step of 1 or more"
		}
	}
	switch {
	case !ok:
		return 0, 0, 0, in + " is not understood", "write " + f.values() + ", *, a range like " + f.example() + ", or a list of them with commas"
	case min(low, high) < f.low || max(low, high) > f.high:
		return 0, 0, 0, in + " is out of range", "write " + f.values()
	case low > high:
		return 0, 0, 0, in + " goes backwards", "write the smaller one first, or a list with commas"
	}
	return low, high, step, "", ""
}

// value reads a number, or a name in any capitals.
func (f cronField) value(text string) (int, bool) {
	for i, name := range f.names {
		if strings.EqualFold(text, name) {
			return f.low + i, true
		}
	}
	if text == "" {
		return 0, false
	}
	return digits(text)
}

// values says what values a field has.
func (f cronField) values() string {
	s := fmt.Sprintf("%d to %d", f.low, f.high)
	if n := len(f.names); n > 0 {
		s += " or " + f.names[0] + " to " + f.names[n-1]
	}
	return s
}

// example is a range of a field.
func (f cronField) example() string {
	if len(f.names) > 4 {
		return f.names[1] + "-" + f.names[4]
	}
	return fmt.Sprintf("%d-%d", f.low+1, f.low+5)
}
