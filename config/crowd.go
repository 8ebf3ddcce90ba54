package config

import (
	"fmt"
	"math"
)

// longestWait is how many minutes a text may come after its time before check
// warns; ours.
const longestWait = 120

// crowds are the open enrollments on one number by their message time. Zones
// are left out of it: this is an estimate.
type crowds struct {
	due [24 * 60]int
	all int
}

// crowded warns of numbers whose rate or daily cap is too small for their
// patients, at one segment a patient. Those who name no sender count for the
// first number.
func (l *loader) crowded() {
	if l.clinic.SMS == nil || len(l.clinic.SMS.Numbers) == 0 {
		return
	}
	numbers := l.clinic.SMS.Numbers
	on := make([]crowds, len(numbers))
	for _, p := range l.patients {
		if !p.open || p.Address.Channel != onSMS {
			continue
		}
		number := 0
		if p.Sender != "" {
			number = l.number(p.Sender)
		}
		if number < 0 {
			continue // none of ours, which is said already
		}
		on[number].due[p.Time]++
		on[number].all++
	}
	for i, n := range numbers {
		if n.DailyCap > 0 && n.DailyCap < on[i].all {
			l.warn(n.At, fmt.Sprintf("the daily cap of %d is under the %d enrollments on this number, so some get no text on a day", n.DailyCap, on[i].all),
				"write a higher cap if the carrier gives one, or spread them over several numbers with sender:")
		}
		wait, late := on[i].wait(n.Rate, l.clinic.Texting.To)
		switch do := "spread their times over the day, write a higher rate if the carrier gives one, or use several numbers with sender:"; {
		case late:
			l.warn(n.At, fmt.Sprintf("%d enrollments text from this number, and at %g segments a second some of their texts are not out when texting ends", on[i].all, n.Rate), do)
		case wait > longestWait:
			l.warn(n.At, fmt.Sprintf("%d enrollments text from this number, and at %g segments a second the last text goes out %d minutes after its time",
				on[i].all, n.Rate, int(math.Ceil(wait))), do)
		}
	}
}

// wait is how many minutes the last text of a crowd comes after its time at so
// many segments a second, and whether one is still to come at the end of the
// texting hours.
func (c *crowds) wait(rate float64, end Clock) (longest float64, late bool) {
	waiting := 0.0
	for minute, due := range c.due {
		if due > 0 {
			waiting += float64(due)
			wait := waiting / (rate * 60)
			longest = max(longest, wait)
			late = late || minute < int(end) && float64(minute)+wait > float64(end)
		}
		waiting = max(0, waiting-rate*60)
	}
	return longest, late
}
