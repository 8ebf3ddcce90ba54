package templates

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"stepgate/rules"
)

// Where the names stand in a text that is kept. No text that was written for a
// phone or a mail has such a character.
const (
	greetHole = "\x01"
	forHole   = "\x02"
)

// mostKept is the most exercises of a text that is kept.
const mostKept = 4

// frameKey is all that a daily text depends on but the names in it.
type frameKey struct {
	key   string
	facts dayFacts // holes for names
	items [mostKept]line
	n     int
}

// frame is a text with holes for names.
type frame struct {
	text string
	size int  // septets without the names
	ok   bool // each hole is there once, with a plain character after it
}

// filled is a text made of one that was rendered before, and its segments. It
// is not ok where the plain way has to be taken.
func (l *language) filled(key string, v day) (out string, segs int, ok bool) {
	if l.frames == nil || len(v.Items) > mostKept || !v.hand.fits(v.Greet) || !v.hand.fits(v.For) {
		return "", 0, false
	}
	k := frameKey{key: key, facts: v.dayFacts, n: len(v.Items)}
	if v.Greet != "" {
		k.facts.Greet = greetHole
	}
	if v.For != "" {
		k.facts.For = forHole
	}
	for i, it := range v.Items {
		k.items[i] = it.line
	}
	f := l.frames.get(k, l.frame)
	if !f.ok {
		return "", 0, false
	}
	out = strings.Replace(f.text, greetHole, v.Greet, 1)
	if v.For != "" {
		out = strings.Replace(out, forHole, v.For, 1)
	}
	if v.hand != (hand{}) {
		return out, v.hand.segments(out), true
	}
	return out, segments(f.size + size(v.Greet) + size(v.For)), true
}

// frame renders a text with holes. It sees nothing but its key.
func (l *language) frame(k frameKey) frame {
	v := day{dayFacts: k.facts, Items: make([]item, k.n)}
	for i := range v.Items {
		v.Items[i].line = k.items[i]
	}
	return k.facts.hand.frame(l.lines(k.key, v), k.facts.Greet, k.facts.For)
}

// frame writes a text but for the holes it should have.
func (h hand) frame(text string, holes ...string) frame {
	f := frame{ok: strings.Count(text, greetHole)+strings.Count(text, forHole) == len(strings.Join(holes, ""))}
	for _, hole := range holes {
		f.ok = f.ok && (hole == "" || strings.Count(text, hole) == 1)
	}
	var b strings.Builder
	for i := strings.IndexAny(text, greetHole+forHole); i >= 0; i = strings.IndexAny(text, greetHole+forHole) {
		part, _ := h.write(text[:i])
		b.WriteString(part)
		b.WriteByte(text[i])
		text = text[i+1:]
		f.ok = f.ok && (text == "" || text[0] < utf8.RuneSelf)
	}
	part, _ := h.write(text)
	b.WriteString(part)
	f.text, f.size = b.String(), size(b.String())
	return f
}

// naming renders a template of a name, as a single line.
func (l *language) naming(key, name string, h hand) string {
	if l.frames == nil || !h.fits(name) {
		return l.line(key, name)
	}
	f := l.names.get(key, func(key string) frame {
		text := l.line(key, greetHole)
		return frame{text: text, ok: strings.Count(text, greetHole) == 1}
	})
	if !f.ok {
		return l.line(key, name)
	}
	return strings.Replace(f.text, greetHole, name, 1)
}

// fits tells whether a name can take the place of a hole: that what is around
// it changes nothing of it, nor it of them.
func (h hand) fits(name string) bool {
	for i, r := range name {
		switch {
		case i == 0 && r >= utf8.RuneSelf && !unicode.IsLetter(r):
			return false // a mark would change what is before it
		case unicode.IsSpace(r) && (r != ' ' || i == 0 || i == len(name)-1 || name[i-1] == ' '):
			return false
		}
	}
	written, _ := h.write(name)
	return written == name
}

// keep begins to keep what is rendered.
func (l *language) keep() {
	l.phrases, l.forms = new(memo[dosePhrase, string]), new(memo[form, string])
	l.frames, l.names = new(memo[frameKey, frame]), new(memo[string, frame])
	l.answers, l.whys = new(memo[answerKey, string]), new(memo[rules.Reason, string])
}
