package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"stepgate/daemon/caseload"
	"stepgate/rules"
)

// boardPage prints a caseload for a person at a terminal: a line a patient, and
// why below it; on a phone's width two lines.
type boardPage struct {
	terminal
	dir     string
	grouped bool
	why     bool
	id      int  // columns of ids
	name    int  // and of names
	small   bool // too narrow for a table
}

// tableColumns are those of a table beside ids and names, with the longest
// state.
const tableColumns = 57

const whenFormat = "Mon Jan 2 2006 15:04"

func (p *boardPage) print(b *caseload.Board, running bool) {
	p.opening(b, running)
	if len(b.Rows) == 0 {
		return
	}
	p.id, p.name = 2, 4
	for i := range b.Rows {
		p.id, p.name = max(p.id, cells(b.Rows[i].ID)), max(p.name, cells(b.Rows[i].Name))
	}
	p.id = min(p.id, 12)
	p.small = p.width < tableColumns+p.id+min(p.name, 8)
	p.name = min(p.name, 12, max(8, p.width-tableColumns-p.id))
	if !p.small {
		p.line("")
		p.line(p.dim(p.columns("ID", "Name", "Day", "Step", "Done", "Pain, 14 days", "Wear", "State")))
	}
	at := map[caseload.Group]int{}
	for i := range b.Rows {
		at[b.Rows[i].Group]++
	}
	group := caseload.Group("")
	for i := range b.Rows {
		r := &b.Rows[i]
		if p.grouped && r.Group != group {
			group = r.Group
			p.heading(group, at[group], b.Groups)
		}
		p.row(r)
	}
	p.closing(b)
}

// opening says whose caseload it is, of when, and what there is to know before
// any row.
func (p *boardPage) opening(b *caseload.Board, running bool) {
	at := b.AsOf.Format(whenFormat)
	head := fmt.Sprintf("%s, %s: %d enrolled", b.Clinic, at, b.Enrolled)
	if b.Enrolled > 0 {
		needs := fmt.Sprintf("%d need a look", b.Look)
		switch b.Look {
		case 0:
			needs = "nobody needs a look"
		case 1:
			needs = "1 needs a look"
		}
		head += ", " + needs
	}
	p.hang(head + ".")
	p.quick(b.Quick)
	if !running {
		p.hang("! No service runs. This is how things stood when the journal was last written" + howOld(b.AsOf) + "; nobody gets a message now.")
	}
	for _, a := range b.Clinics {
		p.hang("! not acknowledged: " + a.Text + ", " + a.At.Format("Mon Jan 2 15:04"))
	}
	switch {
	case b.Enrolled == 0:
		p.wrap("", 0, "Nobody is enrolled. Write the first patient into enrollments.yaml; a running service takes up what is saved.")
	case b.Decided == 0:
		p.wrap("", 0, "Nothing was decided yet: that comes with each patient's first message.")
	}
	if b.Enrolled > 0 && b.Matching == 0 {
		p.wrap("", 0, "Nobody is as asked for.")
	}
	if len(b.Gone) > 0 {
		p.hang(fmt.Sprintf("No longer in the files, with records kept: %s. Look with stepgate patient %s ID.", some(b.Gone, 5), p.dir))
	}
}

// howOld says how old the data are, from a day on.
func howOld(at time.Time) string {
	if days := int(time.Since(at).Hours()) / 24; days > 0 {
		return ", " + plural(days, "day") + " ago"
	}
	return ""
}

