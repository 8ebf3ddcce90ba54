package outcomes

import (
	"cmp"
	"slices"

	"stepgate/daemon/journal"
)

// hurtKey is a row: a step of a program, or an exercise of it.
type hurtKey struct {
	program  string
	step     int
	exercise string
}

// cell sums one patient's days of one row.
type cell struct {
	hurtKey
	days, answered, pain int
}

func (c *cell) add(answered, pain bool) {
	c.days++
	if answered {
		c.answered++
	}
	if pain {
		c.pain++
	}
}

// hurtRow sums the patients of one row.
type hurtRow struct {
	hurt          int
	all, answered sample
}

// hurting tells of pain by step and exercise.
type hurting struct {
	rows             map[hurtKey]*hurtRow
	steps, exercises []cell // of the patient being added
	step             int    // the cell of the day before
	hints            []int  // by place in Due: the same
}

// day takes in a date of the patient being added that stands and is over.
func (h *hurting) day(d *journal.Day, hold int) {
	if d.Rest || d.Struck {
		return
	}
	answered := d.Score >= 0
	pain := answered && d.Score >= hold
	if d.Step > 0 {
		h.step = find(&h.steps, h.step, d.Program, d.Step, "")
		h.steps[h.step].add(answered, pain)
	}
	for len(h.hints) < len(d.Due) {
		h.hints = append(h.hints, 0)
	}
	for j, id := range d.Due {
		h.hints[j] = find(&h.exercises, h.hints[j], d.Program, 0, id)
		h.exercises[h.hints[j]].add(answered, pain)
	}
}

// next closes the patient being added.
func (h *hurting) next() {
	h.fold(h.steps)
	h.fold(h.exercises)
	h.steps, h.exercises = h.steps[:0], h.exercises[:0]
}

// find gives the place of a row in cells, which it makes if there is none yet.
// hint is where it may be.
func find(cells *[]cell, hint int, program string, step int, exercise string) int {
	is := func(c *cell) bool { return c.step == step && c.exercise == exercise && c.program == program }
	if hint < len(*cells) && is(&(*cells)[hint]) {
		return hint
	}
	for i := range *cells {
		if is(&(*cells)[i]) {
			return i
		}
	}
	*cells = append(*cells, cell{hurtKey: hurtKey{program, step, exercise}})
	return len(*cells) - 1
}

func (h *hurting) fold(cells []cell) {
	if h.rows == nil {
		h.rows = map[hurtKey]*hurtRow{}
	}
	for i := range cells {
		c := &cells[i]
		row := h.rows[c.hurtKey]
		if row == nil {
			row = &hurtRow{}
			h.rows[c.hurtKey] = row
		}
		if c.pain > 0 {
			row.hurt++
		}
		row.all.add(c.days, c.pain)
		row.answered.add(c.answered, c.pain)
	}
}

// tell gives the rows of steps and those of exercises, in order of their names.
func (h *hurting) tell() (steps, exercises []Hurt) {
	steps, exercises = []Hurt{}, []Hurt{}
	for key, row := range h.rows {
		told := Hurt{
			Program: key.program, Step: key.step, Exercise: key.exercise,
			Patients: row.all.patients, Days: row.all.days, Answered: row.answered.days,
			Pain: row.all.hits, Hurt: row.hurt,
			Rate: row.all.rate(), OfAnswered: row.answered.rate(),
			TooFew: row.all.patients < FewPatients || row.all.days < FewDays,
		}
		if key.step > 0 {
			steps = append(steps, told)
		} else {
			exercises = append(exercises, told)
		}
	}
	byName := func(a, b Hurt) int {
		return cmp.Or(cmp.Compare(a.Program, b.Program), cmp.Compare(a.Step, b.Step), cmp.Compare(a.Exercise, b.Exercise))
	}
	slices.SortFunc(steps, byName)
	slices.SortFunc(exercises, byName)
	return steps, exercises
}
