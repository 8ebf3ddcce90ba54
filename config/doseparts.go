package config

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"time"

	"stepgate/rules"
)

// doseParts reads what a dose says beyond its numbers: the form, the rest
// between sets, the load and the tempo.
func (l *loader) doseParts(p *rules.Program, d *rules.Dose, s doseShape) {
	if x := p.Exercises[d.Do]; x != nil && s.Form.given() {
		if d.Form = s.Form.Text; x.Forms[d.Form] == nil {
			l.noForm(s.Form.At, x, d.Form)
		}
	}
	var ok bool
	if d.Rest, ok = l.span(s.Rest, time.Second, maxRest, "2 min"); ok && d.Sets == 1 && !s.Sets.Bad {
		l.warn(s.Rest.At, "rest is the time between sets, and this dose has one set", "write more sets, or take rest away")
	}
	l.doseLoad(d, s.Load)
	if d.Tempo, ok = l.tempo(s.Tempo); ok && d.Hold > 0 && d.Hold != time.Duration(d.Tempo.Hold)*time.Second {
		l.wrong(s.Tempo.At, fmt.Sprintf("the tempo holds for %s, but hold says %s", plural(d.Tempo.Hold, "second"), spoken(d.Hold)),
			"take hold away; the tempo has it in the middle")
	}
}

// noForm notes a form that an exercise does not have.
func (n *notes) noForm(at rules.Pos, x *rules.Exercise, form string) {
	do := "write its forms first, below the exercise: forms: {" + form + ": WORDS}"
	if !idForm.MatchString(form) {
		do = "write its forms first, below the exercise"
	}
	if len(x.Forms) > 0 {
		do = suggest(form, slices.Collect(maps.Keys(x.Forms)))
	}
	n.wrong(at, "the exercise "+quoted(x.ID)+" has no form "+quoted(form), do)
}

// maxRM is the most repetitions a load can be named by. Loads for strength are
// 8 to 12RM for beginners (Ratamess NA et al., ACSM, 2009;41:687-708), up to
// about 30 for endurance; the rest is room.
const maxRM = 50

// maxLoad is the longest a load can be in words, in letters: it stands in the
// daily text.
const maxLoad = 60

var (
	rmForm = regexp.MustCompile(`^(?i:(\d{1,3}) ?RM)$`)
	rmIn   = regexp.MustCompile(`(?i:\d ?RM\b)`)
)

// doseLoad reads a load such as 12RM, or one in words. A patient is never shown
// an RM, so it can't stand among words.
func (l *loader) doseLoad(d *rules.Dose, w Words) {
	if m := rmForm.FindStringSubmatch(w.In["en"]); w.Plain && m != nil {
		rm, _ := strconv.Atoi(m[1])
		if rm < 1 || rm > maxRM {
			l.outside(Value{Text: m[0], Key: w.Key, At: w.At}, "from 1RM to "+strconv.Itoa(maxRM)+"RM")
			return
		}
		d.RM = rm
		return
	}
	for _, lang := range slices.Sorted(maps.Keys(w.In)) {
		switch text := w.In[lang]; {
		case rmIn.MatchString(text):
			l.wrong(w.At, w.Key+" has an RM among its words, which patients can't read", "write "+w.Key+": 12RM alone, or words alone")
			return
		case len([]rune(text)) > maxLoad:
			l.wrong(w.At, w.Key+" is too long for a text", "write at most "+strconv.Itoa(maxLoad)+" letters")
			return
		}
	}
	if len(w.In) > 0 {
		d.Load = w.In
	}
}

// maxTempo is the longest a part of a repetition can take, in seconds.
const maxTempo = 60

var tempoForm = regexp.MustCompile(`^(\d{1,3}) ?/ ?(\d{1,3}) ?/ ?(\d{1,3})$`)

// tempo reads how many seconds a repetition goes up, holds and goes down.
func (l *loader) tempo(v Value) (rules.Tempo, bool) {
	if !v.given() {
		return rules.Tempo{}, false
	}
	m := tempoForm.FindStringSubmatch(v.Text)
	if m == nil {
		l.unreadable(v, "the seconds up, held and down, like 3/2/3")
		return rules.Tempo{}, false
	}
	var part [3]int
	for i := range part {
		part[i], _ = strconv.Atoi(m[i+1])
	}
	t := rules.Tempo{Up: part[0], Hold: part[1], Down: part[2]}
	if max(t.Up, t.Hold, t.Down) > maxTempo || t.Seconds() == 0 {
		l.outside(v, "up to "+plural(maxTempo, "second")+" for each part, and some for one of them")
		return rules.Tempo{}, false
	}
	return t, true
}
