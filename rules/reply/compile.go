package reply

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"stepgate/rules"
)

// Reader reads texts with one language's vocabulary. It is safe for use by
// several goroutines at once.
type Reader struct {
	lex      *lexicon
	same     map[string][]rewriting // by first word
	phrases  map[string][]phrase    // by first word
	letters  map[string]meaning
	sides    map[string]meaning
	signs    []rules.RedFlag
	danger   patterns // of all signs
	harmless patterns // what looks like a sign and is none
	skins    []bool   // of each sign: a skin complaint too
	wrong    patterns
	died     patterns
	strong   patterns // of all scores; flag is the index in strengths
	milder   patterns // what looks like strong pain and is none
	gone     [][]string
	changed  [][]string
	leftOut  [][]string // before the number of an exercise
	almost   [][]string // before a 0 that is none
	keywords keywords
	common   keywords // of every language; written exactly
	echoes   []string

	signatures [][]string

	fillers, polite, thumbs map[string]bool
	no, not, or             map[string]bool
	overNo, overNot, limits map[string]bool
	unable                  map[string]bool
	except, light           map[string]bool // phrases, words joined by spaces

	strengths []int
}

type rewriting struct {
	words []string
	with  []token
}

type keywords struct {
	stop, start, help, unclear [][]string
	stopPhrase, stopAsk        patterns
	notStop                    patterns
}

// compiler gathers a reader and everything that is wrong with its vocabulary.
type compiler struct {
	v     *Vocabulary
	r     *Reader
	known map[string]bool
	exact map[string]bool
	names map[meaning]string // how the vocabulary calls each meaning
	taken map[string]meaning // phrase: its meaning
	errs  []error
}

// Compile checks the vocabulary and makes a reader of it. The error names
// everything that is wrong, one problem a line.
func (v *Vocabulary) Compile() (*Reader, error) {
	c := &compiler{
		v: v, known: map[string]bool{}, exact: map[string]bool{},
		names: map[meaning]string{}, taken: map[string]meaning{},
		r: &Reader{
			same: map[string][]rewriting{}, phrases: map[string][]phrase{},
			letters: map[string]meaning{}, sides: map[string]meaning{},
			danger: patterns{}, harmless: patterns{}, strong: patterns{}, milder: patterns{},
		},
	}
	if v.Language == "" {
		c.errorf("language: missing; give its code, such as en")
	}
	c.sameAs()
	c.letters()
	c.lists()
	c.numbers()
	c.negation()
	c.dangers()
	c.strong()
	c.keywords()
	c.common()
	c.endsOfText()
	for _, w := range v.Sense.Polite {
		c.learn(w)
	}
	for _, w := range v.NotMisspelled {
		c.learn(w)
	}
	if err := errors.Join(c.errs...); err != nil {
		return nil, err
	}
	endings := make([]string, 0, len(v.Endings))
	for _, e := range v.Endings {
		endings = append(endings, words(e)...)
	}
	c.r.lex = newLexicon(c.known, c.exact, endings)
	return c.r, nil
}

func (c *compiler) errorf(format string, args ...any) {
	c.errs = append(c.errs, fmt.Errorf(format, args...))
}

// learn is split, and keeps the words as known.
func (c *compiler) learn(p string) []string {
	out := c.split(p)
	for _, w := range out {
		c.known[w] = true
	}
	return out
}

// split is the words of a phrase after "same as".
func (c *compiler) split(p string) []string {
	var out []string
	for _, t := range c.r.rewrite(tokenize(p)) {
		if t.kind == word || t.kind == emoji {
			out = append(out, t.text)
		}
	}
	return out
}

// learnOne is learn for a list of single words.
func (c *compiler) learnOne(list string, ps []string) map[string]bool {
	set := map[string]bool{}
	for _, p := range ps {
		ws := c.learn(p)
		if len(ws) != 1 {
			c.errorf("%s: %q must be one word", list, p)
			continue
		}
		set[ws[0]] = true
	}
	return set
}

