package rehearsal

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"stepgate/config"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// How many segments a text may take before it is worth a look. A daily text
// comes every day. The first comes once and must say who writes, how to stop
// and whom to call; an answer comes because somebody asked, and a how-to or a
// safety text has to be whole.
var limits = map[string]int{FirstText: 3, DailyText: 2, AnswerText: 3}

// settingsFile is where the clinic's own words stand.
const settingsFile = "stepgate.yaml"

// ownWords are some of the clinic's own, and where they stand.
type ownWords struct {
	at   rules.Pos
	what string
	text string
}

// problems are what is worth a look where somebody gets the texts as SMS.
func (m *measuring) problems(c *config.Clinic) config.Problems {
	if len(m.byText) == 0 {
		return nil
	}
	out := m.tooLong()
	for _, w := range m.written(c) {
		out = append(out, m.unfit(w)...)
	}
	return out
}

// tooLong are the texts over their limit, a how-to for each exercise.
func (m *measuring) tooLong() config.Problems {
	var out config.Problems
	add := func(kind, what string, t *rendered) {
		if t == nil || t.count.Segments <= limits[kind] {
			return
		}
		at, do := rules.Pos{File: settingsFile}, "shorten the name, the hours or the numbers of the clinic"
		if x := m.widest(t); x != nil {
			at, do = x.At, "shorten the name of "+x.ID+", which takes the most of it, or spread the exercises over the week"
			if t.how {
				do = "shorten how, easier, care and why of " + x.ID
			}
		}
		out = append(out, config.Problem{At: at, Do: do, Warning: true, What: fmt.Sprintf("%s can take %d segments in %s (%d characters)",
			what, t.count.Segments, m.language, utf8.RuneCountInString(t.text))})
	}
	for _, kind := range []string{FirstText, DailyText} {
		t := m.longest[kind]
		what := "the " + kind + " text"
		if t != nil && t.step > 0 {
			what += fmt.Sprintf(" of step %d", t.step)
		}
		add(kind, what, t)
	}
	for id, t := range m.how {
		add(AnswerText, "the how-to of "+id, t)
	}
	// Several how-tos at once are held at their length by the words themselves.
	if t := m.longest[AnswerText]; t != nil && !t.how {
		add(AnswerText, "an answer", t)
	}
	return out
}

// widest is the exercise whose own words take the most of a text.
func (m *measuring) widest(t *rendered) *rules.Exercise {
	var best *rules.Exercise
	most := -1
	for _, d := range t.dues {
		x := m.program.Exercises[d.Exercise]
		if x == nil {
			continue
		}
		if n := utf8.RuneCountInString(x.Name.In(m.language) + m.formOf(d)); n > most {
			best, most = x, n
		}
	}
	return best
}

func (m *measuring) formOf(d rules.Due) string {
	x := m.program.Exercises[d.Exercise]
	if x == nil || d.Form == "" {
		return ""
	}
	return x.Forms[d.Form].In(m.language)
}

// written are the clinic's own words that the texts may hold.
func (m *measuring) written(c *config.Clinic) []ownWords {
	in := rules.Pos{File: settingsFile}
	out := []ownWords{{in, "the clinic's name", c.Name}, {in, "the clinic's phone", c.Phone}, {in, "the clinic's hours", c.Hours},
		{in, "the clinic's after hours", c.AfterHours}, {in, "the clinic's emergency", c.Emergency}}
	used := map[string]bool{}
	for _, b := range m.program.Table() {
		for _, d := range b.Doses {
			out = append(out, ownWords{d.At, "load", d.Load.In(m.language)})
			if x := m.program.Exercises[d.Do]; x != nil && !used[d.Do] {
				used[d.Do] = true
				out = append(out, m.ofExercise(x)...)
			}
		}
	}
	for _, e := range m.byText {
		out = append(out, ownWords{e.At, "the name of " + e.ID, e.Name})
		if e.Proxy != nil {
			out = append(out, ownWords{e.At, "the proxy's name of " + e.ID, e.Proxy.Name})
		}
	}
	return out
}

