package templates

import (
	"strconv"
	"time"

	"stepgate/rules"
)

// amount is what the dose templates see.
type amount struct {
	Sets, Reps, Sessions int
	Hold                 time.Duration
	Leg                  string // each, turns, both, left, right, treated or empty
}

// amountOf puts a dose in terms of the patient's own legs.
func amountOf(d rules.Due, side rules.Side, affected string) amount {
	a := amount{Sets: d.Sets, Reps: d.Reps, Sessions: d.Sessions, Hold: d.Hold}
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

// item is one exercise as a message lists it.
type item struct {
	N      string // its number, where there are several
	Name   string
	Dose   string // empty where the line above the list says it for all
	Same   bool   // as much as of the one before
	Full   string // the dose in full, for the mail
	How    string
	Easier string
	Care   string
	Needs  []string
}

// items lists the exercises due, and the line above the list that says what
// they share.
func (l *language) items(p Patient, prog *rules.Program, dues []rules.Due) (list []item, all string) {
	amounts := make([]amount, len(dues))
	for i, due := range dues {
		it := item{Name: due.Exercise}
		side := due.Side
		if ex := prog.Exercises[due.Exercise]; ex != nil {
			it.Name = ex.Name.In(l.code)
			it.How, it.Easier, it.Care = ex.How.In(l.code), ex.Easier.In(l.code), ex.Care.In(l.code)
			it.Needs = ex.Needs
			if side == "" {
				side = ex.Side
			}
		}
		if len(dues) > 1 {
			it.N = strconv.Itoa(i + 1)
		}
		amounts[i] = amountOf(due, side, p.Affected)
		it.Same = i > 0 && amounts[i] == amounts[i-1]
		it.Full = l.phrase("dose", amounts[i])
		it.Dose = it.Full
		list = append(list, it)
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

// phrase renders one template of an amount. Phrases are kept: there are as many
// as the clinic's programs have different doses, and each is needed every
// morning for every patient on it.
func (l *language) phrase(key string, a amount) string {
	type phrase struct {
		key string
		a   amount
	}
	at := phrase{key, a}
	if s, ok := l.phrases.Load(at); ok {
		return s.(string)
	}
	s := l.line(key, a)
	l.phrases.Store(at, s)
	return s
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
