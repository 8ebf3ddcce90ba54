package templates

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"stepgate/rules"
)

// noteWidth is the columns of a note: records keep plain lines of at least so
// many.
const noteWidth = 78

// asciiOf writes what a note uses beyond ASCII, and not all records take.
var asciiOf = strings.NewReplacer("–", "-", "“", `"`, "”", `"`, "’", "'")

// Note is the report as plain text to paste into any record: a paragraph and a
// table.
func (s *Set) Note(p PatientReport) string {
	w := s.report(p.Language)
	as := p.AsOf
	if as == 0 {
		as = rules.DateOf(p.Made)
	}
	var b strings.Builder
	para := func(parts ...string) {
		b.WriteString(lineUp(strings.Join(parts, " "), noteWidth) + "\n")
	}
	para(w.say("note/title", "name", p.Name, "id", p.ID, "program", p.Program, "date", w.long(as)))
	if p.Quick {
		para(w.say("quick"))
	}
	b.WriteString("\n")
	parts := append([]string{w.say("note/head", "dispensed", w.long(p.Dispensed))}, w.summary(&p)...)
	if why := s.plainWhy(w, p.Why); why != "" && p.AsOf != 0 {
		parts = append(parts, w.say("state/now", "why", why))
	}
	for _, by := range p.First.By {
		if by.Is == "yes" || by.Is == "no" {
			parts = append(parts, w.improved(p.First, by))
		}
	}
	if len(p.Cautions) > 0 {
		parts = append(parts, w.say("note/caution", "list", w.cautions(&p)))
	}
	para(parts...)
	if rows := w.noteRows(&p); len(rows) > 1 {
		b.WriteString("\n" + setRows(rows) + "\n")
		para(w.say("note/source"))
	}
	para(w.say("note/record"))
	return asciiOf.Replace(b.String())
}

// noteRows are the table, a week a row, under its head.
func (w reportWords) noteRows(p *PatientReport) [][]string {
	rows := [][]string{{w.say("note/week"), w.say("note/step"), w.say("note/done"), w.say("note/wear"), w.say("note/pain"), w.say("note/first"), w.say("note/held")}}
	for _, k := range p.Weeks {
		if k.Week == 0 {
			continue
		}
		row := []string{fmt.Sprintf("%d  %s", k.Week, w.words.shortDate(k.From)), "–", "–", "–", "–", number(k.First), "–"}
		if k.Step > 0 {
			row[1] = fmt.Sprint(k.Step)
		}
		if k.Due > 0 {
			row[2] = fmt.Sprintf("%s/%d", k.Done(), k.Due)
		}
		for _, wear := range p.Wear {
			if wear.From <= k.From && k.From < wear.From+7 && wear.Reported > 0 {
				row[3] = fmt.Sprintf("%d/%d", wear.Kept, wear.Reported)
			}
		}
		switch {
		case k.Low == nil:
		case *k.Low == *k.High:
			row[4] = number(k.Low)
		default:
			row[4] = number(k.Low) + "-" + number(k.High)
		}
		if k.Held > 0 {
			row[6] = w.say("note/held days", "n", k.Held)
		}
		rows = append(rows, row)
	}
	return rows
}

// setRows sets rows as columns two spaces apart.
func setRows(rows [][]string) string {
	wide := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			wide[i] = max(wide[i], utf8.RuneCountInString(cell))
		}
	}
	var b strings.Builder
	for _, row := range rows {
		line := ""
		for i, cell := range row {
			line += cell + strings.Repeat(" ", wide[i]-utf8.RuneCountInString(cell)+2)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	return b.String()
}

// lineUp breaks a text at words, so that lines have at most so many characters.
func lineUp(text string, most int) string {
	var b strings.Builder
	col := 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case col == 0:
		case col+1+n > most:
			b.WriteByte('\n')
			col = 0
		default:
			b.WriteByte(' ')
			col++
		}
		b.WriteString(word)
		col += n
	}
	return b.String()
}