func (m *measuring) ofExercise(x *rules.Exercise) []ownWords {
	own := func(key, text string) ownWords { return ownWords{x.At, key + " of " + x.ID, text} }
	out := []ownWords{own("name", x.Name.In(m.language)), own("how", x.How.In(m.language)), own("easier", x.Easier.In(m.language)),
		own("care", x.Care.In(m.language)), own("why", x.Why.In(m.language)), own("needs", strings.Join(x.Needs, ", "))}
	for id, f := range x.Forms {
		out = append(out, own("the form "+id, f.In(m.language)))
	}
	return out
}

// foreign are the characters of a text that GSM-7 lacks, each once. Smart
// punctuation is made plain first, and is none of them.
func foreign(text string) []rune { return notify.Segments(notify.Plain(text)).Outside }

// lost stands for a character that nothing plainer can stand in for.
const lost = "?"

// unfit tells of the characters that make a text UCS-2, and of those that no
// text can carry. An accent that is dropped costs nothing, and one that the clinic
// wants kept is no news.
func (m *measuring) unfit(w ownWords) config.Problems {
	var wide, gone []rune
	for _, r := range foreign(w.text) {
		switch sent := m.sent(r); {
		case sent == string(r):
			if !m.clinic.Accents {
				wide = append(wide, r)
			}
		case sent == lost:
			gone = append(gone, r)
		}
	}
	var out config.Problems
	warn := func(rs []rune, format string) {
		if len(rs) > 0 {
			out = append(out, config.Problem{At: w.at, Warning: true, What: fmt.Sprintf(format, w.what, naming(rs)),
				Do: "write it with letters of the GSM alphabet, or leave it out"})
		}
	}
	warn(wide, "%s: %s would make a text UCS-2, of 70 characters in a segment and not 160")
	warn(gone, "%s: a text can't carry %s, so it goes out as a question mark, or what holds it is left out")
	return out
}

// naming shows characters with their code points.
func naming(rs []rune) string {
	const most = 3
	var list []string
	for i, r := range rs {
		if i == most {
			list = append(list, fmt.Sprintf("and %d more", len(rs)-most))
			break
		}
		list = append(list, fmt.Sprintf("%s (U+%04X)", string(r), r))
	}
	return strings.Join(list, ", ")
}

// sent is what goes out in place of a character, found by sending it.
func (m *measuring) sent(r rune) string {
	const mark = "00000"
	out, known := m.letters[r]
	if known {
		return out
	}
	out = lost
	text := m.words.Answer(templates.Clinic{Name: mark + string(r) + mark, Accents: m.clinic.Accents}, templates.Patient{Language: m.language, TextOnly: true}, nil,
		templates.AnswerData{Parts: []rules.Part{rules.SayStopped}}).Text
	if from, to := strings.Index(text, mark), strings.LastIndex(text, mark); from >= 0 && to >= from+len(mark) {
		out = text[from+len(mark) : to]
	}
	m.letters[r] = out
	return out
}

// outside are the characters that the words of a text hold and GSM-7 lacks.
func (m *measuring) outside(t *rendered) []Letter {
	own := []string{m.clinic.Name, m.clinic.Phone, m.clinic.Hours, m.clinic.AfterHours, m.clinic.Emergency, t.text}
	if !t.how {
		own = append(own, m.patient.Name, m.patient.Proxy)
	}
	for _, d := range t.dues {
		own = append(own, m.formOf(d), d.Load.In(m.language))
		if x := m.program.Exercises[d.Exercise]; x != nil {
			own = append(own, x.Name.In(m.language))
			if t.how {
				own = append(own, x.How.In(m.language), x.Easier.In(m.language), x.Care.In(m.language), x.Why.In(m.language), strings.Join(x.Needs, " "))
			}
		}
	}
	out := []Letter{}
	var seen []rune
	for _, r := range foreign(strings.Join(own, " ")) {
		if !slices.Contains(seen, r) {
			seen = append(seen, r)
			out = append(out, Letter{string(r), fmt.Sprintf("U+%04X", r), m.sent(r)})
		}
	}
	return out
}
