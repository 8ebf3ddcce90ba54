package rehearsal

import (
	"fmt"
	"slices"
	"strings"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/templates"
)

// Print prints a rehearsal that was played: the conversation, then the chart.
func Print(p *page.Page, words *templates.Set, plan *Plan, days []Day) {
	head(p, plan)
	for i := range days {
		if d := &days[i]; len(d.lines) > 0 || page.Told(words, d.decision) != "" {
			p.Printf("\n%s\n", p.Bold(fmt.Sprintf("%s, day %d", page.LongDate(d.Date), d.n)))
			p.Talk(plan.Enrollment.Name, page.Told(words, d.decision), d.lines)
		}
	}
	p.Printf("\n%s\n\n", p.Bold("Step, pain and wear time by day"))
	Chart(p, plan, days)
	p.Line()
	costs(p, days)
}

// head says who is rehearsed and what is not the patient's own.
func head(p *page.Page, plan *Plan) {
	e := plan.Enrollment
	who := "A made-up patient"
	if e.ID != madeUpID {
		who = "The patient of the enrollment " + e.ID
	}
	p.Wrap("", "", p.Bold(plan.Program.ID)+" ("+plan.Program.Title.In(plan.Clinic.Language)+")")
	p.Wrap("", "", fmt.Sprintf("%s, %s from %s on; the message comes at %s, %s time.", who, plural(plan.Days, "day"),
		plan.First.Time().Format("Mon Jan 2 2006"), e.Time, e.Zone))
	p.Line("Nothing here goes to anybody, and nothing of it is kept.")
	texts := slices.ContainsFunc(plan.Replies, func(r config.Reply) bool { return r.Entry == nil })
	if !texts {
		p.Wrap("", "", "No replies were given, so "+e.Name+" stays silent; give some with --replies FILE.csv.")
	}
	if len(plan.Left) > 0 {
		p.Wrap("", "", "Left out, because it belongs to the real calendar: "+strings.Join(plan.Left, ", ")+".")
	}
	p.Line("\n" + page.Signs)
}

// costs counts the texts.
func costs(p *page.Page, days []Day) {
	texts, segments, most, alerts := 0, 0, 0, 0
	for _, d := range days {
		for _, m := range d.Messages {
			if m.To == toClinician {
				alerts++
				continue
			}
			texts++
			segments += m.Segments
			most = max(most, m.Segments)
		}
	}
	p.Wrap("", "", fmt.Sprintf("%s to the patient, %s (the longest %d); %s to the clinician.",
		plural(texts, "text"), plural(segments, "segment"), most, plural(alerts, "alert")))
}

// plural writes a number with its noun: 1 text, 2 texts.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
