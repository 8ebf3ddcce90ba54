package config

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"stepgate/rules"
)

// across checks what only shows once all files are read.
func (l *loader) across() {
	for _, key := range slices.Sorted(maps.Keys(l.known)) {
		if files := l.known[key]; len(files) > 1 {
			l.wrong(rules.Pos{File: files[1]}, "the file's name differs only in capitals from "+files[0], "give every program a name of its own")
		}
	}
	l.ids = make(map[string]*Enrollment, len(l.patients))
	holders := make(map[held]*Enrollment, len(l.patients))
	for i := range l.patients {
		p := &l.patients[i]
		l.asOf(p)
		l.sameID(p)
		l.usesProgram(p)
		if p.open && p.Address.To != "" {
			l.reached(p, holders)
		}
	}
	l.crowded()
	l.unapproved()
	l.unheard()
}

// usesProgram checks the enrollment against its program.
func (l *loader) usesProgram(p *patient) {
	if p.Program == "" {
		return
	}
	program, written := l.programs[p.Program]
	if !written {
		if len(l.programs) == 0 {
			return // said once already
		}
		l.wrong(p.place(p.at.program), "nobody wrote a program "+quoted(p.Program), suggest(p.Program, slices.Collect(maps.Keys(l.programs))))
		return
	}
	if program == nil {
		return
	}
	l.suits(p, program)
}

// unapproved notes programs without a clinician's approval: they may be tried
// on the spool, but reach no patient.
func (l *loader) unapproved() {
	type use struct {
		first *patient
		n     int
	}
	reached := map[string]use{}
	for i := range l.patients {
		p := &l.patients[i]
		if p.open && p.Address.To != "" && p.Address.Channel != onSpool {
			u, seen := reached[p.Program]
			if !seen {
				u.first = p
			}
			u.n++
			reached[p.Program] = u
		}
	}
	for _, id := range slices.Sorted(maps.Keys(l.programs)) {
		program := l.programs[id]
		if program == nil || program.Approved != nil {
			continue
		}
		at := program.At("program")
		if u, ok := reached[id]; ok {
			l.wrong(at, fmt.Sprintf("the program is not approved, but %s not on the spool (%s at %s)",
				count(u.n, "enrollment"), quoted(u.first.ID), u.first.At),
				"have a clinician add approved: {by: NAME, on: DATE}, or move them to the spool")
			continue
		}
		l.warn(at, "the program is not approved, so it is served on the spool only", "have a clinician add approved: {by: NAME, on: DATE}")
	}
}

// unheard warns once where answers by mail are not collected.
func (l *loader) unheard() {
	if e := l.clinic.Email; e != nil && e.IMAP != nil {
		return
	}
	var first *patient
	n := 0
	for i := range l.patients {
		p := &l.patients[i]
		if p.open && p.Address.Channel == onEmail {
			if n++; n == 1 {
				first = p
			}
		}
	}
	if n > 0 {
		l.warn(first.place(first.at.contact), count(n, "enrollment")+" on email: answers by mail are not collected, so the program day waits (unheard)",
			"add imap: below email: in "+settingsFile+", or use sms or the spool for patients whose program should go on")
	}
}

// sameID notes an id that stands twice; ids that differ in capitals only are
// the same to many file systems and to the eye.
func (l *loader) sameID(p *patient) {
	if p.ID == "" {
		return
	}
	key := strings.ToLower(p.ID)
	first, twice := l.ids[key]
	switch {
	case !twice:
		l.ids[key] = p.Enrollment
	case first.ID == p.ID:
		l.wrong(p.At, "the id "+quoted(p.ID)+" is taken by the enrollment at "+first.At.String(), "give every enrollment an id of its own")
	default:
		l.wrong(p.At, "the id "+quoted(p.ID)+" differs only in capitals from "+quoted(first.ID)+" at "+first.At.String(), "give every enrollment an id of its own")
	}
}
