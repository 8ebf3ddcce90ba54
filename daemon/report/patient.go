package report

import (
	"slices"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/daemon/outcomes"
	"stepgate/rules"
	"stepgate/templates"
)

// Patient gathers the record of one patient, in the words of a language (empty:
// English). It is nil for an id that the clinic does not have.
func Patient(tx *journal.Tx, v caseload.View, id, lang string) (*templates.PatientReport, error) {
	e := v.Clinic.Enrollments.Get(id)
	if e == nil {
		return nil, nil
	}
	if lang == "" {
		lang = "en"
	}
	out := head(v, e, lang)
	out.Quick = v.Quick
	p, err := tx.Person(id)
	if err != nil || p == nil {
		return out, err
	}
	days, err := tx.Days(id, 0, 0)
	if err != nil {
		return nil, err
	}
	r, err := readStory(tx, e)
	if err != nil {
		return nil, err
	}
	state := p.State.Shown(rules.DateOf(out.Made), tx.AnyOptedOut(e.Contacts()))
	course := outcomes.Of(read(v, e, state, days))
	stand(out, p, r, days, state)
	fill(out, course, days)
	out.Spans = spans(r, course)
	r.endOpen(out, p.State)
	out.Alerts, out.Talk = r.alerts, r.talk
	return out, nil
}

// head is what the clinic's files say of a patient.
func head(v caseload.View, e *config.Enrollment, lang string) *templates.PatientReport {
	c, prog := v.Clinic, v.Clinic.Programs[e.Program]
	lines := e.Pain(prog)
	out := &templates.PatientReport{
		Language: lang, Made: v.Now.In(e.Zone), ID: e.ID, Name: e.Name, Program: prog.Title.In(lang),
		Clinic:    templates.ReportClinic{Name: c.Name, Phone: c.Phone, AfterHours: c.AfterHours, Emergency: c.Emergency},
		Dispensed: e.Dispensed, Start: e.Start, Steps: len(prog.Blocks), Wears: prog.Wear != nil,
		State: rules.InActive, Cautions: []string{}, Visits: slices.Clone(e.Visits),
		Lines: templates.ReportLines{Steady: lines.Steady, Hold: lines.Hold, StepBack: lines.StepBack, Pause: lines.Pause, Clear: lines.ClearDays},
		Days:  []templates.ReportDay{}, Weeks: []templates.ReportWeek{}, Wear: []templates.ReportWearWeek{}, Spans: []templates.ReportSpan{},
		Alerts: []templates.ReportAlert{}, Talk: []templates.ReportSaying{},
		First: templates.ReportFirst{Answers: []templates.ReportFirstAnswer{}, By: []templates.ReportImproved{}},
	}
	if out.Program == "" {
		out.Program = e.Program
	}
	if out.Visits == nil {
		out.Visits = []rules.Date{}
	}
	if e.Lines != nil {
		out.LinesBy, out.LinesOn = e.LinesBy, e.LinesOn
	}
	for _, c := range []struct {
		name string
		is   bool
	}{{"sensation", e.Cautions.ReducedSensation}, {"skin", e.Cautions.FragileSkin}, {"balance", e.Cautions.Balance}, {"growing", e.Cautions.Growing}} {
		if c.is {
			out.Cautions = append(out.Cautions, c.name)
		}
	}
	return out
}

// read is a patient as the outcomes count them.
func read(v caseload.View, e *config.Enrollment, state rules.InState, days []journal.Day) outcomes.Patient {
	out := outcomes.Patient{ID: e.ID, Program: e.Program, Start: e.Start, Dispensed: e.Dispensed, Usual: e.Usual, UsualStep: e.UsualStep,
		State: state, Today: rules.DateOf(v.Now.In(e.Zone)), Days: days}
	if prog := v.Clinic.Programs[e.Program]; prog != nil {
		out.Lines = e.Pain(prog)
		for _, b := range prog.Blocks {
			out.StepWeeks = append(out.StepWeeks, b.Week)
		}
	}
	return out
}

