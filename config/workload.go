package config

import (
	"fmt"

	"stepgate/rules"
)

// maxExercises on one day: fewer than four helps adherence (Bachmann 2018).
const maxExercises = 3

// workload plays the days of a list of doses forward, for a start on each
// weekday, and notes days with too much on them and a block nobody could get
// out of. of names the list; leaves says that the advance rule ends it.
func (l *loader) workload(p *rules.Program, doses []rules.Dose, at rules.Pos, of string, leaves bool) {
	if len(doses) == 0 {
		return
	}
	// Due days repeat every two weeks at the latest (every other day against
	// the weekdays), so two weeks and one window show them all.
	length := 14 + p.Advance.Last
	most, best := 0, 0
	for start := range 7 {
		due := make([]int, length) // exercises due, by day
		for d := range due {
			due[d] = l.dueOn(p, doses, of, d+1, rules.NewDate(2026, 1, 5+start)+rules.Date(d))
			most = max(most, due[d])
		}
		for from := range length - p.Advance.Last + 1 {
			best = max(best, busy(due[from:from+p.Advance.Last]))
		}
	}
	if most > maxExercises {
		l.warn(at, fmt.Sprintf("%s asks for %d exercises on one day", of, most),
			"three are more likely to be done; spread them over the week or leave one out")
	}
	if leaves && best < 2 {
		l.warn(at, fmt.Sprintf("%s never has two due days within %s, so no patient can get past it",
			of, plural(p.Advance.Last, "day")),
			"let its exercises come up more often, or make advance: of last longer")
	}
}

// dueOn counts the exercises due on one day of the calendar. An exercise that
// is due twice on the same side and in the same form would double its load, so
// that is refused.
func (l *loader) dueOn(p *rules.Program, doses []rules.Dose, of string, day int, date rules.Date) int {
	type where struct {
		do, form string
		side     rules.Side
	}
	first, exercises := map[where]rules.Pos{}, map[string]bool{}
	for _, d := range doses {
		if !d.On.Due(day, date) {
			continue
		}
		w := where{d.Do, d.Form, sideOf(p, d)}
		if at, twice := first[w]; twice {
			form := ""
			if d.Form != "" {
				form = " in the form " + quoted(d.Form)
			}
			l.wrong(d.At, fmt.Sprintf("%s asks for %s%s twice on the same day, first at %s", of, quoted(d.Do), form, at),
				"write one dose with more sets or sessions, or different days")
			continue
		}
		first[w], exercises[d.Do] = d.At, true
	}
	for w, at := range first { // done on each side, the affected one would get it twice
		if other, both := first[where{w.do, w.form, rules.SideAffected}]; both && w.side != rules.SideAffected {
			l.warn(other, fmt.Sprintf("%s asks the affected side for %s a second time on the same day, first at %s", of, quoted(w.do), at),
				"look whether this is meant; write different days if it is not")
		}
	}
	return len(exercises)
}

// sideOf is the side a dose is done on.
func sideOf(p *rules.Program, d rules.Dose) rules.Side {
	if d.Side != "" || p.Exercises[d.Do] == nil {
		return d.Side
	}
	return p.Exercises[d.Do].Side
}

// busy counts the days with something due.
func busy(due []int) int {
	n := 0
	for _, d := range due {
		if d > 0 {
			n++
		}
	}
	return n
}
