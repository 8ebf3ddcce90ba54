package reply

import (
	"slices"

	"stepgate/rules"
)

// keyword reads a text that is one of the carriers' keywords and nothing
// else but politeness.
func (t *text) keyword() (rules.Reading, bool) {
	var said []string
	bare := true
	for _, tok := range t.toks {
		switch {
		case tok.kind == digits:
			return rules.Reading{}, false
		case tok.kind == mark, tok.kind == emoji && !t.r.thumbs[tok.text]:
		case t.r.polite[tok.text]:
			bare = false
		default:
			said = append(said, tok.text)
		}
	}
	k := t.r.keywords
	switch {
	case len(said) == 0:
	case t.oneOf(said, k.stop), repeated(said) && t.oneOf(said[:1], k.stop):
		return rules.Reading{Stop: true}, true
	case t.oneOf(said, k.start), bare && t.oneOf(said, k.startBare):
		return rules.Reading{Start: true}, true
	case t.oneOf(said, k.help):
		return rules.Reading{Help: true}, true
	}
	return rules.Reading{}, false
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
	return !lx.known[written] && lx.ending[written] == "" && slices.Contains(lx.nearest(written), w)
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
	scored := slices.ContainsFunc(t.items, func(it item) bool { return it.counts == cPain || it.counts == cFirst })
	if o := &t.out; o.Done != "" || scored {
		o.Unread = true
	} else {
		o.Wrong = true
	}
}

// stopWords finds the wish to opt out inside a longer text, said plainly, and
// stop words that may mean anything.
func (t *text) stopWords() (plain, unclear bool) {
	k := t.r.keywords
	free := map[int]bool{}
	t.anywhere(k.notStop, func(_ pattern, at []int) {
		for _, i := range at {
			free[i] = true
		}
	})
	t.anywhere(k.stopPhrase, func(_ pattern, at []int) {
		if slices.ContainsFunc(at, func(i int) bool { return free[i] }) {
			return
		}
		if _, no := t.denier(at[0], 0, false, nil); !no {
			plain = true
			t.cover(at)
		}
	})
	for i, tok := range t.toks {
		if k.unclear[tok.text] && !free[i] {
			unclear = true
			t.cover([]int{i})
		}
	}
	return plain, unclear
}

// stop takes the wish to opt out into the reading. A plain one counts unless
// a complaint stands in the same text: the complaint must be heard, so it
// counts and the patient is asked. A stop word that may mean anything is
// asked about.
func (t *text) stop(plain, unclear bool) {
	o := &t.out
	complaint := o.Pain != nil || o.FirstStep != nil || o.Skin || len(o.Flags) > 0
	switch {
	case plain && !complaint:
		t.out = rules.Reading{Stop: true, Wrong: o.Wrong, Call: o.Call, Denied: o.Denied}
	case plain, unclear:
		o.AskStop = true
	}
}