func (c *compiler) sameAs() {
	keys := make([]string, 0, len(c.v.SameAs))
	for k := range c.v.SameAs {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	seen := map[string]string{}
	for _, k := range keys {
		from, with := words(k), tokenize(c.v.SameAs[k])
		said := strings.Join(from, " ")
		switch {
		case len(from) == 0 || len(with) == 0:
			c.errorf("same as: %q has no words on one side", k)
			continue
		case seen[said] != "":
			c.errorf("same as: %q and %q are the same", seen[said], k)
			continue
		}
		seen[said] = k
		c.r.same[from[0]] = append(c.r.same[from[0]], rewriting{from, with})
		for _, w := range from {
			c.known[w] = true
			c.exact[w] = true
		}
	}
}

// letters checks that each code is one letter and stands for one thing. The
// sides may go without.
func (c *compiler) letters() {
	l := c.v.Letters
	owner := map[string]string{}
	for _, x := range []struct {
		name, letter string
		mean         meaning
		into         map[string]meaning
	}{
		{"done", l.Done, mDone, c.r.letters}, {"some", l.Some, mSome, c.r.letters},
		{"none", l.None, mNone, c.r.letters}, {"pain", l.Pain, mPain, c.r.letters},
		{"first step", l.First, mFirst, c.r.letters}, {"skin", l.Skin, mSkin, c.r.letters},
		{"skin ok", l.SkinOK, mSkinOK, c.r.letters},
		{"wear", l.Wear, mWear, c.r.letters}, {"how", l.How, mHow, c.r.letters},
		{"away", l.Away, mAway, c.r.letters}, {"call", l.Call, mCall, c.r.letters},
		{"left", l.Left, mLeft, c.r.sides}, {"right", l.Right, mRight, c.r.sides},
	} {
		ws := words(x.letter)
		switch side := x.mean == mLeft || x.mean == mRight; {
		case side && x.letter == "": // the sides may have words alone
		case len(ws) != 1 || len([]rune(ws[0])) != 1:
			c.errorf("letters: %s: %q must be one letter", x.name, x.letter)
		case owner[ws[0]] != "":
			c.errorf("letters: %q stands for both %s and %s", x.letter, owner[ws[0]], x.name)
		default:
			owner[ws[0]] = x.name
			x.into[ws[0]] = x.mean
			c.known[ws[0]] = true
		}
	}
}

// phrase gives a run of words its meaning.
func (c *compiler) phrase(m meaning, p string, value float64) {
	ws := c.learn(p)
	key := strings.Join(ws, " ")
	switch had, ok := c.taken[key]; {
	case len(ws) == 0:
		c.errorf("%s: %q has no words", c.names[m], p)
		return
	case ok && had != m:
		c.errorf("%q stands under both %s and %s", p, c.names[had], c.names[m])
		return
	case ok:
		return // two spellings that "same as" makes one
	}
	c.taken[key] = m
	c.r.phrases[ws[0]] = append(c.r.phrases[ws[0]], phrase{ws, m, value})
}

// lists takes in the phrases of the text's own facts and of what surrounds
// them.
func (c *compiler) lists() {
	r, a, n, s := c.v.Report, c.v.Around, c.v.Negation, c.v.Sense
	for _, l := range []struct {
		name string
		mean meaning
		ps   []string
	}{
		{"report: done", mDone, r.Done}, {"report: did", mDid, r.Did},
		{"report: some", mSome, r.Some}, {"report: part", mPart, r.Part},
		{"report: none", mNone, r.None},
		{"report: pain", mPain, r.Pain}, {"report: no pain", mNoPain, r.NoPain},
		{"report: first", mFirst, r.First}, {"report: skin", mSkin, r.Skin},
		{"report: skin ok", mSkinOK, r.SkinOK},
		{"report: wear", mWear, r.Wear}, {"report: not worn", mNotWorn, r.NotWorn},
		{"report: how", mHow, r.How}, {"report: away", mAway, r.Away},
		{"report: call", mCall, r.Call}, {"report: left", mLeft, r.Left},
		{"report: right", mRight, r.Right}, {"numbers", mNumber, nil},
		{"around numbers: scale", mScale, a.Scale}, {"around numbers: to", mTo, a.To},
		{"around numbers: or", mOr, a.Or}, {"around numbers: half", mHalf, a.Half},
		{"around numbers: more", mMore, a.More}, {"around numbers: minutes", mMinutes, a.Minutes},
		{"around numbers: hours", mHours, a.Hours}, {"around numbers: days", mDays, a.Days},
		{"around numbers: weeks", mWeeks, a.Weeks}, {"around numbers: times", mTimes, a.Times},
		{"around numbers: counts", mCounts, a.Counts},
		{"around numbers: time before", mTimeAt, a.TimeAt},
		{"around numbers: before", mBefore, a.Before},
		{"negation: no", mNo, n.No}, {"negation: not", mNot, n.Not},
		{"negation: doubt", mDoubt, n.Doubt}, {"negation: limit", mLimit, n.Limit},
		{"negation: but", mBut, n.But}, {"negation: except", mBut, n.Except}, {"negation: future", mFuture, n.Future},
		{"negation: yesterday's", mPast, n.Past},
		{"sense: filler", mFiller, s.Filler}, {"sense: ignore", mIgnore, s.Ignore},
		{"sense: light", mIgnore, s.Light},
		{"sense: thumbs up", mThumb, s.Thumbs},
	} {
		c.names[l.mean] = l.name
		for _, p := range l.ps {
			c.phrase(l.mean, p, 0)
		}
	}
	for _, need := range []struct {
		name string
		list []string
	}{
		{"report: pain", r.Pain}, {"report: no pain", r.NoPain}, {"report: done", r.Done},
		{"report: none", r.None}, {"negation: not", n.Not}, {"negation: doubt", n.Doubt},
	} {
		if len(need.list) == 0 {
			c.errorf("%s: empty", need.name)
		}
	}
}

// numbers takes in the number words; nought to ten must be there.
func (c *compiler) numbers() {
	have := map[int]bool{}
	ps := make([]string, 0, len(c.v.Numbers))
	for p := range c.v.Numbers {
		ps = append(ps, p)
	}
	slices.Sort(ps)
	for _, p := range ps {
		v := c.v.Numbers[p]
		if v < 0 {
			c.errorf("numbers: %q is under 0", p)
		}
		have[v] = true
		c.phrase(mNumber, p, float64(v))
		for _, w := range c.learn(p) {
			c.exact[w] = true
		}
	}
	for n := range 11 {
		if !have[n] {
			c.errorf("numbers: no word for %d", n)
		}
	}
}

func (c *compiler) negation() {
	n := c.v.Negation
	c.r.no = c.learnOne("negation: no", n.No)
	c.r.not = c.learnOne("negation: not", n.Not)
	c.r.or = c.learnOne("around numbers: or", c.v.Around.Or)
	c.r.overNo = c.learnOne("negation: no over", n.NoBridge)
	c.r.overNot = c.learnOne("negation: not over", n.NotBridge)
	c.r.thumbs = c.learnOne("sense: thumbs up", c.v.Sense.Thumbs)
	c.r.polite = c.learnOne("sense: polite", c.v.Sense.Polite)
	c.r.fillers = c.single(c.v.Sense.Filler)
	c.r.limits = c.single(n.Limit)
	c.r.except, c.r.light = c.joined(n.Except), c.joined(c.v.Sense.Light)
	c.r.unable = c.learnOne("negation: unable", n.Unable)
	c.r.gone = c.runs("negation: gone", n.Gone)
	c.r.changed = c.runs("negation: changed", n.Changed)
	c.r.leftOut = c.runs("around numbers: left out", c.v.Around.LeftOut)
	c.r.almost = c.runs("around numbers: almost", c.v.Around.Almost)
	for _, set := range []map[string]bool{c.r.no, c.r.not, c.r.or, c.r.overNo, c.r.overNot} {
		for w := range set {
			c.exact[w] = true
		}
	}
}

// runs is phrases whose words stand one after the other.
func (c *compiler) runs(list string, ps []string) [][]string {
	out := make([][]string, 0, len(ps))
	for _, p := range ps {
		if ws := c.learn(p); len(ws) > 0 {
			out = append(out, ws)
		} else {
			c.errorf("%s: %q has no words", list, p)
		}
	}
	return out
}
