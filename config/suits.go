package config

import (
	"fmt"

	"stepgate/rules"
)

// suits checks what an enrollment says of its program, and gives the patient
// their own pain lines.
func (l *loader) suits(p *patient, program *rules.Program) {
	for _, e := range p.Entries {
		if n := len(program.Blocks); e.Step > n {
			l.wrong(e.At, fmt.Sprintf("the cap is at step %d, but the program has %s", e.Step, plural(n, "step")), "count the rows of its table from 1")
		}
	}
	good := l.ownLines(p, program)
	if !p.open {
		return // a program may change after a patient has left it
	}
	switch last := program.Weeks * 7; {
	case p.FromDay <= 1:
	case len(program.Blocks) == 0:
		l.wrong(p.place(p.at.day), "the program has no dose table to start on a later day of", "take starting day away")
	case last > 0 && p.FromDay > last:
		l.wrong(p.place(p.at.day), fmt.Sprintf("starting day %d lies past the program's last day, %d", p.FromDay, last), "write a day of its table")
	}
	if good {
		l.usualSuits(p, program)
	}
	l.tailoringSuits(p, program)
}

// ownLines puts the patient's own pain lines over those of the program. It
// tells whether those that count now are in order.
func (l *loader) ownLines(p *patient, program *rules.Program) bool {
	if p.waits == nil || p.waits.pain == nil {
		return true
	}
	s, lines := p.waits.pain, program.Pain
	good := l.lines(*s, &lines, " (the program's)")
	var written []string
	for _, k := range s.At.Keys {
		if k != "by" && k != "on" {
			written = append(written, k)
		}
	}
	if len(written) == 0 {
		l.wrong(s.At.Pos, "pain sets no line of the patient's own", "write steady, hold, step back, pause or clear days, or take pain away")
	}
	p.Lines, p.LinesAt = &lines, s.At.Pos
	return good
}

// usualSuits warns where a patient's usual pain would hold them up for good.
func (l *loader) usualSuits(p *patient, program *rules.Program) {
	if p.Usual == nil {
		return
	}
	lines, usual := p.Enrollment.Pain(program), *p.Usual
	do := "give the patient pain: lines of their own, or look whether the score is right"
	switch at := p.place(p.waits.usual); {
	case usual >= lines.Hold:
		l.warn(at, fmt.Sprintf("the usual pain of %d is at or over the hold line of %d, so the patient would be held for good", usual, lines.Hold), do)
	case usual > lines.Steady:
		l.warn(at, fmt.Sprintf("the usual pain of %d is over steady, %d, so the patient would never reach the next step", usual, lines.Steady), do)
	}
}
