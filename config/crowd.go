package config

import (
	"fmt"
	"maps"
	"math"
	"slices"
)

// longestWait is how many minutes a text may come after its time before check
// warns; ours.
const longestWait = 120

// crowds are the open enrollments on one number by their message time, as far
// as can be told. Zones are left out of it: this is an estimate.
type crowds struct {
	due [24 * 60]float64
	all float64
}

// add counts n enrollments due at a time.
func (c *crowds) add(at Clock, n float64) {
	c.due[at] += n
	c.all += n
}

// onNumbers counts the enrollments on each of the numbers. Those who name no
// sender are dealt to all numbers by lot, each as often as its rate's share of
// all rates.
func (l *loader) onNumbers(numbers []SMSNumber) []crowds {
	on := make([]crowds, len(numbers))
	rates := 0.0
	for _, n := range numbers {
		rates += n.Rate
	}
	for _, sender := range slices.Sorted(maps.Keys(l.texted)) {
		for minute, due := range l.texted[sender] {
			if due == 0 {
				continue
			}
			if sender == "" {
				for i, n := range numbers {
					on[i].add(Clock(minute), float64(due)*n.Rate/rates)
				}
			} else if i := l.number(sender); i >= 0 { // else none of ours, which is said already
				on[i].add(Clock(minute), float64(due))
			}
		}
	}
	return on
}

// crowded warns of numbers whose rate or daily cap is too small for their
// patients, at one segment a patient.
func (l *loader) crowded() {
	if l.clinic.SMS == nil || len(l.clinic.SMS.Numbers) == 0 {
		return
	}
	on := l.onNumbers(l.clinic.SMS.Numbers)
	for i, n := range l.clinic.SMS.Numbers {
		all := int(math.Round(on[i].all)) // sums of shares are a little off
		if n.DailyCap > 0 && n.DailyCap < all {
			l.warn(n.At, fmt.Sprintf("the daily cap of %d is under the %d enrollments on this number, so some get no text on a day", n.DailyCap, all),
				"write a higher cap if the carrier gives one, or use more numbers")
		}
		wait, late := on[i].wait(n.Rate, l.clinic.Texting.To)
		switch do := "spread their times over the day, write a higher rate if the carrier gives one, or use more numbers"; {
		case late:
			l.warn(n.At, fmt.Sprintf("%d enrollments text from this number, and at %g segments a second some of their texts are not out when texting ends", all, n.Rate), do)
		case wait > longestWait:
			l.warn(n.At, fmt.Sprintf("%d enrollments text from this number, and at %g segments a second the last text goes out %d minutes after its time",
				all, n.Rate, int(math.Ceil(wait))), do)
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
			waiting += due
			wait := waiting / (rate * 60)
			longest = max(longest, wait)
			late = late || minute < int(end) && float64(minute)+wait > float64(end)
		}
		waiting = max(0, waiting-rate*60)
	}
	return longest, late
}
