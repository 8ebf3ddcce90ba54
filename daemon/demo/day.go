package demo

import (
	"slices"

	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// line is one message of a conversation.
type line struct {
	who  string // "to", "from", "alert", "entry" or "why"
	text string
}

// lived is one patient's day.
type lived struct {
	decision *rules.Decision
	lines    []line
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
		l.lines = append(l.lines, line{"to", ev.Out.Text})
	case ev.Out != nil && ev.Out.Kind == "alert":
		l.plain = false
		l.lines = append(l.lines, line{"alert", ev.Out.Subject})
	case ev.Out != nil:
		l.lines = append(l.lines, line{"to", ev.Out.Text})
	case ev.In != nil:
		l.answered = true
		l.plain = l.plain && ordinary(ev.In.Hearing)
		l.lines = append(l.lines, line{"from", ev.In.Text})
	case ev.Entry != nil:
		l.plain = false
		l.lines = append(l.lines, line{"entry", string(ev.Entry.Kind) + " " + ev.Entry.On.String() + ", by " + ev.Entry.By})
	}
}

func ordinary(h *rules.Hearing) bool {
	if h == nil {
		return false
	}
	for _, p := range h.Parts {
		if p != rules.SayDone && p != rules.SayScore {
			return false
		}
	}
	return true
}

// quietCodes need no telling when they follow themselves.
var quietCodes = []rules.Code{
	rules.Tick, rules.WearFull, rules.Waiting, rules.Paused, rules.TableEnd, rules.WearNone, rules.WearQuiet,
}

// eventful tells whether a day is worth showing after the day before it.
func (l *lived) eventful(before *rules.Decision) bool {
	d := l.decision
	switch {
	case !l.plain || d == nil || before == nil:
		return true
	case d.Step != before.Step:
		return true
	case !slices.Contains(quietCodes, d.Why.Code):
		return true
	case d.Why.Code != before.Why.Code && before.Why.Code != rules.FirstDay:
		return true
	}
	return l.wearTells(before)
}

// ownWear are the wear day's own causes; it also waits along with the program
// day, which tells that itself.
var ownWear = []rules.Code{rules.SkinOut, rules.SkinBack, rules.SkinWaits, rules.NotToday, rules.WoreLittle}

func (l *lived) wearTells(before *rules.Decision) bool {
	code := l.decision.WearWhy.Code
	return slices.Contains(ownWear, code) || code == rules.WearQuiet && before.WearWhy.Code != code
}

// told is why the days moved as they did, where that is worth a line.
func (l *lived) told(words *templates.Set) string {
	d := l.decision
	switch {
	case d == nil:
		return ""
	case d.Why.Code != rules.Tick && d.Why.Code != rules.FirstDay:
		return words.Why("en", d.Why)
	case d.Why.Rule == "advance":
		return words.Why("en", d.Why)
	case slices.Contains(ownWear, d.WearWhy.Code):
		return "wear: " + words.Why("en", d.WearWhy)
	}
	return ""
}
