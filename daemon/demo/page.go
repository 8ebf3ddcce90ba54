package demo

import (
	"fmt"
	"strings"

	"stepgate/daemon/caseload"
	"stepgate/daemon/page"
	"stepgate/rules"
	"stepgate/templates"
)

// show prints the demo as it happens.
type show struct {
	page.Page
	all    bool
	before map[string]*rules.Decision
	quiet  []*day // days running on which nothing new happened
}

func (p *show) title(clinic string, list []patient) {
	p.Wrap("", "", fmt.Sprintf("%s: %d weeks with six patients, on a made-up calendar.", p.Bold(clinic), weeks))
	p.Line("Everything here is invented. The rules, the journal and the spool are real.")
	p.Line()
	for _, x := range list {
		p.Printf("  %-6s %s\n", x.name, x.story)
	}
	p.Line("\n" + page.Signs)
	p.before = map[string]*rules.Decision{}
}

// day prints one date: in full for those to whom something happened, one
// line for the rest. Dates on which nothing happened are gathered.
func (p *show) day(d *day, words *templates.Set) {
	var shown []patient
	var rest []string
	for _, x := range patients {
		l := d.of(x.id)
		if p.all || l.eventful(p.before[x.id]) {
			shown = append(shown, x)
		} else {
			rest = append(rest, x.name)
		}
	}
	if len(shown) == 0 {
		p.quiet = append(p.quiet, d)
	} else {
		p.flush()
		p.Printf("\n%s\n", p.Bold(fmt.Sprintf("%s, day %d", page.LongDate(d.date), d.n)))
		if d.n == 1 && !p.all {
			p.patient(shown[0], d.of(shown[0].id), words)
			p.Wrap("         ", "         ", p.Dim("The other five get the same first text, with their own name, and answer it."))
			shown = nil
		}
		for _, x := range shown {
			p.patient(x, d.of(x.id), words)
		}
		if len(rest) > 0 {
			p.Wrap("         ", "         ", p.Dim("Nothing new: "+strings.Join(rest, ", ")+"."))
		}
	}
	for _, x := range patients {
		if l := d.of(x.id); l.decision != nil {
			p.before[x.id] = l.decision
		}
	}
}

// flush prints the dates gathered so far on one line.
func (p *show) flush() {
	if len(p.quiet) == 0 {
		return
	}
	first, last := p.quiet[0], p.quiet[len(p.quiet)-1]
	head := page.LongDate(first.date)
	if first != last {
		head += " to " + page.LongDate(last.date)
	}
	answered := 0
	for _, d := range p.quiet {
		for _, l := range d.lived {
			if l.answered {
				answered++
			}
		}
	}
	p.quiet = nil
	p.Printf("\n%s\n", p.Bold(head))
	p.Line(p.Dim(fmt.Sprintf("         Nothing new. %d replies, all of them done and no trouble.", answered)))
}

func (p *show) patient(x patient, l *lived, words *templates.Set) {
	p.Talk(x.name, page.Told(words, l.decision), l.lines)
}

// ending prints a line a patient and what to try next.
func (p *show) ending(rows []caseload.Row, list []patient, dir, program string) {
	p.Printf("\n%s\n\n", p.Bold(fmt.Sprintf("Where they stand after %d weeks", weeks)))
	for i, r := range rows {
		p.Wrap(fmt.Sprintf("  %-6s ", r.Name), "         ", fmt.Sprintf("step %d of %d, program day %d on day %d, wear %d h, %s",
			r.Step, r.Steps, r.ProgramDay, r.Day, r.WearMin/60, r.State))
		why := list[i].story
		if r.Why.Code != rules.Tick {
			why += "; " + r.WhyText
		}
		p.Wrap("         ", "         ", p.Dim(why))
	}
	p.Printf(`
The clinic's files, its journal and everybody's texts lie in
  %s

Try next:
  %[2]s caseload %[1]s
  %[2]s patient %[1]s p-06
  %[2]s report %[1]s --out clinic.html
  %[2]s demo --live
  and "The first hour" in the README.
`, dir, program)
}
