package demo

import (
	"slices"

	"stepgate/daemon/journal"
	"stepgate/daemon/page"
	"stepgate/rules"
)

// lived is one patient's day.
type lived struct {
	decision *rules.Decision
	lines    []page.Line
	plain    bool // every reply was taken without more ado
	answered bool
}

// day is what the journal got on one date.
type day struct {
	date  rules.Date
	n     int
	lived map[string]*lived
}

func newDay(date rules.Date, n int) *day {
	return &day{date: date, n: n, lived: map[string]*lived{}}
}

func (d *day) of(id string) *lived {
	l := d.lived[id]
	if l == nil {
		l = &lived{plain: true}
		d.lived[id] = l
	}
	return l
}

// add files an event under its patient.
func (d *day) add(ev journal.Event) {
	if ev.ID == "" {
		return
	}
	l := d.of(ev.ID)
	switch {
	case ev.Decision != nil:
		l.decision = ev.Decision
	case ev.Out != nil && ev.Out.Decision != nil:
		l.decision = ev.Out.Decision
	case ev.Out != nil && ev.Out.Kind == "alert", ev.Entry != nil:
		l.plain = false
	case ev.In != nil:
		l.answered = true
		l.plain = l.plain && ordinary(ev.In.Hearing)
	}
	if line, ok := page.LineOf(ev); ok {
		l.lines = append(l.lines, line)
	}
}

func ordinary(h *rules.Hearing) bool {
	if h == nil {
		return false
	}
	for _, p := range h.Parts {
		if p != rules.SayDone && p != rules.SayScore && p != rules.SayFirstStep {
			return false
		}
	}
	return true
}

// quietCodes need no telling when they follow themselves.
var quietCodes = []rules.Code{
	rules.Tick, rules.WearFull, rules.Waiting, rules.Paused, rules.TableEnd, rules.WearNone, rules.WearQuiet,
	rules.Lost, rules.Suspended, rules.OptedOut, rules.AwayCode,
}

// eventful tells whether a day is worth showing after the day before it.
func (l *lived) eventful(before *rules.Decision) bool {
	d := l.decision
	switch {
	case !l.plain || d == nil || before == nil:
		return true
	case d.Step != before.Step, d.Weekly && d.Send, d.Closing:
		return true
	case !slices.Contains(quietCodes, d.Why.Code):
		return true
	case d.Why.Code != before.Why.Code && before.Why.Code != rules.FirstDay:
		return true
	}
	return l.wearTells(before)
}

func (l *lived) wearTells(before *rules.Decision) bool {
	code := l.decision.WearWhy.Code
	return slices.Contains(page.OwnWear, code) || code == rules.WearQuiet && before.WearWhy.Code != code
}
