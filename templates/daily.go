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
	dayFacts
	Items []item
	Links *DayLinks
}

// dayFacts are all of a day but its lists.
type dayFacts struct {
	Clinic  Clinic
	Name    string // to greet by; empty: no greeting
	For     string // the patient, where somebody else gets the texts
	Greet   string
	Date    rules.Date
	First   bool
	Weekly  bool // a long silence: a question and no exercises
	Closing bool // the last text
	Planned bool // the program has exercises
	Rest    bool // nothing to do because of pain
	Back    bool // and the plan goes back
	Eased   bool
	Held    bool   // a pain hold stands
	Broke   bool   // a break is over: less than before
	Keeping bool   // maintenance
	All     string // above the list: what the exercises share
	Support bool   // hold a firm support
	Wear    time.Duration
	WearOut bool
	WearEnd bool // out until the clinic says so
	WearNew bool // other inserts than before
	Skin    bool // look at the skin
	Ask     rules.Question
	Short   bool
	hand    hand
}

// Daily renders the message of a decided date, and the first message of an
// enrollment where the decision says it is the first.
//
// The text starts with the local date and ends with the question whose number
// it expects; the closing one asks for nothing. It greets by name and is worded in full where neither costs a
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
	v := day{Links: p.Links, dayFacts: dayFacts{
		Clinic: c, Name: p.Name, Date: d.Date, First: d.First, Weekly: d.Weekly, Closing: d.Closing,
		Planned: len(prog.Blocks) > 0, Rest: d.Rest, Eased: d.Eased, Ask: d.Ask, hand: handOf(c, p),
		Held:    d.Why.Code == rules.PainHeld || d.Why.Code == rules.FirstRise,
		Back:    d.Why.Code == rules.StepBack || d.Why.Code == rules.BlockAgain,
		Keeping: d.State == rules.InMaintenance,
	}}
	if p.Proxy != "" {
		v.Name, v.For = p.Proxy, p.Name
	}
	if d.Closing {
		v.Ask = rules.AskNothing
		return v
	}
	// A rest day lists nothing, whatever else the decision holds, and so does
	// the one question after a long silence. What must stay out is still said.
	if !d.Rest && !d.Weekly {
		v.Items, v.All = l.items(p, prog, d.Doses, !p.TextOnly)
		v.Support = d.Support && len(v.Items) > 0
	}
	if d.WearOut {
		v.WearOut, v.WearEnd = true, d.WearWhy.Code == rules.SkinStop
	}
	if d.WearNow && !d.WearOut && !d.Weekly {
		v.Wear, v.WearNew = d.Wear, d.WearWhy.Code == rules.DeviceNew
	}
	v.Skin = d.Skin && !d.Weekly
	v.Broke = !d.Weekly && !d.Rest && (d.Why.Code == rules.Break || d.WearWhy.Code == rules.Break)
	return v
}

func (l *language) dailyText(v day) string {
	key, most := "daily", 1
	if v.First {
		key, most = "first", firstMax
	}
	v.Clinic, v.Items = v.hand.clinic(v.Clinic), v.hand.items(v.Items)
	short := ""
	v.Greet, short, v.For = l.greetings(v.dayFacts)
	v.Name = "" // it is in the greeting
	out, n := l.sms(key, v)
	if n <= most {
		return out
	}
	saving := 0
	if v.Greet != short {
		saving = size(v.Greet) - size(short) + len(". ")
		v.Greet = short
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
	if out, n, ok := l.filled(key, v); ok {
		return out, n
	}
	out, _ := v.hand.write(l.lines(key, v))
	return out, v.hand.segments(out)
}

// better takes another wording if it needs fewer segments than the n of the
// one before. It does not even render it where saving so many septets can't
// be enough: that spares most texts a second and a third rendering.
func (l *language) better(out string, n, saving int, key string, v day) (string, int) {
	if v.hand == (hand{}) && segments(size(out)-saving) >= n {
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
	v := day{dayFacts: dayFacts{Planned: true, Wear: time.Hour, Skin: true, Keeping: true}, Items: []item{{line: line{Name: "x", Dose: "x"}}}}
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
func (l *language) greeting(h hand, name string) string {
	plain, lost := h.write(strings.Join(strings.Fields(name), " "))
	if plain == "" || lost {
		return ""
	}
	return l.naming("greet", plain, h)
}

// greetings are the greeting of a text and the shorter one for where that
// saves a segment, and whom the text is for. A text that somebody else gets
// always says for whom it is; the first one says it along with who writes, and
// is the only one that needs who for that.
func (l *language) greetings(v dayFacts) (long, short, who string) {
	long = l.greeting(v.hand, v.Name)
	who, lost := v.hand.write(strings.Join(strings.Fields(v.For), " "))
	if who == "" || lost {
		return long, "", ""
	}
	if !v.First {
		short = l.naming("greet/for", who, v.hand)
		return strings.TrimSpace(long + " " + short), short, ""
	}
	return long, "", who
}

// clinic and items are written as a text is.
func (h hand) clinic(c Clinic) Clinic {
	for _, f := range []*string{&c.Name, &c.Phone, &c.Hours, &c.AfterHours, &c.Emergency} {
		*f, _ = h.write(*f)
	}
	return c
}

func (h hand) items(list []item) []item {
	out := make([]item, len(list))
	for i, it := range list {
		for _, f := range []*string{&it.Name, &it.Form, &it.Dose, &it.Full, &it.How, &it.Easier, &it.Care, &it.Why} {
			*f, _ = h.write(*f)
		}
		out[i] = it
	}
	return out
}
