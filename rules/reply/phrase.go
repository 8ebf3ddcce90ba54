package reply

import "stepgate/rules"

// meaning is what a phrase stands for.
type meaning uint8

const (
	mUnknown meaning = iota
	mDone
	mDid
	mSome
	mPart
	mNone
	mPain
	mNoPain
	mFirst
	mSkin
	mSkinOK
	mWear
	mNotWorn
	mHow
	mAway
	mCall
	mLeft
	mRight
	mNumber
	mScale
	mTo
	mOr
	mHalf
	mMore
	mMinutes
	mHours
	mDays
	mWeeks
	mTimes
	mCounts
	mTimeAt
	mBefore
	mNo
	mNot
	mDoubt
	mLimit
	mBut
	mFuture
	mPast
	mFiller
	mIgnore
	mThumb
	mEmoji
	mMark
)

// phrase is a run of known words with one meaning.
type phrase struct {
	words []string
	mean  meaning
	value float64 // mNumber only
}

// item is a phrase, number, mark or unknown word of a text.
type item struct {
	mean   meaning
	lo, hi int // tokens [lo, hi)
	letter bool
	num    number
	counts counted // what a number was taken for
}

// scored tells a number taken for a score.
func (it item) scored() bool {
	return it.counts == cPain || it.counts == cFirst || it.counts == cBoth
}

// text is one text while it is read.
type text struct {
	r        *Reader
	asked    rules.Question
	toks     []token
	words    [][]string // known words that each token may stand for
	items    []item
	clause   []int  // of each token: commas, full stops and "but" part them
	sentence []int  // of each token: full stops part them
	died     bool   // somebody is said to have died
	covered  []bool // tokens that a danger word, opt-out or wrong person explains
	out      rules.Reading
}

// parse takes a text up to its items.
func (r *Reader) parse(s string, asked rules.Question) *text {
	t := &text{r: r, asked: asked, toks: r.rewrite(tokenize(s))}
	t.toks = r.splitLetters(t.toks)
	t.words = make([][]string, len(t.toks))
	for i, tok := range t.toks {
		if tok.kind == word || tok.kind == emoji {
			t.words[i] = r.lex.resolve(tok.text)
		} else if w := tok.num.whole(); tok.kind == digits && w != "" {
			t.words[i] = []string{w} // danger words may hold one: "38 grados"
		}
	}
	t.covered = make([]bool, len(t.toks))
	t.phrases()
	t.clauses()
	t.letters()
	t.combine()
	return t
}

// rewrite puts the words of "same as" in place.
func (r *Reader) rewrite(in []token) []token {
	out := make([]token, 0, len(in))
	for i := 0; i < len(in); {
		n := 0
		var with []token
		for _, rw := range r.same[in[i].text] {
			if len(rw.words) > n && plainRun(in[i:], rw.words) {
				n, with = len(rw.words), rw.with
			}
		}
		if n == 0 {
			out = append(out, in[i])
			i++
			continue
		}
		for k, w := range with {
			w.glued = k == 0 && in[i].glued
			out = append(out, w)
		}
		i += n
	}
	return out
}

// plainRun tells whether toks begin with exactly these words.
func plainRun(toks []token, ws []string) bool {
	if len(toks) < len(ws) {
		return false
	}
	for i, w := range ws {
		if toks[i].kind != word && toks[i].kind != emoji || toks[i].text != w {
			return false
		}
	}
	return true
}

// phrases gives every token its meaning, the longest phrase first.
func (t *text) phrases() {
	t.items = make([]item, 0, len(t.toks))
	for i := 0; i < len(t.toks); {
		it := item{lo: i, hi: i + 1}
		switch tok := t.toks[i]; tok.kind {
		case digits:
			it.mean, it.num = mNumber, tok.num
		case mark:
			it.mean = mMark
		default:
			if p, ok := t.longest(i); ok {
				it.mean, it.hi = p.mean, i+len(p.words)
				if p.mean == mNumber {
					it.num = plainNumber(p.value)
					it.num.word = true
				}
			} else if tok.kind == emoji {
				it.mean = mEmoji
			}
		}
		t.items = append(t.items, it)
		i = it.hi
	}
}

// longest is the longest phrase that begins at token i.
func (t *text) longest(i int) (phrase, bool) {
	var best phrase
	for _, w := range t.words[i] {
		for _, p := range t.r.phrases[w] {
			if len(p.words) > len(best.words) && t.run(i, p.words) {
				best = p
			}
		}
	}
	return best, best.words != nil
}

// run tells whether the words stand one after the other from token i.
func (t *text) run(i int, ws []string) bool {
	if i+len(ws) > len(t.toks) {
		return false
	}
	for k, w := range ws {
		if !t.may(i+k, w) {
			return false
		}
	}
	return true
}

// may tells whether token i may stand for the known word w.
func (t *text) may(i int, w string) bool {
	for _, k := range t.words[i] {
		if k == w {
			return true
		}
	}
	return false
}

// clauses numbers the clauses and sentences.
func (t *text) clauses() {
	t.clause, t.sentence = make([]int, len(t.toks)), make([]int, len(t.toks))
	c, s := 0, 0
	for _, it := range t.items {
		switch {
		case it.mean == mBut:
			c++
		case it.mean == mMark && t.ends(it.lo):
			c++
			s++
		case it.mean == mMark && t.breaks(it.lo):
			c++
		}
		for i := it.lo; i < it.hi; i++ {
			t.clause[i], t.sentence[i] = c, s
		}
	}
}

// ends tells marks that end a sentence.
func (t *text) ends(i int) bool {
	switch t.toks[i].text {
	case ".", "!", "?", ";", "\n":
		return true
	}
	return false
}

// breaks tells marks that end a clause.
func (t *text) breaks(i int) bool {
	switch t.toks[i].text {
	case ",", "(", ")":
		return true
	case "-": // a dash with spaces around it
		return !t.toks[i].glued && (i+1 == len(t.toks) || !t.toks[i+1].glued)
	}
	return t.ends(i)
}

// soft tells items that may stand between a word and its number: "pain: 4",
// "p = 4".
func (t *text) soft(it item) bool {
	if it.mean != mMark {
		return false
	}
	switch t.toks[it.lo].text {
	case ":", "-", "=", "~", "\"", "'", "*", "@", "(", "<", ">", "_", "|":
		return true
	}
	return false
}
