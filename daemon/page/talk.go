package page

import (
	"fmt"
	"slices"
	"strings"

	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// Who says where a line of a conversation goes or comes from.
type Who string

// The four kinds of line.
const (
	To    Who = "to"    // a text to the patient
	From  Who = "from"  // the patient's reply
	Alert Who = "alert" // to the clinician
	Entry Who = "entry" // what the clinician wrote
)

// signs stand before the lines of a conversation.
var signs = map[Who]string{To: "->", From: "<-", Alert: "! ", Entry: "+ "}

// Signs explains the signs.
const Signs = `  ->  a text to the patient      <-  the patient's reply
  !   an alert to the clinician  +   an entry the clinician wrote
  =   why the program day did what it did that morning`

// Line is one line of a conversation.
type Line struct {
	Who  Who
	Text string
}

// LineOf is an event as a line. It is false for one that nobody says.
func LineOf(ev journal.Event) (Line, bool) {
	switch {
	case ev.Out != nil && ev.Out.Kind == "alert":
		return Line{Alert, ev.Out.Subject}, true
	case ev.Out != nil:
		return Line{To, ev.Out.Text}, true
	case ev.In != nil:
		return Line{From, ev.In.Text}, true
	case ev.Entry != nil:
		return Line{Entry, string(ev.Entry.Kind) + step(*ev.Entry) + " " + ev.Entry.On.String() + ", by " + ev.Entry.By}, true
	}
	return Line{}, false
}

func step(n rules.Entry) string {
	switch {
	case n.Kind != rules.EntryCap:
		return ""
	case n.Step == 0:
		return " none"
	}
	return fmt.Sprintf(" at step %d", n.Step)
}

// Talk prints one person's lines of a day, and first why the program day
// moved as it did.
func (p *Page) Talk(name, why string, lines []Line) {
	if why != "" {
		p.Wrap(fmt.Sprintf("  %-6s = ", name), "           ", p.Dim(why))
		name = ""
	}
	for _, line := range lines {
		head := fmt.Sprintf("  %-6s %s ", name, signs[line.Who])
		name = ""
		for para := range strings.SplitSeq(strings.TrimSpace(line.Text), "\n") {
			if line.Who == Alert {
				para = p.Red(para)
			}
			p.Wrap(head, "            ", para)
			head = "            "
		}
	}
}

// OwnWear are the wear day's own causes; it also waits along with the program
// day, which tells that itself.
var OwnWear = []rules.Code{rules.SkinOut, rules.SkinBack, rules.SkinWaits, rules.NotToday, rules.WoreLittle}

// Told is why the days moved as they did, where that is worth a line.
func Told(words *templates.Set, d *rules.Decision) string {
	switch {
	case d == nil:
		return ""
	case d.Why.Code != rules.Tick && d.Why.Code != rules.FirstDay:
		return words.Why("en", d.Why)
	case d.Why.Rule == "advance":
		return words.Why("en", d.Why)
	case slices.Contains(OwnWear, d.WearWhy.Code):
		return "wear: " + words.Why("en", d.WearWhy)
	}
	return ""
}
