package reply

import (
	"slices"

	"stepgate/rules"
)

// counted is what a number was taken for.
type counted uint8

const (
	cNone   counted = iota
	cPain           // the daily score
	cFirst          // the first-step score
	cBoth           // the first-step score, or the daily one: see takeScore
	cWear           // hours
	cHow            // number of an exercise
	cAway           // days
	cTime           // a time, date, phone number, count: understood, and no score
	cNoTell         // hours of what, which exercise: understood, and says nothing alone
	cLeft           // could be a score, but nothing says so
	cBad            // not understood
)

// skipped are the meanings crossed on the way back from a number to the word
// it belongs to.
var skipped = append([]meaning{mFuture, mPast, mLimit, mBut, mOr, mTo, mNot, mEmoji, mThumb}, through...)

// headBefore is the item that a number may belong to: the nearest before it
// that is no filler, or -1. far tells that a comma or more lies between.
func (t *text) headBefore(i int) (h int, far bool) {
	for j := i - 1; j >= 0; j-- {
		it := t.items[j]
		switch {
		case it.mean == mMark && !t.soft(it):
			far = true
		case t.soft(it):
		case it.mean == mBut:
			far = true
		case !it.letter && slices.Contains(skipped, it.mean):
		default:
			return j, far
		}
	}
	return -1, far
}

// mean is the meaning of item i, unknown outside the text.
func (t *text) mean(i int) meaning {
	if i < 0 || i >= len(t.items) {
		return mUnknown
	}
	return t.items[i].mean
}

// count decides what the number at item i counts. The questions go from what
// is sure to what is likely: a code letter, then what the words beside it
// count, then a pain word nearby, then the question asked last.
func (t *text) count(i int) counted {
	n := t.items[i].num
	h, far := t.headBefore(i)
	code := h >= 0 && t.items[h].letter
	switch head := t.mean(h); {
	case code && head == mPain:
		return cPain
	case code && head == mFirst:
		return cFirst
	case n.date:
		return cTime
	case n.span && n.low <= 1 && n.high == 10 && !n.word: // the scale itself: "0-10"
		return cNoTell
	case head == mWear && !far && !n.scale && !t.painAfter(i):
		return cWear
	case !far && !n.scale && (head == mHow || head == mBefore && t.howBefore(h)):
		return cHow
	case head == mAway && !far && !n.scale:
		return cAway
	case !n.scale && !t.painAfter(i) && t.after(i, t.r.leftOut): // "missed the 3"
		return cNoTell
	case t.unitBefore(i):
		return cLeft
	}
	if c := t.beside(i, h, far); c != cNone {
		return c
	}
	return t.likely(i, h)
}

// howBefore tells "how do I do exercise" before a number.
func (t *text) howBefore(i int) bool {
	h, far := t.headBefore(i)
	return !far && t.mean(h) == mHow
}

// beside looks at the words right beside a number that tell what it counts.
func (t *text) beside(i, h int, far bool) counted {
	n := t.items[i].num
	if n.scale {
		if t.is(i+1, mCounts) {
			return cTime
		} else if t.is(i-1, mDid) { // "did 8 of 10": more likely exercises, so ask
			return cNoTell
		}
		return t.scored(i, h)
	}
	pain := !far && (t.mean(h) == mPain || t.mean(h) == mFirst)
	switch t.mean(i + 1) {
	case mHours, mMinutes:
		if t.near(i, mWear) {
			return cWear
		}
		return cNoTell
	case mDays, mWeeks:
		if t.near(i, mAway) {
			return cAway
		}
		return cNoTell
	case mTimes:
		return cTime
	case mCounts, mBefore:
		if t.mean(i+2) == mNumber && t.mean(i+1) == mBefore { // "3 exercise 2"
			break
		}
		if pain && t.mean(i+2) != mNumber {
			t.out.Unread = true
		}
		if pain {
			return t.scored(i, h)
		}
		return cTime
	}
	switch {
	case n.clock, t.perCount(i):
		return cTime
	case n.part, t.isMark(i+1, "%"):
		return cNoTell
	case t.named(i):
		return cNoTell
	case t.timeOfDay(i):
		return cTime
	case t.strange(i), t.isMark(i-1, "<") && !pain:
		return cBad
	}
	return cNone
}

// perCount tells the second number of "3x10" and "3 sets of 10".
func (t *text) perCount(i int) bool {
	if t.is(i-1, mScale) {
		return t.is(i-2, mCounts)
	}
	return t.is(i-1, mCounts) && t.toks[t.items[i].lo].glued
}

// named tells a number that is a name: "exercise 2", "week 3", "#2".
func (t *text) named(i int) bool {
	switch t.mean(i - 1) {
	case mBefore:
		return true
	case mDays, mWeeks:
		return !t.is(i-2, mNumber)
	}
	return t.isMark(i-1, "#")
}

// timeOfDay tells "at 5" from "pain at 5". In a clause about pain the doubt
// goes to the score.
func (t *text) timeOfDay(i int) bool {
	j := i - 1
	for t.is(j, mFiller) {
		j--
	}
	if !t.is(j, mTimeAt) {
		return false
	}
	for j--; j >= 0 && t.sameClause(i, j); j-- {
		switch t.items[j].mean {
		case mPain, mFirst:
			return false
		case mDone, mDid, mSome, mPart, mNone, mCall, mWear, mUnknown:
			return true
		}
	}
	return true
}

