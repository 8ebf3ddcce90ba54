package rules

import "iter"

// tailored is the tailoring of an exercise for this patient; zero: none.
func (e *Enrollment) tailored(exercise string) Tailor {
	var all Tailor
	for _, t := range e.Tailoring {
		if t.Exercise != exercise {
			continue
		}
		all.LeaveOut = all.LeaveOut || t.LeaveOut
		if t.Form != "" {
			all.Form, all.Side = t.Form, t.Side
		}
		if t.Sets > 0 && (all.Sets == 0 || t.Sets < all.Sets) {
			all.Sets = t.Sets
		}
	}
	return all
}

// dueOn lists the block's doses that are due for the patient on date d.
func (e *Enrollment) dueOn(b Block, d Date) iter.Seq[*Dose] {
	return func(yield func(*Dose) bool) {
		for i := range b.Doses {
			dose := &b.Doses[i]
			if dose.On.Due(e.Day(d), d) && !e.tailored(dose.Do).LeaveOut && !yield(dose) {
				return
			}
		}
	}
}

// anyOn tells whether the block has one that is.
func (e *Enrollment) anyOn(b Block, d Date) bool {
	for range e.dueOn(b, d) {
		return true
	}
	return false
}

// Listed are the exercises in the order the last daily message listed them,
// so that "the second exercise" means the same to both sides; where that date
// had none, all of the block.
func (p *Program) Listed(e *Enrollment, s State) []Due {
	table := p.Table()
	if s.P == 0 || len(table) == 0 {
		return nil
	}
	block := table[p.block(&s)]
	list := make([]Due, 0, len(block.Doses))
	for dose := range e.dueOn(block, s.Decided) {
		list = append(list, e.due(p, dose, s.Eased))
	}
	if len(list) > 0 {
		return list
	}
	for i := range block.Doses {
		if dose := &block.Doses[i]; !e.tailored(dose.Do).LeaveOut {
			list = append(list, e.due(p, dose, s.Eased))
		}
	}
	return list
}

// due is a dose as the patient is to do it.
func (e *Enrollment) due(p *Program, dose *Dose, eased bool) Due {
	d := Due{Exercise: dose.Do, Side: dose.Side, Sets: dose.Sets, Reps: dose.Reps,
		Hold: dose.Hold, Sessions: dose.Sessions, Form: dose.Form, Rest: dose.Rest,
		RM: dose.RM, Load: dose.Load, Tempo: dose.Tempo}
	if d.Side == "" {
		d.Side = p.Exercises[dose.Do].Side
	}
	t := e.tailored(dose.Do)
	if t.Form != "" {
		d.Form, d.Only = t.Form, t.Side
	}
	if t.Sets > 0 {
		d.Sets = min(d.Sets, t.Sets)
	}
	if eased {
		d = d.ease()
	}
	return d
}
