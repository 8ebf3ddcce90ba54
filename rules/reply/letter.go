package reply

import "slices"

// splitLetters parts words made of code letters that stand right before a
// number: "dp3" is D and P3.
func (r *Reader) splitLetters(in []token) []token {
	var out []token
	for i, t := range in {
		n := len([]rune(t.text))
		next := i+1 < len(in) && in[i+1].kind == digits && in[i+1].glued
		if t.kind != word || !next || n < 2 || n > 4 || r.lex.known[t.text] || !r.allLetters(t.text) {
			out = append(out, t)
			continue
		}
		for k, c := range []rune(t.text) {
			out = append(out, token{kind: word, text: string(c), glued: t.glued && k == 0})
		}
	}
	return out
}

func (r *Reader) allLetters(w string) bool {
	for _, c := range w {
		if _, ok := r.letters[string(c)]; !ok {
			return false
		}
	}
	return true
}

// letters finds the single letters that are codes. A letter glued to a number
// is one. Others must stand free: at the beginning, or after a mark, a number
// or another fact, and at the end, or before the like. So "d", "D P3" and
// "done b" hold codes, "did a bit" and "how r u" do not.
func (t *text) letters() {
	for i := range t.items {
		it := &t.items[i]
		if it.hi-it.lo != 1 || t.toks[it.lo].kind != word {
			continue
		}
		m, ok := t.r.letters[t.toks[it.lo].text]
		if !ok {
			if m, ok = t.r.sides[t.toks[it.lo].text]; ok {
				t.sideLetter(i, m)
			}
			continue
		}
		if t.unitLetter(i) {
			continue
		}
		if m == mSkinOK {
			t.okLetter(i)
			continue
		}
		if t.codeLetter(i, m) {
			it.mean, it.letter = m, true
		}
	}
}

// okLetter takes the letter of a skin check for a code only where "OK" can't
// be meant: alone, beside a number or another code, or last after a fact.
// "k thanks" and "k, done" are an OK, and say nothing of the skin.
func (t *text) okLetter(i int) {
	it := &t.items[i]
	if t.counted(i) {
		return
	}
	prev, last := i-1, true
	for prev >= 0 && t.items[prev].mean == mMark {
		prev--
	}
	for _, after := range t.items[i+1:] {
		last = last && after.mean == mMark
	}
	code := func(j int) bool { return t.is(j, mNumber) || j >= 0 && j < len(t.items) && t.items[j].letter }
	switch {
	case prev < 0 && last, code(prev), t.is(i+1, mNumber), i+1 < len(t.items) && t.letterAt(i+1),
		last && prev >= 0 && slices.Contains(facts, t.items[prev].mean):
		it.mean, it.letter = mSkinOK, true
	default:
		it.mean = mFiller
	}
}

// counted tells the letter of "5k" and "did 3 k", which counts what was
// walked, from that of "d2k" and "2 k".
func (t *text) counted(i int) bool {
	if !t.is(i-1, mNumber) {
		return false
	}
	if t.toks[t.items[i].lo].glued {
		return i < 2 || !t.items[i-2].letter || !t.toks[t.items[i-1].lo].glued
	}
	for j := range i - 1 {
		if m := t.items[j].mean; t.sameClause(i, j) && (m == mDid || m == mUnknown) {
			return true
		}
	}
	return false
}

// sideLetter takes L and R for a side only beside a number or a code.
func (t *text) sideLetter(i int, m meaning) {
	beside := func(j int) bool {
		if j < 0 || j >= len(t.items) {
			return false
		}
		switch t.items[j].mean {
		case mNumber, mPain, mSkin, mFirst:
			return true
		}
		return t.letterAt(j)
	}
	if t.gluedNumber(i) && t.toks[t.items[i].lo].text == "l" && t.items[i+1].num.high == 0 {
		return // "l0" may be meant as 10
	}
	if beside(i-1) || beside(i+1) {
		t.items[i].mean = m
	}
}

// unitLetter tells "3h" and "w 3 h" from "p3 h": a letter that is a unit too
// is the unit if it is glued to its number, or the number can only be counted
// in units.
func (t *text) unitLetter(i int) bool {
	switch t.items[i].mean {
	case mHours, mMinutes, mDays, mWeeks, mTimes, mCounts:
	default:
		return false
	}
	if i == 0 || t.items[i-1].mean != mNumber {
		return false
	}
	if t.toks[t.items[i].lo].glued || t.items[i-1].num.high > 10 {
		return true
	}
	if t.is(i+1, mNumber) {
		return false // "w 3 h 2"
	}
	j := i - 2
	for j >= 0 && (t.items[j].mean == mFiller || t.soft(t.items[j])) {
		j--
	}
	return j >= 0 && t.items[j].mean == mWear
}

