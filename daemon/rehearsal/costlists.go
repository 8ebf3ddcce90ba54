package rehearsal

import (
	"fmt"
	"maps"
	"slices"

	"stepgate/config"
	"stepgate/rules"
	"stepgate/templates"
)

// dueList is exercises that are due together.
type dueList struct {
	step  int
	dues  []rules.Due
	eased bool
	opens bool // somebody's first text may list them
	after bool // in maintenance
	last  bool // the last of the table: a break goes back from there
	room  int  // see [measuring.room]
	all   bool // all of the step, whether or not they are due on one date
}

// steps are the lists of exercises that can be due on one date, and for the
// how-to all of a step at once. A list that another one holds is left out.
func (m *measuring) steps(c *config.Clinic) []dueList {
	var out []dueList
	for i, b := range m.program.Table() {
		after := i == len(m.program.Blocks)
		at := rules.State{P: b.FirstDay(), Week: b.Week}
		if after {
			at.Week, at.Maint = m.program.Blocks[i-1].Week, m.date
		}
		for _, eased := range []bool{false, true} {
			if eased && i > 0 { // the dose is eased at the first step only
				break
			}
			at.Eased = eased
			best := map[string]*dueList{}
			for _, tailoring := range m.tailorings {
				e := m.readers.enrollment(c, tailoring)
				for _, l := range m.dates(b, e, at) {
					l.step, l.eased, l.after = min(i+1, len(m.program.Blocks)), eased, after
					l.last = i > 0 && i == len(m.program.Table())-1
					l.opens = !eased && slices.ContainsFunc(m.from, func(day int) bool { return m.program.BlockAt(day) == i })
					key := fmt.Sprint(len(l.dues), l.all)
					if old := best[key]; old == nil || m.room(&l) > m.room(old) {
						best[key] = &l
					}
				}
			}
			for _, key := range slices.Sorted(maps.Keys(best)) {
				out = append(out, *best[key])
			}
		}
	}
	return out
}

// dates are the lists of a block over all days of the calendar it may meet.
func (m *measuring) dates(b rules.Block, e *config.Enrollment, at rules.State) []dueList {
	left := func(id string) bool {
		return slices.ContainsFunc(e.Tailoring, func(t rules.Tailor) bool { return t.LeaveOut && t.Exercise == id })
	}
	doses := slices.DeleteFunc(slices.Clone(b.Doses), func(d rules.Dose) bool { return left(d.Do) })
	if len(doses) == 0 {
		return nil
	}
	type on struct {
		start, date rules.Date
		due         []int
	}
	var found []on
	// Due days hang on the weekday and repeat in seven or two days of the
	// calendar: two weeks from each weekday meet them all.
	for start := range rules.Date(7) {
		for n := range rules.Date(14) {
			o := on{start: m.date + start, date: m.date + start + n}
			for i, d := range doses {
				if d.On.Due(int(n)+1, o.date) {
					o.due = append(o.due, i)
				}
			}
			if len(o.due) > 0 && !slices.ContainsFunc(found, func(f on) bool { return within(o.due, f.due) }) {
				found = slices.DeleteFunc(found, func(f on) bool { return within(f.due, o.due) })
				found = append(found, o)
			}
		}
	}
	var out []dueList
	for _, o := range found {
		e.Start, at.Decided = o.start, o.date
		l := dueList{dues: m.program.Listed(&e.Enrollment, at)}
		out = append(out, l)
		l.all = true
		if len(l.dues) == len(doses) {
			out = append(out, l)
		}
	}
	if !slices.ContainsFunc(out, func(l dueList) bool { return l.all }) {
		out = append(out, m.whole(b, e, at))
	}
	return out
}

// whole is all of a block, as a how-to lists it where nothing is due.
func (m *measuring) whole(b rules.Block, e *config.Enrollment, at rules.State) dueList {
	everyDay := slices.Clone(b.Doses)
	for i := range everyDay {
		everyDay[i].On = rules.Schedule{}
	}
	p := *m.program
	if at.Maint != 0 {
		after := *p.After
		after.Doses, p.After = everyDay, &after
	} else {
		p.Blocks = slices.Clone(p.Blocks)
		p.Blocks[p.BlockAt(b.FirstDay())].Doses = everyDay
	}
	return dueList{all: true, dues: p.Listed(&e.Enrollment, at)}
}

func within(part, all []int) bool {
	return !slices.ContainsFunc(part, func(i int) bool { return !slices.Contains(all, i) })
}

// room is what a list takes in a plain text.
func (m *measuring) room(l *dueList) int {
	if l.room == 0 {
		dec := rules.Decision{Date: m.date, Doses: l.dues, Support: m.cautions.Balance}
		l.room = render(m.words.Daily(m.clinic, m.side(l), m.program, dec)).count.Units
	}
	return l.room
}

// side is the patient with the side that makes a list longest. Only a dose for
// the affected side, or a form for one side, tells them apart.
func (m *measuring) side(l *dueList) templates.Patient {
	p := m.patient
	if !slices.ContainsFunc(l.dues, func(d rules.Due) bool { return d.Side == rules.SideAffected }) {
		return p
	}
	best, most := p, 0
	for _, p.Affected = range []string{"both", "left", "right"} {
		dec := rules.Decision{Date: m.date, Doses: l.dues}
		if n := render(m.words.Daily(m.clinic, p, m.program, dec)).count.Units; n > most {
			best, most = p, n
		}
	}
	return best
}
