package config

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"time"

	"stepgate/rules"
)

// blocks reads the dose table, in the order the file writes it, and checks
// that the order is by week. It tells which exercises it uses.
func (l *loader) blocks(p *rules.Program, s *programShape) map[string]bool {
	order := slices.SortedFunc(maps.Keys(s.Weeks), func(a, b string) int {
		x, y := s.Weeks[a].At.Pos, s.Weeks[b].At.Pos
		return cmp.Or(cmp.Compare(x.Line, y.Line), cmp.Compare(x.Column, y.Column), cmp.Compare(a, b))
	})
	used := map[string]bool{}
	last := 0
	for i, key := range order {
		w := s.Weeks[key]
		week := l.week(p, key, w.At.Pos, last, i == 0)
		last = max(last, week)
		b := rules.Block{Week: week, At: w.At.Pos}
		b.Doses = l.doses(p, w.Doses, b.At, "week "+strconv.Itoa(week), used)
		if len(w.Doses) == 0 && !w.At.Bad {
			l.warn(b.At, "week "+quoted(key)+" has no doses, so nothing is done until the next row", "write its doses, or take the row away")
		}
		p.Blocks = append(p.Blocks, b)
	}
	for i := range p.Blocks {
		leaves := i+1 < len(p.Blocks) || p.Weeks > 0 // the last block leads on only where the program has an end
		if b := p.Blocks[i]; b.Week > 0 {
			l.workload(p, b.Doses, b.At, "week "+strconv.Itoa(b.Week), leaves)
		}
	}
	return used
}

// unused notes exercises that no dose does.
func (l *loader) unused(p *rules.Program, used map[string]bool) {
	for _, id := range slices.Sorted(maps.Keys(p.Exercises)) {
		if !used[id] {
			l.warn(p.Exercises[id].At, "the exercise "+quoted(id)+" is never used", "add a dose that does it, or take it away")
		}
	}
}

// doses reads a list of doses, such as a row of the table, and marks the
// exercises it does. of names the list.
func (l *loader) doses(p *rules.Program, list []doseShape, at rules.Pos, of string, used map[string]bool) []rules.Dose {
	var out []rules.Dose
	for _, d := range list {
		used[d.Do.Text] = true
		if dose, ok := l.dose(p, d); ok {
			out = append(out, dose)
		}
	}
	if len(list) > maxDoses {
		l.wrong(at, fmt.Sprintf("%s has more than %d doses", of, maxDoses), "leave some out; nobody does as many")
		return nil
	}
	return out
}

// week reads the week a row begins at. It returns 0 for one it can't use.
func (l *loader) week(p *rules.Program, key string, at rules.Pos, last int, first bool) int {
	week, ok := digits(key)
	switch {
	case !ok || week < 1 || week > maxWeeks || key[0] == '0':
		l.wrong(at, "weeks has no week "+quoted(key), "write the number of the week a row begins with, from 1 to "+strconv.Itoa(maxWeeks))
		return 0
	case first && week != 1:
		l.wrong(at, fmt.Sprintf("the first row begins at week %d", week), "begin the table at week 1; there is no dose before it otherwise")
	case week < last:
		l.wrong(at, fmt.Sprintf("week %d stands after week %d: the table goes backwards", week, last), "put the rows in order of their weeks")
	case p.Weeks > 0 && week > p.Weeks:
		l.wrong(at, fmt.Sprintf("week %d lies past the program's length of %s", week, plural(p.Weeks, "week")), "make the program longer, or take the row away")
	}
	return week
}

// The most a dose may ask for; beyond it a slip is likelier than intent.
const (
	maxSets     = 20
	maxReps     = 200
	maxSessions = 10
	maxHold     = 10 * time.Minute
	maxRest     = 30 * time.Minute
	maxDoses    = 20 // in a row of the table
)

// dose reads one dose of a row.
func (l *loader) dose(p *rules.Program, s doseShape) (rules.Dose, bool) {
	d := rules.Dose{Sets: 1, Sessions: 1, At: s.At.Pos}
	if s.At.Bad {
		return d, false
	}
	if l.need(s.At, "do", "write the id of the exercise") && s.Do.given() {
		d.Do = s.Do.Text
		if p.Exercises[d.Do] == nil {
			l.wrong(s.Do.At, "there is no exercise "+quoted(d.Do), suggest(d.Do, slices.Collect(maps.Keys(p.Exercises))))
		}
	}
	if sets, ok := l.whole(s.Sets, 1, maxSets); ok {
		d.Sets = sets
	}
	if l.need(s.At, "reps", "write how many times the exercise is done in a set") {
		d.Reps, _ = l.whole(s.Reps, 1, maxReps)
	}
	d.Hold, _ = l.span(s.Hold, time.Second, maxHold, "10s")
	if sessions, ok := l.whole(s.Sessions, 1, maxSessions); ok {
		d.Sessions = sessions
	}
	d.On, _ = l.schedule(s.On)
	d.Side, _ = l.side(s.Side)
	l.doseParts(p, &d, s)
	return d, p.Exercises[d.Do] != nil
}
