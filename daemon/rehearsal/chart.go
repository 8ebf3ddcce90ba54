package rehearsal

import (
	"fmt"
	"strconv"
	"strings"

	"stepgate/daemon/page"
	"stepgate/rules"
)

// Chart prints one row a date: step, wear time and pain, and where the program
// day did anything but go on, why. It is plain ASCII in 80 columns.
func Chart(p *page.Page, plan *Plan, days []Day) {
	chartRows(p, "", plan, days)
	p.Line()
	p.Wrap("", "", fmt.Sprintf("P is the program day. Pain is the worst score sent that day, a mark for each of %d points, with | before "+
		"the hold line, %d; the next day answers to it. The reason is left empty where the program day just went one on.",
		scale, plan.lines().Hold))
}

// chartRows prints the rows of a chart under their head.
func chartRows(p *page.Page, indent string, plan *Plan, days []Day) {
	p.Line(indent + fmt.Sprintf(chartRow, "date", "day", "P", "step", "wear", "", "pain", "state", "why"))
	for i := range days {
		p.Line(strings.TrimRight(indent+row(plan, &days[i]), " "))
	}
}

// scale is the highest score.
const scale = 10

// chartRow is the layout of a row: date, day, P, step, wear, pain, state, why.
const chartRow = "%-10s %3s %3s %4s %5s %2s %-11s %-11s %s"

func row(plan *Plan, d *Day) string {
	pain := ""
	if d.pain != nil {
		pain = strconv.Itoa(*d.pain)
	}
	return fmt.Sprintf(chartRow, d.Date.Time().Format("Mon Jan _2"), strconv.Itoa(d.n), count(d.ProgramDay), count(d.Step),
		wear(d), pain, bar(d.pain, plan.lines().Hold), string(d.State), reason(plan, d))
}

func count(n int) string {
	if n == 0 {
		return "-"
	}
	return strconv.Itoa(n)
}

// wear writes the wear time asked like 8h or 1h30.
func wear(d *Day) string {
	dec := d.decision
	switch {
	case dec != nil && dec.WearOut:
		return "out"
	case d.WearMin == 0:
		return "-"
	}
	return brief(d.WearMin)
}

// brief writes minutes like 8h, 30m or 1h30.
func brief(minutes int) string {
	switch {
	case minutes%60 == 0:
		return fmt.Sprintf("%dh", minutes/60)
	case minutes < 60:
		return fmt.Sprintf("%dm", minutes)
	}
	return fmt.Sprintf("%dh%02d", minutes/60, minutes%60)
}

// bar draws a score with the hold line in it: the score fills one place for
// each point, and | stands before the place of the hold line.
func bar(score *int, hold int) string {
	var b strings.Builder
	for i := 1; i <= scale; i++ {
		if i == max(hold, 1) {
			b.WriteByte('|')
		}
		switch {
		case score == nil:
			b.WriteByte(' ')
		case i <= *score:
			b.WriteByte('#')
		default:
			b.WriteByte('.')
		}
	}
	return b.String()
}

// reasonWidth is what a row leaves for the reason.
const reasonWidth = page.Width - 57

// reason is the reason's name, where that is not the usual one day on, with
// the line of the rule in the program's file.
func reason(plan *Plan, d *Day) string {
	dec := d.decision
	switch {
	case dec == nil:
		return d.Why.Text
	case dec.Why.Code == rules.Tick && dec.Why.Rule == "":
		return ""
	case dec.Why.Code == rules.Tick:
		return "next step"
	}
	out := string(dec.Why.Code)
	if at := dec.Why.At; at.Line > 0 && at.File == plan.Program.At("program").File {
		if long := fmt.Sprintf("%s (line %d)", out, at.Line); len(long) <= reasonWidth {
			return long
		}
	}
	return out
}
