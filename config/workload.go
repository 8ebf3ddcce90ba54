package config

import (
	"fmt"

	"stepgate/rules"
)

// maxExercises on one day: fewer than four helps adherence (Bachmann 2018).
const maxExercises = 3

// workload plays a block's days forward, for a start on each weekday, and
// notes days with too much on them and a block nobody could get out of.
func (l *loader) workload(p *rules.Program, i int) {
	b := p.Blocks[i]
	if b.Week == 0 || len(b.Doses) == 0 {
		return
	}
	// Due days repeat every two weeks at the latest (every other day against
	// the weekdays), so two weeks and one window show them all.
	length := 14 + p.Advance.Last
	most, best := 0, 0
	for start := range 7 {
		due := make([]int, length) // exercises due, by day
		for d := range due {
			due[d] = l.dueOn(p, b, d+1, rules.NewDate(2026, 1, 5+start)+rules.Date(d))
			most = max(most, due[d])
		}
		for from := range length - p.Advance.Last + 1 {
			best = max(best, busy(due[from:from+p.Advance.Last]))
		}
	}
	if most > maxExercises {
		l.warn(b.At, fmt.Sprintf("week %d asks for %d exercises on one day", b.Week, most),
			"three are more likely to be done; spread them over the week or leave one out")
	}
	leaves := i+1 < len(p.Blocks) || p.Weeks > 0 // the last block leads on only where the program has an end
	if leaves && best < 2 {
		l.warn(b.At, fmt.Sprintf("week %d never has two due days within %s, so no patient can get past it",
			b.Week, plural(p.Advance.Last, "day")),
			"let its exercises come up more often, or make advance: of last longer")
	}
}

// dueOn counts the exercises due on one day of the calendar. An exercise that
// is due twice on the same side would double its load, so that is refused.
func (l *loader) dueOn(p *rules.Program, b rules.Block, day int, date rules.Date) int {
	type where struct {
		do   string
		side rules.Side
	}
	sides, exercises := map[where]bool{}, map[string]bool{}
	for _, d := range b.Doses {
		if !d.On.Due(day, date) {
			continue
		}
		w := where{d.Do, d.Side}
		if w.side == "" {
			w.side = p.Exercises[d.Do].Side
		}
		if sides[w] {
			l.wrong(d.At, fmt.Sprintf("week %d asks for %s twice on the same day", b.Week, quoted(d.Do)),
				"write one dose with more sets or sessions, or different days")
		}
		sides[w], exercises[d.Do] = true, true
	}
	return len(exercises)
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