// stand says where the patient stands: the last decision, and what has come in
// since where that counts already.
func stand(out *templates.PatientReport, p *journal.Person, r *story, days []journal.Day, state rules.InState) {
	out.State, out.WearMin = state, p.State.WearMin
	if len(days) == 0 {
		return
	}
	last := days[len(days)-1]
	out.AsOf, out.Day, out.Step, out.Steps = last.Date, last.D, last.Step, last.Steps
	out.Why = rules.Reason{Code: last.Why}
	if dec := r.decided[last.Date]; dec != nil {
		out.Why = dec.Why
	}
	if state == last.State {
		return
	}
	switch code := map[rules.InState]rules.Code{rules.InPaused: rules.Paused, rules.InOptedOut: rules.OptedOut, rules.InSuspended: rules.Suspended,
		rules.InDischarged: rules.Discharged, rules.InFinished: rules.Finished, rules.InAway: rules.AwayCode}[state]; {
	case code == rules.Paused && p.State.Pause != nil:
		out.Why = rules.Reason{Code: code, By: p.State.Pause.Cause, Since: p.State.Pause.Since}
	case code == rules.AwayCode && p.State.Away != nil:
		out.Why = rules.Reason{Code: code, Since: p.State.Away.To}
	case code == "" && p.State.Hold != nil: // what a release leaves of a pause
		out.Why = rules.Reason{Code: rules.PainHeld, Since: p.State.Hold.Since, Have: p.State.Hold.Clear, Need: out.Lines.Clear}
	case code == "" && p.State.Held != nil:
		out.Why = rules.Reason{Code: rules.ClinicHeld, Since: p.State.Held.Since, By: p.State.Held.By}
	default: // the last decision's reason is over
		out.Why = rules.Reason{Code: code}
	}
}

// fill puts the course into the report.
func fill(out *templates.PatientReport, c outcomes.Course, days []journal.Day) {
	out.Messages, out.Answered = c.Total.Sent, c.Total.Answered
	for i := range days {
		d := &days[i]
		day := templates.ReportDay{Date: d.Date, Day: d.D, Step: d.Step, State: d.State, Asked: d.Sent, Answered: d.Reports > 0}
		if i < len(c.Steps) {
			day.Allowed = c.Steps[i].Allowed
		}
		if d.Score >= 0 {
			day.Score = &d.Score
		}
		out.Days = append(out.Days, day)
	}
	for _, w := range c.Weeks {
		week := templates.ReportWeek{Week: w.Number, From: w.From, Due: w.Due, Halves: w.Halves, Step: w.Step, Allowed: w.Allowed}
		for i := range days {
			if d := &days[i]; d.Date >= w.From && d.Date < w.From+7 && w.Number > 0 {
				if stops(d) {
					week.Held++
				}
				week.Low, week.High = spread(week.Low, week.High, d.Score)
				_, week.First = spread(week.First, week.First, d.FirstStep)
			}
		}
		out.Weeks = append(out.Weeks, week)
	}
	for _, w := range c.Wear {
		if w.Number > 0 {
			out.Wear = append(out.Wear, templates.ReportWearWeek{Week: w.Number, From: w.From, Asked: w.Asked, Reported: w.Reported,
				Kept: w.Kept, AskedMin: w.AskedMinutes, WornMin: w.WornMinutes})
		}
	}
	first(&out.First, c)
}

// stops tells whether pain or a clinician stopped the plan on a date. Today's
// counts: what was decided is decided, as the spans have it.
func stops(d *journal.Day) bool {
	cause := outcomes.CauseOf(d)
	return cause == outcomes.CausePain || cause == outcomes.CausePause || cause == outcomes.CauseClinic
}

// spread widens a range by a score; one under 0 is none.
func spread(low, high *int, score int) (*int, *int) {
	if score < 0 {
		return low, high
	}
	if low == nil || score < *low {
		low = &score
	}
	if high == nil || score > *high {
		high = &score
	}
	return low, high
}

// first is the series of first-step pain.
func first(out *templates.ReportFirst, c outcomes.Course) {
	for _, f := range c.Firsts {
		out.Answers = append(out.Answers, templates.ReportFirstAnswer{Date: f.Date, Day: f.Day, Score: f.Score})
	}
	if c.Base != nil {
		out.Base, out.Usual = &c.Base.Score, c.Base.From == outcomes.FromUsual
		for goal := c.Base.Score - 1; goal >= 0; goal-- {
			if outcomes.Improves(c.Base.Score, goal) {
				out.Goal = &goal
				break
			}
		}
	}
	for _, by := range []outcomes.Improved{c.Week6, c.Week12} {
		out.By = append(out.By, templates.ReportImproved{Week: by.Week, Is: string(by.Verdict), Score: by.Score, Date: by.Date})
	}
}