// codeLetter tells whether the letter at item i stands as a code.
func (t *text) codeLetter(i int, m meaning) bool {
	if t.gluedNumber(i) {
		return i == 0 || !t.toks[t.items[i].lo].glued || t.items[i-1].mean == mNumber ||
			t.items[i-1].mean == mMark || t.items[i-1].letter
	}
	if t.isMark(i+1, "/") && !(i+2 < len(t.items) && t.letterAt(i+2) && t.toks[t.items[i+2].lo].glued) {
		return false // "w/ pain", but "d/p3" is two codes
	}
	if between := t.items[i].mean == mOr || t.items[i].mean == mTo; between && t.is(i-1, mNumber) && t.is(i+1, mNumber) {
		return false // "7 u 8", "4 a 5": both ends count
	}
	filler := t.items[i].mean != mUnknown
	if filler && t.is(i+1, mNumber) && t.items[i+1].num.word {
		return false // "a five"
	}
	if !t.freeBefore(i, filler) {
		return false
	}
	switch m {
	case mPain, mFirst, mWear, mAway:
		return t.numberAfter(i) || m != mAway && m != mWear && t.freeAfter(i)
	}
	return t.freeAfter(i)
}

// gluedNumber tells whether a number follows item i without a space.
func (t *text) gluedNumber(i int) bool {
	return i+1 < len(t.items) && t.items[i+1].mean == mNumber && t.toks[t.items[i+1].lo].glued
}

// freeBefore tells whether a code may begin at item i. A letter that is also
// a word ("a") is stricter: "done a 5" is a score.
func (t *text) freeBefore(i int, isWord bool) bool {
	if i == 0 {
		return true
	}
	p := t.items[i-1]
	if i == 1 && !isWord && written([]string{t.toks[p.lo].text}, t.r.keywords.unclear) {
		return true // "STOP D 2": the report first
	}
	if slices.Contains(facts, p.mean) {
		return p.letter || !isWord
	}
	switch p.mean {
	case mMark, mNumber:
		return true
	case mEmoji, mThumb, mHow, mCall, mLeft, mRight:
		return p.letter || !isWord
	case mFiller, mOr:
		return !isWord && i > 1 && t.numberAfter(i)
	}
	return t.items[i-1].letter
}

// freeAfter tells whether a code may end at item i.
func (t *text) freeAfter(i int) bool {
	if i+1 == len(t.items) {
		return true
	}
	if slices.Contains(facts, t.items[i+1].mean) {
		return true
	}
	switch t.items[i+1].mean {
	case mMark, mNumber, mEmoji, mThumb, mHow, mCall, mLeft, mRight:
		return true
	case mFiller, mLimit, mBut, mDoubt:
		return true
	case mUnknown:
		if i == 0 && t.toks[t.items[i].lo].upper && t.items[i].mean == mUnknown {
			return true // "D great"
		}
	}
	return t.letterAt(i + 1)
}

// facts are the meanings that report something of the patient's day.
var facts = []meaning{mDone, mDid, mSome, mPart, mNone, mPain, mNoPain, mSkin, mSkinOK, mWear, mNotWorn}

// letterAt tells whether item i is a single letter with a code.
func (t *text) letterAt(i int) bool {
	it := t.items[i]
	if it.hi-it.lo != 1 {
		return false
	}
	w := t.toks[it.lo].text
	_, code := t.r.letters[w]
	_, side := t.r.sides[w]
	return code || side
}

// numberAfter tells whether a number follows item i, over fillers and soft
// marks: "P: 3", "P is about 3", "p left 3".
func (t *text) numberAfter(i int) bool {
	for j := i + 1; j < len(t.items); j++ {
		it := t.items[j]
		switch {
		case it.mean == mNumber:
			return true
		case t.soft(it), slices.Contains(through, it.mean):
		default:
			return false
		}
	}
	return false
}

// through are the meanings that a number's word may be looked for across.
var through = []meaning{mFiller, mLeft, mRight, mMore, mDoubt, mTimeAt}
