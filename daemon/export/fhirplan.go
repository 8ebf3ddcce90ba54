package export

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"stepgate/rules"
)

// plans writes a CarePlan for the program the patient is on, with a
// ServiceRequest for every dose of it, and one for each program before.
func (r *record) plans() {
	for _, past := range r.past() {
		id := r.id.of("CarePlan", past.program)
		r.put(id, fhir.CarePlan{Id: &id, Status: fhir.RequestStatusRevoked, Intent: fhir.CarePlanIntentPlan, Title: &past.program,
			Subject: r.subject(), Period: &fhir.Period{Start: dateOf(past.from), End: dateOf(past.to)}})
	}
	id := r.id.of("CarePlan", r.e.Program)
	plan := fhir.CarePlan{
		Id: &id, Status: r.status(), Intent: fhir.CarePlanIntentProposal, Title: words(r.prog.Title.In("en")),
		Subject: r.subject(), Period: r.period(), Activity: r.requests(), Note: r.stands(),
	}
	if r.prog.Approved != nil {
		plan.Intent = fhir.CarePlanIntentPlan
	}
	r.put(id, plan)
}

// status is that of the plan: one for which nothing goes out is on hold. What
// the patient does at a step goes on in a pain hold, so that is none.
func (r *record) status() fhir.RequestStatus {
	switch r.state {
	case rules.InDischarged, rules.InFinished:
		return fhir.RequestStatusCompleted
	case rules.InPaused, rules.InAway, rules.InSuspended, rules.InOptedOut:
		return fhir.RequestStatusOnHold
	}
	return fhir.RequestStatusActive
}

// stepStatus is that of the requests of a step, from 0. Only the step a patient
// is at is asked of them: a dose they have not come to must not look like one.
// One they go back to is active again.
func (r *record) stepStatus(step int) fhir.RequestStatus {
	now, over := r.step(), r.status() == fhir.RequestStatusCompleted
	switch {
	case step == now:
		return r.status()
	case step < now:
		return fhir.RequestStatusCompleted
	case over:
		return fhir.RequestStatusRevoked
	}
	return fhir.RequestStatusDraft
}

// step is the row of the table the patient is at, from 0; -1 before the first.
func (r *record) step() int {
	n := len(r.days)
	if n == 0 || r.days[n-1].Program != r.e.Program {
		return -1
	}
	if r.days[n-1].State == rules.InMaintenance {
		return len(r.prog.Blocks)
	}
	return r.days[n-1].Step - 1
}

// period runs from the first date of the program to the last decided one, once
// it is over. The clinic's files have no end of a program that waits for people.
func (r *record) period() *fhir.Period {
	start := r.e.First()
	for i := len(r.days) - 1; i >= 0 && r.days[i].Program == r.e.Program; i-- {
		if i > 0 && r.days[i-1].Program != r.e.Program {
			start = r.days[i].Date
		}
	}
	p := &fhir.Period{Start: dateOf(start)}
	if n := len(r.days); n > 0 && r.status() == fhir.RequestStatusCompleted {
		p.End = dateOf(max(start, r.days[n-1].Date))
	}
	return p
}

// stands says where the patient stood on the last decided date.
func (r *record) stands() []fhir.Annotation {
	if len(r.days) == 0 {
		return nil
	}
	d := r.days[len(r.days)-1]
	return []fhir.Annotation{{Time: dateOf(d.Date), Text: fmt.Sprintf("Step %d of %d, program day %d of calendar day %d, wear day %d. State: %s. Why: %s.",
		d.Step, d.Steps, d.P, d.D, d.W, d.State, d.Why)}}
}

// programOn is the program the patient was on.
func (r *record) programOn(d rules.Date) string {
	program := r.e.Program
	for i := len(r.days) - 1; i >= 0; i-- {
		program = r.days[i].Program
		if r.days[i].Date <= d {
			break
		}
	}
	return program
}

// before is a program the patient was on.
type before struct {
	program  string
	from, to rules.Date
}

// past lists the programs of the days before the present one, each once.
func (r *record) past() []before {
	var list []before
	at := map[string]int{}
	for _, d := range r.days {
		if d.Program == r.e.Program {
			continue
		}
		i, known := at[d.Program]
		if !known {
			i = len(list)
			at[d.Program] = i
			list = append(list, before{program: d.Program, from: d.Date})
		}
		list[i].to = d.Date
	}
	return list
}

// requests writes a ServiceRequest for each exercise of each step, with the
// dose as this patient is to do it, and returns them as the plan's activities.
func (r *record) requests() []fhir.CarePlanActivity {
	var list []fhir.CarePlanActivity
	for step, block := range r.prog.Table() {
		for n, dose := range block.Doses {
			due, ok := r.tailored(dose)
			if !ok {
				continue
			}
			key := fmt.Sprintf("%s/%d/%s/%d", r.prog.ID, block.Week, dose.Do, n)
			r.request(key, step, block, dose, due)
			list = append(list, fhir.CarePlanActivity{Reference: new(r.ref("ServiceRequest", key))})
		}
	}
	return list
}

