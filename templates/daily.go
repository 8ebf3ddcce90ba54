package templates

import (
	"strings"
	"time"

	"stepgate/rules"
)

// firstMax is how many segments the first text may take before a shorter
// wording is looked for. A daily text is shortened wherever that saves one.
const firstMax = 3

// day is what the daily templates see.
type day struct {
	Clinic  Clinic
	Name    string // to greet by; empty: no greeting
	Greet   string
	Date    rules.Date
	First   bool
	Planned bool // the program has exercises
	Rest    bool // nothing to do because of pain
	Back    bool // and the plan goes back
	Eased   bool
	Held    bool // a pain hold stands
	Items   []item
	All     string
	Wear    time.Duration
	WearOut bool
	Ask     rules.Question
	Short   bool
}

// Daily renders the message of a decided date, and the first message of an
// enrollment where the decision says it is the first.
//
// The text starts with the local date and ends with the question whose number
// it expects. It greets by name and is worded in full where neither costs a
// segment (the first: where it stays within three). What it can't shorten it
// sends whole: half a dose is worse than a segment more.
func (s *Set) Daily(c Clinic, p Patient, prog *rules.Program, d rules.Decision) Message {
	if prog == nil {
		prog = new(rules.Program)
	}
	l := s.in(p.Language)
	v := l.day(c, p, prog, d)
	m := Message{Text: l.dailyText(v)}
	if !p.TextOnly {
		m.Subject = l.line("subject/daily", v)
		m.HTML = l.dailyMail(v)
	}
	return m
}

func (l *language) day(c Clinic, p Patient, prog *rules.Program, d rules.Decision) day {
	v := day{
		Clinic: c, Name: p.Name, Date: d.Date, First: d.First, Planned: len(prog.Blocks) > 0,
		Rest: d.Rest, Eased: d.Eased, Held: d.Why.Code == rules.PainHeld, Ask: d.Ask,
		Back: d.Why.Code == rules.StepBack || d.Why.Code == rules.BlockAgain,
	}
	if !d.Rest { // a rest day lists nothing, whatever else the decision holds
		v.Items, v.All = l.items(p, prog, d.Doses)
	}
	if d.WearNow || d.WearOut {
		v.Wear, v.WearOut = d.Wear, d.WearOut
	}
	return v
}

func (l *language) dailyText(v day) string {
	key, most := "daily", 1
	if v.First {
		key, most = "first", firstMax
	}
	v.Clinic, v.Items = foldClinic(v.Clinic), foldItems(v.Items)
	v.Greet = l.greeting(v.Name)
	out, n := l.sms(key, v)
	if n <= most {
		return out
	}
	saving := 0
	if v.Greet != "" {
		saving = size(v.Greet) + len(". ")
		v.Greet = ""
		out, n = l.better(out, n, saving, key, v)
	}
	if n > most {
		v.Short = true
		out, _ = l.better(out, n, saving+l.saves(v), key, v)
	}
	return out
}

// sms renders a text and counts its segments.
func (l *language) sms(key string, v day) (string, int) {
	out, _ := fold(l.lines(key, v))
	return out, segments(size(out))
}

// better takes another wording if it needs fewer segments than the n of the
// one before. It does not even render it where saving so many septets can't
// be enough: that spares most texts a second and a third rendering.
func (l *language) better(out string, n, saving int, key string, v day) (string, int) {
	if segments(size(out)-saving) >= n {
		return out, n
	}
	if other, m := l.sms(key, v); m < n {
		return other, m
	}
	return out, n
}

// saves is the most septets that the short wording can save.
func (l *language) saves(v day) int {
	n := l.slack
	for _, it := range v.Items {
		if it.Same {
			n += size(it.Dose)
		}
	}
	return n
}

// measureSlack finds how much the short wording saves at most, whatever is
// asked, apart from doses that are the same.
func (l *language) measureSlack() {
	v := day{Planned: true, Wear: time.Hour, Items: []item{{Name: "x", Dose: "x"}}}
	for _, v.Ask = range []rules.Question{rules.AskNothing, rules.AskPain, rules.AskPainNow, rules.AskFirstStep} {
		for _, key := range []string{"daily", "first"} {
			long, short := v, v
			short.Short = true
			l.slack = max(l.slack, len(l.lines(key, long))-len(l.lines(key, short)))
		}
	}
}

// greeting greets by name, or is empty where the name can't be written in the
// alphabet of a text.
func (l *language) greeting(name string) string {
	plain, lost := fold(strings.Join(strings.Fields(name), " "))
	if plain == "" || lost {
		return ""
	}
	return l.line("greet", plain)
}

func foldClinic(c Clinic) Clinic {
	for _, f := range []*string{&c.Name, &c.Phone, &c.Hours, &c.AfterHours, &c.Emergency} {
		*f, _ = fold(*f)
	}
	return c
}

func foldItems(list []item) []item {
	out := make([]item, len(list))
	for i, it := range list {
		for _, f := range []*string{&it.Name, &it.How, &it.Easier, &it.Care} {
			*f, _ = fold(*f)
		}
		out[i] = it
	}
	return out
}
