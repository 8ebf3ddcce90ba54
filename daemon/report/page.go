package report

import (
	"net/url"
	"slices"
	"strconv"

	"stepgate/daemon/caseload"
	"stepgate/daemon/outcomes"
	"stepgate/templates"
)

// causeWords name the causes of a wait for a clinician.
var causeWords = map[outcomes.Cause]string{
	outcomes.CausePain: "Pain hold", outcomes.CausePause: "Pause", outcomes.CauseClinic: "Held by the clinic", outcomes.CauseAway: "Away",
	outcomes.CauseWaiting: "Waiting for the advance rule", outcomes.CauseCap: "Capped at a step", outcomes.CauseReview: "Waiting for a review",
	outcomes.CauseOptOut: "Opted out", outcomes.CauseSilent: "Silent, or the contact in doubt", outcomes.CauseSending: "Not sent, or not heard",
	outcomes.CauseConsent: "No consent on file",
}

// PatientPath is where a patient's page is served.
func PatientPath(id string) string { return "/patients/" + url.PathEscape(id) }

func (c *Clinic) view(links bool) templates.ClinicReport {
	b, o := c.Board, &c.Outcomes
	v := templates.ClinicReport{Clinic: c.Clinic, Made: c.Made, Enrolled: b.Enrolled, Decided: b.Decided, Look: b.Look, Gone: len(b.Gone),
		Begun: o.Begun, Dates: o.Dates, Open: o.DropOff.Open, Dropped: o.DropOff.Dropped, Never: o.DropOff.Never,
		FewWho: outcomes.FewPatients, FewDays: outcomes.FewDays}
	if b.Quick {
		v.Notes = append(v.Notes, "Quick time: made-up days, apart from the clinic's own.")
	}
	for _, a := range b.Clinics {
		v.Notes = append(v.Notes, "Open alert about no patient: "+a.Text)
	}
	v.Groups = groups(b, links)
	listed := 0
	for _, g := range v.Groups {
		if g.Needs {
			listed += len(g.Rows)
		}
	}
	v.LookOff = b.Look - listed
	v.RestOff = b.Matching - b.Look - (len(b.Rows) - listed)
	v.Improved = []templates.ClinicImproved{improved(&o.Week6), improved(&o.Week12)}
	c.weeks(&v)
	for _, h := range o.Holds {
		word := causeWords[h.Cause]
		if word == "" {
			word = string(h.Cause)
		}
		v.Holds = append(v.Holds, templates.ClinicHold{Cause: word, Dates: h.Dates, Patients: h.Patients, Share: h.Share})
	}
	v.Steps, v.Moves = c.hurts(o.Steps), c.hurts(o.Exercises)
	return v
}

// groups are the groups of the board with their rows.
func groups(b *caseload.Board, links bool) []templates.BoardGroup {
	var out []templates.BoardGroup
	for _, n := range b.Groups {
		out = append(out, templates.BoardGroup{Title: n.Group.Title(), Needs: n.Group.NeedsLook(), N: n.N})
	}
	for i := range b.Rows {
		r := &b.Rows[i]
		at := slices.IndexFunc(b.Groups, func(c caseload.Count) bool { return c.Group == r.Group })
		if at < 0 {
			continue
		}
		row := templates.BoardRow{ID: r.ID, Name: r.Name, Program: r.Program, Cause: r.Cause, Day: r.SinceDay, Step: r.Step, Steps: r.Steps,
			Halves: r.DoneHalves, Due: r.Due, Scores: r.Scores, WearMin: r.WearMin, WearFull: r.WearFull, Visit: r.Visit}
		for _, a := range r.Alerts {
			row.Alerts = append(row.Alerts, a.Text)
		}
		if links {
			row.Link = PatientPath(r.ID)
		}
		out[at].Rows = append(out[at].Rows, row)
	}
	// A group none of whom is listed is only counted.
	return slices.DeleteFunc(out, func(g templates.BoardGroup) bool { return len(g.Rows) == 0 })
}

func improved(n *outcomes.Improvement) templates.ClinicImproved {
	return templates.ClinicImproved{Week: n.Week, Patients: n.Patients, NotYet: n.NotYet, There: n.There, NoBase: n.NoBase, NoPain: n.NoPain,
		NoAnswer: n.NoAnswer, Compared: n.Compared, Improved: n.Improved, ByUsual: n.ByUsual, ByFirst: n.ByFirst, Rate: rate(n.Share), TooFew: n.TooFew}
}

func rate(r *outcomes.Rate) *templates.ClinicRate {
	if r == nil {
		return nil
	}
	return &templates.ClinicRate{Per100: r.Per100, Low: r.Low, High: r.High}
}

// weeks are the figures by week, and those of whole courses.
func (c *Clinic) weeks(v *templates.ClinicReport) {
	o := &c.Outcomes
	week := func(n int, s *outcomes.Spread) templates.ClinicWeek {
		if s == nil {
			return templates.ClinicWeek{Week: n}
		}
		return templates.ClinicWeek{Week: n, N: s.N, Low: s.Q1, Median: s.Median, High: s.Q3}
	}
	for _, w := range o.Weeks {
		v.Exercise = append(v.Exercise, week(w.Number, w.Exercise))
		if w.Could > 0 {
			v.Answers = append(v.Answers, templates.ClinicAnswers{Week: w.Number, Could: w.Could, Answering: w.Answering})
		}
	}
	for _, w := range o.Wear {
		v.Wear = append(v.Wear, week(w.Number, w.WearKept))
	}
	for _, x := range []struct {
		what string
		s    *outcomes.Spread
	}{{"Exercise done, of days due", o.Exercise}, {"Wear kept, of days reported", o.WearKept}, {"Wear reported, of days asked", o.WearReported}, {"Held by pain or paused, of decided days", o.PainHeld}} {
		if x.s != nil {
			v.Whole = append(v.Whole, templates.ClinicSpread{What: x.what, N: x.s.N, Low: x.s.Q1, Median: x.s.Median, High: x.s.Q3})
		}
	}
}

// hurts puts the clinic's own names to steps and exercises.
func (c *Clinic) hurts(rows []outcomes.Hurt) []templates.ClinicHurt {
	var out []templates.ClinicHurt
	for _, r := range rows {
		x := templates.ClinicHurt{Program: r.Program, What: "Step " + strconv.Itoa(r.Step), Patients: r.Patients, Days: r.Days, Answered: r.Answered,
			Pain: r.Pain, Hurt: r.Hurt, Rate: rate(r.Rate), TooFew: r.TooFew}
		if r.Exercise != "" {
			x.What = r.Exercise
		}
		for _, t := range c.Titles {
			if t.ID != r.Program {
				continue
			}
			x.Program = t.Title
			if name := t.Exercises[r.Exercise]; name != "" {
				x.What = name
			}
		}
		out = append(out, x)
	}
	return out
}
