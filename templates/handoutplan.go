package templates

import (
	"slices"
	"time"

	"stepgate/rules"
)

// handoutWeeks is a step of the dose table.
type handoutWeeks struct {
	From, To int  // weeks of the plan; To 0: it goes on
	After    bool // maintenance, which follows week From
	PerWeek  int  // of maintenance: days a week
	Months   int  // of maintenance
	Starts   bool // this patient starts here
	Reviews  []int
	Items    []handoutItem
}

// handoutItem is one exercise of a step.
type handoutItem struct {
	Name, Form string
	Dose       string // in full, as the mails say it
	Days       string

	id, leg string
}

// handoutDays is what the words for the days see.
type handoutDays struct {
	Kind    string
	PerWeek int
	Days    []string
}

// handoutWeeks lists the steps. Those over a clinician's cap are left out: no
// paper should ask for more than the texts would.
func (l *language) handoutWeeks(h Handout) (list []handoutWeeks, stays bool) {
	p, e := h.Program, h.Enrollment
	table := p.Table()
	starts := -1
	if e.FromDay > 1 {
		starts = p.BlockAt(e.FromDay)
	}
	highest := handoutCap(e, len(p.Blocks))
	for i, block := range table {
		if highest > 0 && i >= highest {
			return list, true
		}
		w := handoutWeeks{From: block.Week, To: p.LastDay(i) / 7, Starts: i == starts}
		if i == len(p.Blocks) {
			w.From, w.To, w.After = p.Weeks, 0, true
			w.PerWeek, w.Months = p.After.PerWeek, p.After.Months
		}
		for _, week := range p.Reviews {
			if !w.After && week >= w.From && (week <= w.To || w.To == 0) {
				w.Reviews = append(w.Reviews, week)
			}
		}
		for _, dose := range block.Doses {
			if item, ok := l.handoutItem(h, dose, w); ok {
				w.Items = append(w.Items, item)
			}
		}
		list = append(list, w)
	}
	return list, false
}

// handoutCap is the highest step by the clinician's last cap, from 1; 0: none
// that binds.
func handoutCap(e *rules.Enrollment, steps int) int {
	var last rules.Entry
	for _, n := range e.Entries {
		if n.Kind == rules.EntryCap && n.On >= last.On {
			last = n
		}
	}
	if last.Step >= steps {
		return 0
	}
	return last.Step
}

// handoutItem words one dose for the patient; false: it is left out for them.
func (l *language) handoutItem(h Handout, dose rules.Dose, w handoutWeeks) (handoutItem, bool) {
	// The rules tailor what is listed, so a program of this dose alone is asked.
	alone := *h.Program
	alone.Blocks, alone.After = []rules.Block{{Week: 1, Doses: []rules.Dose{dose}}}, nil
	dues := alone.Listed(h.Enrollment, rules.State{P: 1, Week: 1})
	if len(dues) == 0 {
		return handoutItem{}, false
	}
	list, _ := l.items(Patient{Affected: h.Enrollment.Affected}, h.Program, dues, true)
	on := dose.On
	if w.After && on.Kind == rules.EveryDay { // and no oftener than the messages come
		on = rules.Schedule{Kind: rules.DaysAWeek, PerWeek: w.PerWeek}
	}
	return handoutItem{Name: list[0].Name, Form: list[0].Form, Dose: capital(list[0].Full), Days: l.handoutDays(h.Enrollment, on),
		id: dose.Do, leg: amountOf(dues[0], dues[0].Side, h.Enrollment.Affected).Leg}, true
}

// handoutDays names the days of a schedule; for a patient whose start is known
// also those that hang on it.
func (l *language) handoutDays(e *rules.Enrollment, on rules.Schedule) string {
	v := handoutDays{Kind: on.Kind, PerWeek: on.PerWeek}
	for _, d := range on.Weekdays {
		v.Days = append(v.Days, l.words.Weekdays[d])
	}
	if on.Kind == rules.DaysAWeek && on.PerWeek == 7 {
		v.Kind = rules.EveryDay
	}
	if v.Kind == rules.DaysAWeek && e.Start != 0 {
		for d := e.Start; d < e.Start+7; d++ {
			if on.Due(e.Day(d), d) {
				v.Days = append(v.Days, l.words.Weekdays[d.Weekday()])
			}
		}
	}
	return l.line("handout/days", v)
}

// handoutExercise is how an exercise is done.
type handoutExercise struct {
	Name, Why, How, Easier, Care string
	Needs                        []string
	Leg                          string   // where all its doses are for the same
	Forms                        []string // the ways of doing it that the doses name
}

// handoutExercises lists the exercises of the steps, in the order in which
// they come.
func (l *language) handoutExercises(h Handout, weeks []handoutWeeks) []handoutExercise {
	var list []handoutExercise
	at := map[string]int{}
	for _, w := range weeks {
		for _, item := range w.Items {
			ex := h.Program.Exercises[item.id]
			i, seen := at[item.id]
			if !seen {
				i = len(list)
				at[item.id] = i
				list = append(list, handoutExercise{Name: item.Name, Leg: item.leg})
				if ex != nil {
					x := &list[i]
					x.Why, x.How, x.Needs = ex.Why.In(l.code), ex.How.In(l.code), l.words.needs(ex.Needs)
					x.Easier, x.Care = ex.Easier.In(l.code), ex.Care.In(l.code)
				}
			}
			x := &list[i]
			if x.Leg != item.leg {
				x.Leg = "" // the table says it, dose by dose
			}
			if item.Form != "" && !slices.Contains(x.Forms, item.Form) {
				x.Forms = append(x.Forms, item.Form)
			}
		}
	}
	return list
}

// handoutWear is a run of wear days with the same time.
type handoutWear struct {
	From, To int  // wear days
	Full     bool // and so from then on
	Time     string
}

// handoutWear lists the wear time day by day until it is full.
func (l *language) handoutWear(w *rules.Wear) []handoutWear {
	var list []handoutWear
	full := w.FullDay()
	for day := 1; day <= full; day += w.Every {
		list = append(list, handoutWear{From: day, To: min(day+w.Every-1, full), Full: day == full,
			Time: l.words.duration(w.OnDay(day).Truncate(time.Minute))})
	}
	return list
}
