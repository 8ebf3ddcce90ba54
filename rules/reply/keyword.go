package reply

import (
	"slices"
	"strings"

	"stepgate/rules"
)

// keyword reads a text that is one of the carriers' keywords and nothing
// else but politeness, emojis and a signature. The words of every language
// count beside the language's own. signed: a signature stands under it.
func (t *text) keyword() (k rules.Reading, signed, ok bool) {
	end := t.signature()
	said, ok := t.core(t.toks[:end])
	words, common := t.r.keywords, t.r.common
	switch {
	case !ok || len(said) == 0:
		return k, false, false
	case t.oneOf(said, words.stop), repeated(said) && t.oneOf(said[:1], words.stop),
		written(said, common.stop), written(spelled(said), words.stop):
		k.Stop = true
	case t.oneOf(said, words.start), written(said, common.start):
		k.Start = true
	case t.oneOf(said, words.help), written(said, common.help):
		k.Help = true
	default:
		return k, false, false
	}
	return k, end < len(t.toks), true
}

// core is the words of some tokens without marks, politeness and emojis. With
// a number among them they are no keyword.
func (t *text) core(toks []token) (said []string, ok bool) {
	for _, tok := range toks {
		switch {
		case tok.kind == digits, tok.kind == emoji && t.numeral(tok.text):
			return nil, false
		case tok.kind == word && !t.r.polite[tok.text]:
			said = append(said, tok.text)
		}
	}
	return said, true
}

// numeral tells an emoji that is a number.
func (t *text) numeral(emoji string) bool {
	return slices.ContainsFunc(t.r.phrases[emoji], func(p phrase) bool { return p.mean == mNumber })
}

// signatureWords is the longest line that can be a phone's signature.
const signatureWords = 8

// signature is the token where a signature begins: a last line that begins
// like one. Without one it is the end of the text.
func (t *text) signature() int {
	last := len(t.toks)
	for last > 0 && t.toks[last-1].text == "\n" {
		last--
	}
	for i := last - 1; i > 0; i-- {
		if t.toks[i].text != "\n" {
			continue
		}
		if n := last - i - 1; n <= signatureWords && slices.ContainsFunc(t.r.signatures, func(ws []string) bool { return plainRun(t.toks[i+1:], ws) }) {
			return i
		}
		break
	}
	return len(t.toks)
}

// spelled joins letters with spaces or dots between: "S T O P". Short words
// are left alone, since codes could spell them.
func spelled(said []string) []string {
	whole := strings.Join(said, "")
	if len(said) < 2 || len(whole) < 4 || slices.ContainsFunc(said, func(w string) bool { return len(w) > 2 }) {
		return nil
	}
	return []string{whole}
}

// written tells whether the words are exactly one of the phrases.
func written(said []string, phrases [][]string) bool {
	return slices.ContainsFunc(phrases, func(p []string) bool { return slices.Equal(said, p) })
}

// repeated tells "stop stop stop".
func repeated(said []string) bool {
	return len(slices.Compact(slices.Clone(said))) == 1
}

// oneOf tells whether the words are one of the phrases, a misspelling
// allowed, an ending not: "stopped" is a report.
func (t *text) oneOf(said []string, phrases [][]string) bool {
	for _, p := range phrases {
		if slices.EqualFunc(said, p, t.same) {
			return true
		}
	}
	return false
}

func (t *text) same(written, w string) bool {
	if written == w {
		return true
	}
	lx := t.r.lex
	return !lx.known[written] && lx.ending[written] == "" &&
		(squeeze(written, 1) == w || slices.Contains(lx.nearest(written), w))
}

// wrong finds what says that the wrong person reads our texts.
func (t *text) wrong() {
	t.anywhere(t.r.wrong, func(_ pattern, at []int) {
		t.out.Wrong = true
		t.cover(at)
	})
	t.anywhere(t.r.died, func(_ pattern, at []int) {
		t.died = true
		t.cover(at)
	})
}

// deaths decides who died. Whoever reports exercises or a score in the same
// text is the patient, and speaks of someone else. A bare "no pain" is no such
// report: it may be said of the dead.
func (t *text) deaths() {
	if !t.died {
		return
	}
	scored := slices.ContainsFunc(t.items, func(it item) bool { return it.scored() })
	if o := &t.out; o.Done != "" || scored {
		o.Unread = true
	} else {
		o.Wrong = true
	}
}
