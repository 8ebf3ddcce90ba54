package demo

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"stepgate/daemon/caseload"
	"stepgate/rules"
	"stepgate/templates"
)

// width is how many columns the demo needs.
const width = 80

// page prints the demo as it happens.
type page struct {
	out    io.Writer
	color  bool
	all    bool
	before map[string]*rules.Decision
	quiet  []*day // days running on which nothing new happened
}

func (p *page) title(clinic string, list []patient) {
	fmt.Fprintf(p.out, "%s: %d weeks with six patients, played on a made-up calendar.\n", p.bold(clinic), weeks)
	fmt.Fprintln(p.out, "Everything here is invented. The rules, the journal and the spool are real.")
	fmt.Fprintln(p.out)
	for _, x := range list {
		fmt.Fprintf(p.out, "  %-6s %s\n", x.name, x.story)
	}
	fmt.Fprintln(p.out, "\n  ->  a text to the patient      <-  the patient's reply")
	fmt.Fprintln(p.out, "  !   an alert to the clinician  +   an entry the clinician wrote")
	fmt.Fprintln(p.out, "  =   why the program day did what it did that morning")
	p.before = map[string]*rules.Decision{}
}

// day prints one date: in full for those to whom something happened, one
// line for the rest. Dates on which nothing happened are gathered.
func (p *page) day(d *day, words *templates.Set) {
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
		fmt.Fprintf(p.out, "\n%s\n", p.bold(fmt.Sprintf("%s, day %d", longDate(d.date), d.n)))
		if d.n == 1 && !p.all {
			p.patient(shown[0], d.of(shown[0].id), words)
			p.wrap("         ", "         ", p.dim("The other five get the same first text, with their own name, and answer it."))
			shown = nil
		}
		for _, x := range shown {
			p.patient(x, d.of(x.id), words)
		}
		if len(rest) > 0 {
			p.wrap("         ", "         ", p.dim("Nothing new: "+strings.Join(rest, ", ")+"."))
		}
	}
	for _, x := range patients {
		if l := d.of(x.id); l.decision != nil {
			p.before[x.id] = l.decision
		}
	}
}

// flush prints the dates gathered so far on one line.
func (p *page) flush() {
	if len(p.quiet) == 0 {
		return
	}
	first, last := p.quiet[0], p.quiet[len(p.quiet)-1]
	head := longDate(first.date)
	if first != last {
		head += " to " + longDate(last.date)
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
	fmt.Fprintf(p.out, "\n%s\n", p.bold(head))
	fmt.Fprintln(p.out, p.dim(fmt.Sprintf("         Nothing new. %d replies, all of them done and no trouble.", answered)))
}

// signs stand before the lines of a conversation.
var signs = map[string]string{"to": "->", "from": "<-", "alert": "! ", "entry": "+ "}

func (p *page) patient(x patient, l *lived, words *templates.Set) {
	name := x.name
	if why := l.told(words); why != "" {
		p.wrap(fmt.Sprintf("  %-6s = ", name), "           ", p.dim(why))
		name = ""
	}
	for _, line := range l.lines {
		head := fmt.Sprintf("  %-6s %s ", name, signs[line.who])
		name = ""
		for para := range strings.SplitSeq(strings.TrimSpace(line.text), "\n") {
			if line.who == "alert" {
				para = p.alert(para)
			}
			p.wrap(head, "            ", para)
			head = "            "
		}
	}
}

// ending prints a line a patient and what to try next.
func (p *page) ending(rows []caseload.Row, list []patient, dir string) {
	fmt.Fprintf(p.out, "\n%s\n\n", p.bold(fmt.Sprintf("Where they stand after %d weeks", weeks)))
	for i, r := range rows {
		p.wrap(fmt.Sprintf("  %-6s ", r.Name), "         ", fmt.Sprintf("step %d of %d, program day %d on day %d, wear %d h, %s",
			r.Step, r.Steps, r.ProgramDay, r.Day, r.WearMin/60, r.State))
		why := list[i].story
		if r.Why.Code != rules.Tick {
			why += "; " + r.WhyText
		}
		p.wrap("         ", "         ", p.dim(why))
	}
	fmt.Fprintf(p.out, `
The clinic's files, its journal and everybody's texts lie in
  %s

Try next:
  go run ./cmd/stepgate caseload %[1]s
  go run ./cmd/stepgate explain %[1]s p-02 --date 2026-03-11
  go run ./cmd/stepgate demo --all
  and the README's section on starting a real clinic.
`, dir)
}

// wrap prints text in the page's width, first behind head, then behind more.
func (p *page) wrap(head, more, text string) {
	col, line := utf8.RuneCountInString(head), head
	start := true
	for _, word := range strings.Fields(text) {
		n := visible(word)
		if !start && col+1+n > width {
			fmt.Fprintln(p.out, strings.TrimRight(line, " "))
			line, col, start = more, utf8.RuneCountInString(more), true
		}
		if !start {
			line, col = line+" ", col+1
		}
		line, col, start = line+word, col+n, false
	}
	fmt.Fprintln(p.out, strings.TrimRight(line, " "))
}

// visible counts the columns of a word without its color codes.
func visible(s string) int {
	n, esc := 0, false
	for _, r := range s {
		switch {
		case r == '\x1b':
			esc = true
		case esc:
			esc = r != 'm'
		default:
			n++
		}
	}
	return n
}

func longDate(d rules.Date) string { return d.Time().Format("Mon Jan 2") }

func (p *page) style(code, s string) string {
	if !p.color || s == "" {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

func (p *page) bold(s string) string  { return p.style("1", s) }
func (p *page) dim(s string) string   { return p.style("2", s) }
func (p *page) alert(s string) string { return p.style("31", s) }
