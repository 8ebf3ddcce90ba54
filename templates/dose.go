package templates

import (
	"strconv"
	"strings"
	"time"

	"stepgate/rules"
)

// amount is what the dose templates see.
type amount struct {
	Sets, Reps, Sessions int
	Hold, Rest           time.Duration
	Leg                  string // each, turns, both, left, right, treated or empty
	Tempo                rules.Tempo
	RM                   int
	Load                 string
}

// amountOf puts a dose in terms of the patient's own legs.
func amountOf(d rules.Due, side rules.Side, affected string) amount {
	a := amount{Sets: d.Sets, Reps: d.Reps, Sessions: d.Sessions, Hold: d.Hold, Tempo: d.Tempo, RM: d.RM}
	if d.Sets > 1 { // otherwise there is nothing to rest between
		a.Rest = d.Rest
	}
	if hold := time.Duration(a.Tempo.Hold) * time.Second; a.Hold > 0 && hold > 0 {
		// One hold said once; of two the shorter, which is less load.
		a.Tempo.Hold, a.Hold = int(min(a.Hold, hold)/time.Second), 0
	}
	switch side {
	case rules.SideEach:
		a.Leg = "each"
	case rules.SideAlternate:
		a.Leg = "turns"
	case rules.SideTogether:
		a.Leg = "both"
	case rules.SideAffected:
		switch affected {
		case "left", "right":
			a.Leg = affected
		case "both":
			a.Leg = "each"
		default: // never "each": that would be twice the work
			a.Leg = "treated"
		}
	}
	return a
}

// line is one exercise as a text lists it.
type line struct {
	N    string // its number, where there are several
	Name string
	Dose string // empty where the line above the list says it for all
	Same bool   // as much as of the one before
	Form string // the way to do it, where it is not the plain one
}

// item is one exercise with all that the mail and the how-to say of it.
type item struct {
	line
	Full   string // the dose in full
	Why    string // what it is good for
	How    string
	Easier string
	Care   string
	Needs  []string
}

// items lists the exercises due, whole or as a text lists them, and the line
// above the list that says what they share.
func (l *language) items(p Patient, prog *rules.Program, dues []rules.Due, whole bool) (list []item, all string) {
	if len(dues) == 0 {
		return nil, ""
	}
	list = make([]item, len(dues))
	amounts := make([]amount, len(dues))
	for i, due := range dues {
		it := &list[i]
		it.Name = due.Exercise
		ex, side := prog.Exercises[due.Exercise], due.Side
		if ex != nil {
			it.Name = ex.Name.In(l.code)
			if side == "" {
				side = ex.Side
			}
		}
		if len(dues) > 1 {
			it.N = strconv.Itoa(i + 1)
		}
		amounts[i] = amountOf(due, side, p.Affected)
		amounts[i].Load = due.Load.In(l.code)
		it.Form = l.form(ex, due, amounts[i].Leg)
		it.Same = i > 0 && amounts[i] == amounts[i-1]
		it.Dose = l.phrase("dose", amounts[i])
		if whole {
			it.Full = l.phrase("dose/full", amounts[i])
		}
		if whole && ex != nil {
			it.How, it.Easier, it.Care = ex.How.In(l.code), ex.Easier.In(l.code), ex.Care.In(l.code)
			it.Why, it.Needs = ex.Why.In(l.code), l.words.needs(ex.Needs)
		}
	}
	switch {
	case len(list) < 2:
	case same(amounts, func(a amount) amount { return a }):
		all = l.phrase("all alike", amounts[0])
		for i := range list {
			list[i].Dose, list[i].Same = "", false
		}
	case amounts[0].Sessions > 1 && same(amounts, func(a amount) int { return a.Sessions }):
		all = l.phrase("all sessions", amounts[0])
		for i := range list {
			list[i].Dose = l.phrase("amount", amounts[i])
		}
	}
	return list, all
}

// form is what the form templates see.
type form struct{ Leg, Text string }

// form is the way an exercise is to be done, with the leg it is for where the
// other one does it plainly. A form for a leg that is not asked is left out.
func (l *language) form(ex *rules.Exercise, due rules.Due, leg string) string {
	if due.Form == "" || (leg == "left" || leg == "right") && due.Only != "" && due.Only != leg {
		return ""
	}
	f := form{Text: strings.ReplaceAll(due.Form, "-", " ")} // a form without words: its key
	if ex != nil && len(ex.Forms[due.Form]) > 0 {
		f.Text = strings.TrimRight(strings.TrimSpace(ex.Forms[due.Form].In(l.code)), ".")
	}
	if due.Only != leg {
		f.Leg = due.Only
	}
	return l.forms.get(f, func(f form) string { return l.line("form", f) })
}

// dosePhrase is one template of an amount.
type dosePhrase struct {
	key string
	a   amount
}

// phrase renders a phrase. There are as many as the clinic's programs have
// different doses, and each is needed every morning for every patient on it.
func (l *language) phrase(key string, a amount) string {
	return l.phrases.get(dosePhrase{key, a}, func(p dosePhrase) string { return l.line(p.key, p.a) })
}

// same tells whether one aspect of all amounts is the same.
func same[T comparable](amounts []amount, aspect func(amount) T) bool {
	for _, a := range amounts[1:] {
		if aspect(a) != aspect(amounts[0]) {
			return false
		}
	}
	return true
}
