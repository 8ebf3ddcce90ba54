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
	l.crowded()
	l.unapproved()
	l.unheard()
}

// person is what of a patient is told where another has the same.
type person struct {
	id string
	at rules.Pos
}

// use is how many patients use something, and who is the first.
type use struct {
	n     int
	first person
}

func (u *use) count(first person) {
	if u.n++; u.n == 1 {
		u.first = first
	}
}

// take takes in a file of patients, and holds each against the settings, the
// programs and those before. They are packed then, as there may be very many.
func (l *loader) take(r *reading) {
	l.list = append(l.list, r.list...)
	if r.broken != "" {
		l.broken[r.broken] = true
	}
	list := make([]*Enrollment, len(r.patients))
	for i := range r.patients {
		p := &r.patients[i]
		l.people = append(l.people, person{p.ID, p.At})
		l.asOf(p)
		l.sameID(p)
		l.usesProgram(p)
		if p.open && p.Address.To != "" {
			l.reached(p)
			l.counted(p)
		}
		list[i] = p.Enrollment
	}
	l.rolls = append(l.rolls, NewRoll(list))
}

// counted counts an open patient for what is told of all together.
func (l *loader) counted(p *patient) {
	if p.Address.Channel == onSpool {
		return
	}
	u := l.uses[p.Program]
	if u == nil {
		u = &use{}
		l.uses[p.Program] = u
	}
	u.count(person{p.ID, p.At})
	switch p.Address.Channel {
	case onEmail:
		l.mailed.count(person{p.ID, p.place(p.at.contact)})
	case onSMS:
		due := l.texted[p.Sender]
		if due == nil {
			due = &[24 * 60]int{}
			l.texted[p.Sender] = due
		}
		due[p.Time]++
	}
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
	for _, id := range slices.Sorted(maps.Keys(l.programs)) {
		program := l.programs[id]
		if program == nil || program.Approved != nil {
			continue
		}
		at := program.At("program")
		if u := l.uses[id]; u != nil {
			l.wrong(at, fmt.Sprintf("the program is not approved, but %s not on the spool (%s at %s)",
				count(u.n, "enrollment"), quoted(u.first.id), u.first.at),
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
	if l.mailed.n > 0 {
		l.warn(l.mailed.first.at, count(l.mailed.n, "enrollment")+" on email: answers by mail are not collected, so the program day waits (unheard)",
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
	place, twice := l.ids[key]
	if !twice {
		l.ids[key] = int32(len(l.people) - 1)
		return
	}
	switch first := l.people[place]; {
	case first.id == p.ID:
		l.wrong(p.At, "the id "+quoted(p.ID)+" is taken by the enrollment at "+first.at.String(), "give every enrollment an id of its own")
	default:
		l.wrong(p.At, "the id "+quoted(p.ID)+" differs only in capitals from "+quoted(first.id)+" at "+first.at.String(), "give every enrollment an id of its own")
	}
}
