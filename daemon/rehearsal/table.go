package rehearsal

import (
	"fmt"
	"strings"

	"stepgate/daemon/page"
)

// Print prints a crowd: who reached which step when, where pain held them, and
// what it costs in texts.
func (c *Crowd) Print(p *page.Page) {
	p.Wrap("", "", fmt.Sprintf("%s: %d made-up patients for %d weeks from %s, seed %d.", p.Bold(c.Program), c.People, c.Weeks, c.Start, c.Seed))
	for _, line := range modelWords {
		p.Wrap("  ", "  ", line)
	}
	c.printReached(p)
	c.printTrouble(p)
	texts := c.Daily + c.Answers
	p.Line("\n" + p.Bold("What it costs"))
	p.Line()
	p.Wrap("  ", "  ", fmt.Sprintf("%d daily texts and %d answers, %d segments in all (the longest text %d).", c.Daily, c.Answers, c.Segments, c.Most))
	p.Wrap("  ", "  ", fmt.Sprintf("Each patient: %.1f texts, %.1f segments. %d replies; %d things to tell the clinician.",
		share(texts, c.People), share(c.Segments, c.People), c.Replies, c.Alerts))
}

// modelWords say how the people of a crowd answer.
var modelWords = []string{
	"Done on due days: 79% in weeks 1-2, 67% in weeks 3-6, 60% from week 7 on (an Achilles trial, BJSM 2021;55:486-92).",
	"Invented, all of it, to have something to rehearse with: a usual pain of 0, 1 or 2, a point more or less each day, " +
		"and flares (2% of the days done, 4% in the first week of a later step) of 3, 2 and 1 points on three days. " +
		"Who did not do it says \"not today\" half of the time and nothing otherwise. Nobody is released from a pause.",
}

func share(n, of int) float64 {
	if of == 0 {
		return 0
	}
	return float64(n) / float64(of)
}

// columns is how many steps stand beside each other.
const columns = 9

// printReached prints how many have been at each step by the end of each week,
// in as many tables as the steps need.
func (c *Crowd) printReached(p *page.Page) {
	if c.Steps == 0 {
		p.Line("\nThe program has no exercises, so there are no steps.")
		return
	}
	p.Line("\n" + p.Bold("How many have reached each step by the end of each week"))
	for from := 0; from < c.Steps; from += columns {
		to := min(from+columns, c.Steps)
		var head strings.Builder
		for s := from; s < to; s++ {
			fmt.Fprintf(&head, "%8s", fmt.Sprintf("step %d", s+1))
		}
		p.Printf("\n  week%s\n", head.String())
		for w, row := range c.Reached {
			var line strings.Builder
			for _, n := range row[from:to] {
				fmt.Fprintf(&line, "%8d", n)
			}
			p.Printf("  %4d%s\n", w+1, line.String())
		}
	}
}

func (c *Crowd) printTrouble(p *page.Page) {
	if c.Steps == 0 {
		return
	}
	p.Line("\n" + p.Bold("Where it holds"))
	p.Printf("\n  %4s %12s %14s %11s %7s %18s\n", "step", "pain holds", "people held", "step backs", "pauses", "dates waiting")
	for _, t := range c.Trouble {
		p.Printf("  %4d %12d %14d %11d %7d %18d\n", t.Step, t.Holds, t.People, t.StepBacks, t.Pauses, t.Waits)
	}
	p.Wrap("  ", "  ", "A hold counts under the step the score was sent in. Waiting is the advance rule at the end of a step, and no pain.")
}