func some(ids []string, most int) string {
	if len(ids) <= most {
		return strings.Join(ids, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(ids[:most], ", "), len(ids)-most)
}

func (p *boardPage) heading(g caseload.Group, shown int, counts []caseload.Count) {
	text := fmt.Sprintf("%s (%d)", g.Title(), shown)
	for _, c := range counts {
		if c.Group == g && c.N > shown {
			text = fmt.Sprintf("%s (%d of %d)", g.Title(), shown, c.N)
		}
	}
	p.line("")
	switch {
	case g.NeedsLook():
		p.line(p.style("1;31", "! "+text))
	default:
		p.line(p.bold(text))
	}
}

// columns lays out one line of 80 columns at most, less where ids and names
// are short.
func (p *boardPage) columns(id, name, day, step, done, pain, wear, state string) string {
	return strings.Join([]string{p.fit(id, p.id), p.fit(name, p.name), right(day, 4), right(step, 5), right(done, 5), p.fit(pain, 17),
		p.fit(wear, 8), state}, " ")
}

func (p *boardPage) row(r *caseload.Row) {
	day, step, done, wear := dayText(r), stepText(r), doneText(r), wearText(r)
	pain, state := p.trend(r), string(r.State)
	if p.small {
		p.twoLines(r, day, step, done, wear, pain)
	} else {
		line := p.columns(r.ID, r.Name, day, step, done, pain, wear, state)
		if beside := line + "  " + r.Cause; r.Cause != "" && cells(beside) <= p.width && p.width > 100 {
			p.line(beside)
		} else {
			p.line(line)
			p.below(r.Cause, 4)
		}
	}
	if p.why && r.WhyText != "" {
		p.below("why: "+r.WhyText, 4)
		if r.WearWhy != "" && r.WearWhy != r.WhyText {
			p.below("wear: "+r.WearWhy, 4)
		}
	}
}

// twoLines is a row on a phone.
func (p *boardPage) twoLines(r *caseload.Row, day, step, done, wear, pain string) {
	right := strings.TrimSpace("day " + day + " step " + step)
	left := p.width - cells(right) - 1
	p.line(p.fit(r.ID+" "+r.Name, left) + " " + right)
	if line := "  " + p.fit(pain, 17) + " " + done + " done " + wear; cells(line) <= p.width {
		p.line(line)
	} else {
		p.wrap("", 2, line)
	}
	p.below(r.Cause, 2)
}

func (p *boardPage) below(text string, indent int) {
	if text != "" {
		p.wrap("", indent, text)
	}
}

// closing explains the signs, and says what was left out.
func (p *boardPage) closing(b *caseload.Board) {
	p.line("")
	if n := len(b.Rows); n < b.Matching {
		p.wrap("", 0, fmt.Sprintf("%d of %d shown; --limit 0 shows all.", n, b.Matching))
	}
	dot := "·"
	if p.ascii {
		dot = "."
	}
	text := "Done: of the last 7 days with exercises. Pain: worst of each day, " + dot + " no score, then the last one. More: stepgate patient " +
		p.dir + " ID."
	for _, line := range p.folded(text, p.width) {
		p.line(p.dim(line))
	}
}

func dayText(r *caseload.Row) string {
	if r.SinceDay < 1 {
		return "-"
	}
	return strconv.Itoa(r.SinceDay)
}

func stepText(r *caseload.Row) string {
	if r.Step == 0 {
		return "-"
	}
	return fmt.Sprintf("%d/%d", r.Step, r.Steps)
}

func doneText(r *caseload.Row) string {
	if r.Due == 0 {
		return "-"
	}
	return fmt.Sprintf("%s/%d", halves(r.DoneHalves), r.Due)
}

// wearText is the hours asked now of the full time: 3/8 h, 1:30/8 h or out.
func wearText(r *caseload.Row) string {
	if r.WearFull == 0 || r.Date == 0 {
		return "-"
	}
	clock := func(min int) string {
		if min%60 == 0 {
			return strconv.Itoa(min / 60)
		}
		return fmt.Sprintf("%d:%02d", min/60, min%60)
	}
	if r.WearMin == 0 && r.WearDay > 0 {
		return "out"
	}
	return clock(r.WearMin) + "/" + clock(r.WearFull) + " h"
}

var bars = []rune("▁▂▃▄▅▆▇█")

// trend is the pain of the last 14 dates as bars, 0 the lowest and 10 the
// highest, or as digits, X being 10; then the last score.
func (s *terminal) trend(r *caseload.Row) string {
	if len(r.Scores) == 0 {
		return "-"
	}
	var b strings.Builder
	for _, n := range r.Scores {
		switch {
		case n < 0 && s.ascii:
			b.WriteByte('.')
		case n < 0:
			b.WriteRune('·')
		case s.ascii && n > 9:
			b.WriteByte('X')
		case s.ascii:
			b.WriteString(strconv.Itoa(n))
		default:
			b.WriteRune(bars[(n*(len(bars)-1)+5)/10])
		}
	}
	if n := r.LastScore(); n >= 0 {
		return b.String() + " " + strconv.Itoa(n)
	}
	return b.String() + " -"
}

// dateText is a date of a page: Mon Mar 9.
func dateText(d rules.Date) string { return d.Time().Format("Mon Jan 2") }