// strange tells a number glued to letters that mean nothing: "pl0", "3e5".
func (t *text) strange(i int) bool {
	if i > 0 && t.toks[t.items[i].lo].glued {
		switch p := t.items[i-1]; {
		case p.mean == mUnknown, p.mean == mFiller && len(t.toks[p.hi-1].text) == 1:
			return true
		}
	}
	return t.mean(i+1) == mUnknown && i+1 < len(t.items) && t.toks[t.items[i+1].lo].glued
}

// likely looks for a pain word further off, then at the question asked.
func (t *text) likely(i, h int) counted {
	switch t.mean(h) {
	case mPain, mFirst:
		return t.scored(i, h)
	case mNumber:
		switch t.items[h].counts {
		case cPain:
			return cPain
		case cFirst:
			return t.second(h, i)
		}
	}
	if t.is(i+1, mFirst) && !t.items[i+1].letter && h < 0 { // "3 first steps and 8 after"
		return cFirst
	}
	for j := i - 1; j >= 0 && t.sameClause(i, j); j-- {
		switch t.items[j].mean {
		case mNumber:
			if t.items[j].counts == cFirst { // "F3 done 8"
				return t.second(j, i)
			}
		case mPain, mFirst:
			return t.scored(i, j)
		}
	}
	for j := i + 1; j < len(t.items) && t.sameClause(i, j); j++ {
		if m := t.items[j].mean; (m == mPain || m == mFirst) && !t.numberAfter(j) {
			return t.scored(i, j)
		}
	}
	switch t.mean(h) {
	case mDone, mSome, mPart, mNone, mThumb:
		return t.bare(i, true)
	}
	if (t.is(i-1, mLeft) || t.is(i-1, mRight)) && t.toks[t.items[i].lo].glued { // "r5"
		return t.bare(i, true)
	}
	if t.unknownNear(i) {
		return cLeft
	}
	return t.bare(i, false)
}

// scored tells which of the two scores a number is, given the pain or
// first-step word it belongs to, if any.
func (t *text) scored(i, h int) counted {
	switch t.mean(h) {
	case mFirst:
		if t.is(h-1, mNumber) && t.items[h-1].counts == cFirst { // it has its number
			return cPain
		}
		return cFirst
	case mPain:
		if t.items[h].letter {
			return cPain
		}
		for j := h - 1; j >= 0 && t.sameClause(h, j); j-- { // "first step pain"
			if t.is(j, mFirst) {
				return cFirst
			}
			if !t.is(j, mFiller) {
				break
			}
		}
		return cPain
	}
	return t.bare(i, true)
}

// bare takes a number without a word of its own for the answer to the
// question asked last. sure tells that it can only be a score.
func (t *text) bare(i int, sure bool) counted {
	pain := false
	for j := range i {
		m := t.items[j].mean
		pain = pain || m == mPain || m == mNoPain && t.asked != rules.AskFirstStep
		sure = sure || (m == mLeft || m == mRight) && j == i-1
	}
	switch {
	case pain, t.asked == rules.AskPain, t.asked == rules.AskPainNow:
		return cPain
	case t.asked == rules.AskFirstStep:
		return t.answersFirst()
	case sure || t.is(i+1, mLeft) || t.is(i+1, mRight):
		return cPain
	}
	return cLeft
}

// second is what the number at item i counts, which follows the first-step
// score at item h: the first steps of the other side, or else the daily score.
func (t *text) second(h, i int) counted {
	for j := h + 1; j <= i+1 && j < len(t.items); j++ {
		if t.is(j, mLeft) || t.is(j, mRight) {
			return cFirst
		}
	}
	return cPain
}

// answersFirst is what a number without a word of its own counts after the
// first-step question. Where another number is the first-step score it is the
// daily one. Beside what was done it may be either.
func (t *text) answersFirst() counted {
	did := false
	for j, it := range t.items {
		switch it.mean {
		case mFirst:
			if t.numberAfter(j) || !it.letter && t.is(j-1, mNumber) {
				return cPain
			}
		case mDone, mDid, mSome, mPart, mNone, mThumb:
			did = true
		}
	}
	if did {
		return cBoth
	}
	return cFirst
}

// after tells whether one of the phrases stands right before item i.
func (t *text) after(i int, phrases [][]string) bool {
	lo := t.items[i].lo
	for _, ws := range phrases {
		if len(ws) <= lo && t.run(lo-len(ws), ws) {
			return true
		}
	}
	return false
}

// unitBefore tells a single letter before a number that is a unit in this
// language, and counts nothing: "H 2" where H is no code.
func (t *text) unitBefore(i int) bool {
	switch t.mean(i - 1) {
	case mHours, mMinutes, mTimes:
		p := t.items[i-1]
		return !p.letter && p.hi-p.lo == 1 && len(t.toks[p.lo].text) == 1 && !t.is(i-2, mNumber)
	}
	return false
}

// painAfter tells whether a pain word without a number of its own follows
// right after the number at item i: "4 pain".
func (t *text) painAfter(i int) bool {
	return t.is(i+1, mPain) && !t.items[i+1].letter && !t.numberAfter(i+1)
}

// near tells whether meaning m stands in the sentence of item i.
func (t *text) near(i int, m meaning) bool {
	for _, it := range t.items {
		if it.mean == m && t.sentence[it.lo] == t.sentence[t.items[i].lo] {
			return true
		}
	}
	return false
}

// sameClause tells whether items i and j stand in one clause.
func (t *text) sameClause(i, j int) bool {
	return t.clause[t.items[i].lo] == t.clause[t.items[j].lo]
}
