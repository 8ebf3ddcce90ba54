package rehearsal

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"stepgate/daemon/page"
	"stepgate/notify"
)

// widestName is the longest name of a program that its row has room for;
// a longer one has a line of its own.
const widestName = 30

// PrintCosts prints the longest texts, a row for each program and language,
// and the texts themselves where they are wanted.
func PrintCosts(p *page.Page, costs []Cost, whole bool) {
	if len(costs) == 0 {
		return
	}
	wide := len("program")
	for _, c := range costs {
		if n := utf8.RuneCountInString(c.Program); n <= widestName {
			wide = max(wide, n)
		}
	}
	p.Line("Texts by program, the longest a patient can get, in segments (characters):")
	p.Printf("\n  %-*s  %-8s  %10s  %10s  %10s  %s\n", wide, "program", "language", "first text", "daily text", "answer", "encoding")
	for len(costs) > 0 {
		n := 1
		for n < len(costs) && costs[n].Program == costs[0].Program && costs[n].Language == costs[0].Language {
			n++
		}
		printRow(p, wide, costs[:n])
		if whole {
			printTexts(p, costs[:n])
		}
		costs = costs[n:]
	}
	p.Line()
}

// printRow prints the texts of one program and language.
func printRow(p *page.Page, wide int, row []Cost) {
	cell, encoding := map[string]string{}, notify.GSM7
	for _, c := range row {
		cell[c.Kind] = fmt.Sprintf("%d (%d)", c.Segments, utf8.RuneCountInString(c.Text))
		if c.Encoding != notify.GSM7 {
			encoding = c.Encoding
		}
	}
	name := row[0].Program
	if utf8.RuneCountInString(name) > wide {
		p.Line("  " + name)
		name = ""
	}
	p.Printf("  %-*s  %-8s  %10s  %10s  %10s  %s\n", wide, name, row[0].Language, cell[FirstText], cell[DailyText], cell[AnswerText], encoding)
}

// printTexts prints the texts of one program and language.
func printTexts(p *page.Page, row []Cost) {
	for _, c := range row {
		p.Line()
		head := fmt.Sprintf("%-8s", c.Kind)
		for line := range strings.SplitSeq(c.Text, "\n") {
			p.Wrap("    "+head, "            ", line)
			head = "        "
		}
		for _, l := range c.Outside {
			sent := "goes out as " + l.Sent
			switch l.Sent {
			case l.Character:
				sent = "makes it UCS-2"
			case "":
				sent = "is left out"
			}
			p.Wrap("            ", "            ", fmt.Sprintf("[%s (%s) %s]", l.Character, l.Code, sent))
		}
	}
	p.Line()
}