// tailored is a dose as the patient is to do it; false where it is left out.
// The rules say so: a program of this dose alone lists it, or does not.
func (r *record) tailored(dose rules.Dose) (rules.Due, bool) {
	one := *r.prog
	one.Blocks, one.After = []rules.Block{{Week: 1, Doses: []rules.Dose{dose}}}, nil
	list := one.Listed(&r.e.Enrollment, rules.State{P: 1, Week: 1, Decided: r.e.Start})
	if len(list) == 0 {
		return rules.Due{}, false
	}
	return list[0], true
}

func (r *record) request(key string, step int, block rules.Block, dose rules.Dose, due rules.Due) {
	id := r.id.of("ServiceRequest", key)
	ex := r.prog.Exercises[due.Exercise]
	q := fhir.ServiceRequest{
		Id: &id, Status: r.stepStatus(step), Intent: fhir.RequestIntentProposal, Subject: r.subject(),
		BasedOn:            []fhir.Reference{r.ref("CarePlan", r.e.Program)},
		Code:               &fhir.CodeableConcept{Text: new(ex.Name.In("en"))},
		OrderDetail:        details(ex, due),
		OccurrenceTiming:   timing(dose.On, due.Sessions),
		PatientInstruction: r.instruction(ex, due),
	}
	if a := r.prog.Approved; a != nil {
		q.Intent, q.AuthoredOn = fhir.RequestIntentOrder, dateOf(a.On)
	}
	when := fmt.Sprintf("Step %d of %d, from program week %d. A patient comes to a step by the rules of the program, not by the calendar.", step+1, len(r.prog.Blocks), block.Week)
	if step >= len(r.prog.Blocks) {
		when = "Maintenance, after the last step."
	}
	q.Note = []fhir.Annotation{{Text: when}}
	r.put(id, q)
}

// details say the dose part by part: R4 has no elements for sets and reps.
func details(ex *rules.Exercise, d rules.Due) []fhir.CodeableConcept {
	parts := []string{many(d.Sets, "set"), many(d.Reps, "repetition") + " a set"}
	if d.Hold > 0 {
		parts = append(parts, "hold each "+seconds(d.Hold))
	}
	parts = append(parts, many(d.Sessions, "time")+" a day", "side: "+string(d.Side))
	if d.Form != "" {
		form := "form: " + ex.Forms[d.Form].In("en")
		if d.Only != "" {
			form += ", on the " + d.Only + " only"
		}
		parts = append(parts, form)
	}
	if d.Rest > 0 {
		parts = append(parts, "rest "+seconds(d.Rest)+" between sets")
	}
	if d.RM > 0 {
		parts = append(parts, fmt.Sprintf("load: %d repetition maximum", d.RM))
	}
	if load := d.Load.In("en"); load != "" {
		parts = append(parts, "load: "+load)
	}
	if t := d.Tempo; t != (rules.Tempo{}) {
		parts = append(parts, fmt.Sprintf("tempo: %d s up, %d s hold, %d s down", t.Up, t.Hold, t.Down))
	}
	list := make([]fhir.CodeableConcept, len(parts))
	for i := range parts {
		list[i].Text = &parts[i]
	}
	return list
}

// instruction is the how-to and the caution, in the patient's language and in
// the words of the program's file.
func (r *record) instruction(ex *rules.Exercise, d rules.Due) *string {
	lang := r.e.Language
	var said []string
	for _, t := range []rules.Text{ex.Name, ex.How, ex.Forms[d.Form], ex.Care} {
		if s := strings.TrimSpace(t.In(lang)); s != "" {
			said = append(said, strings.TrimSuffix(s, ".")+".")
		}
	}
	return words(strings.Join(said, " "))
}

// timing says when: exact in the words, and in numbers so far as R4 has them.
// Sessions on every other day are counted over the two days.
func timing(on rules.Schedule, sessions int) *fhir.Timing {
	rep := &fhir.TimingRepeat{Frequency: &sessions, Period: new(json.Number("1")), PeriodUnit: new("d")}
	times := many(sessions, "time") + " a day"
	switch on.Kind {
	case rules.EveryDay:
		times += ", every day"
	case rules.EveryOtherDay:
		rep.Period = new(json.Number("2"))
		times += ", every other day"
	case rules.DaysAWeek:
		rep.Frequency, rep.PeriodUnit = new(sessions*on.PerWeek), new("wk")
		times += ", on " + many(on.PerWeek, "day") + " a week"
	case rules.OnWeekdays:
		var names []string
		for _, w := range on.Weekdays {
			rep.DayOfWeek = append(rep.DayOfWeek, weekdays[w])
			names = append(names, w.String())
		}
		times += ", on " + strings.Join(names, ", ")
	}
	return &fhir.Timing{Repeat: rep, Code: &fhir.CodeableConcept{Text: &times}}
}

var weekdays = map[time.Weekday]fhir.DaysOfWeek{
	time.Monday: fhir.DaysOfWeekMon, time.Tuesday: fhir.DaysOfWeekTue, time.Wednesday: fhir.DaysOfWeekWed,
	time.Thursday: fhir.DaysOfWeekThu, time.Friday: fhir.DaysOfWeekFri, time.Saturday: fhir.DaysOfWeekSat,
	time.Sunday: fhir.DaysOfWeekSun,
}

func seconds(d time.Duration) string { return many(int(d/time.Second), "second") }

// many writes a number with its noun.
func many(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
