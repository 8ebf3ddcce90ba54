package reply

import (
	"slices"

	"stepgate/rules"
)

// day reads how much of the exercises was done. The least said counts; all
// and none in one text is some, and asked about.
func (t *text) day() {
	var all, some, none bool
	for i, it := range t.items {
		m := it.mean
		switch m {
		case mDone, mDid, mSome, mPart, mNone, mThumb:
		default:
			continue
		}
		if it.letter {
			all, some, none = all || m == mDone, some || m == mSome, none || m == mNone
			continue
		}
		if m == mPart && t.degree(i) || m == mThumb && t.saidElse(i) {
			continue
		}
		if t.another(i, m == mNone) || m == mDid && !t.didAll(i) {
			t.out.Unread = true
			continue
		}
		if neg := t.negated(i); neg && m == mNone {
			t.out.Unread = true
			continue
		} else if neg {
			m = mNone
		}
		all = all || m == mDone || m == mDid || m == mThumb
		some, none = some || m == mSome || m == mPart, none || m == mNone
	}
	switch o := &t.out; {
	case some || all && t.partly():
		o.Done = rules.DoneSome
	case all && t.excepted():
		o.Done, o.Unread = rules.DoneSome, true
	case all && none:
		o.Done, o.Unread = rules.DoneSome, true
	case all:
		o.Done = rules.DoneAll
	case none:
		o.Done = rules.DoneNone
	}
}

// degree tells "some" that measures the pain or a sign, not the exercises:
// "some pain", "my foot hurts some".
func (t *text) degree(i int) bool {
	for j := i - 1; j >= 0 && t.sameClause(i, j); j-- {
		if m := t.items[j].mean; m == mPain && !t.items[j].letter {
			return true
		} else if m != mFiller {
			break
		}
	}
	for j := i + 1; j < len(t.items); j++ {
		switch it := t.items[j]; {
		case it.mean == mFiller:
		case it.mean == mPain, it.mean == mSkin, it.mean == mNoPain:
			return !it.letter
		case it.mean == mUnknown:
			return true
		default:
			return it.mean != mMark && t.covered[it.lo]
		}
	}
	return false
}

// saidElse tells a thumbs-up that only adds cheer: the exercises are spoken
// of in words.
func (t *text) saidElse(i int) bool {
	for j, it := range t.items {
		switch it.mean {
		case mDone, mDid, mSome, mPart, mNone:
			return true
		case mFuture, mDoubt:
			t.out.Unread = true
			return true
		case mThumb:
			if j < i {
				return true
			}
		}
	}
	return false
}

// another tells whether the clause speaks of yesterday, of what may be or is
// asked or, unless it says what is not done, of what will be.
func (t *text) another(i int, none bool) bool {
	for j, it := range t.items {
		if t.sameClause(i, j) && (it.mean == mPast || it.mean == mFuture && !none) {
			return true
		}
	}
	return t.doubtful(t.clause[t.items[i].lo])
}

// didAll tells whether nothing after a bare "did" narrows it: "did my
// exercises", not "did a walk", "did 3" or "it did hurt".
func (t *text) didAll(i int) bool {
	for j := i + 1; j < len(t.items) && t.sameClause(i, j); j++ {
		switch it := t.items[j]; it.mean {
		case mUnknown, mIgnore, mBefore:
			return false
		case mPain, mNot, mNo:
			if j == i+1 {
				return false
			}
		case mNumber:
			switch {
			case it.num.part && it.num.low < 1: // "did 2 of 3"
				return true
			case it.counts != cTime || t.is(j+1, mCounts):
				return false
			}
		}
	}
	return true
}

// negated tells whether a denying word stands before item i with only
// fillers between.
func (t *text) negated(i int) bool {
	for j := i - 1; j >= 0 && t.sameClause(i, j); j-- {
		switch t.items[j].mean {
		case mFiller:
		case mNo, mNot:
			t.cover([]int{t.items[j].lo})
			return true
		default:
			return false
		}
	}
	return false
}

// partly tells "2 of 3 done" and "80% done".
func (t *text) partly() bool {
	for i, it := range t.items {
		if it.mean == mNumber && it.counts == cNoTell {
			if it.num.part && it.num.low < 1 || t.isMark(i+1, "%") && it.num.low < 100 {
				return true
			}
		}
	}
	return false
}

// excepted tells "did them all except the last": of what was said before the
// exception, the exercises stand nearest.
func (t *text) excepted() bool {
	for i, it := range t.items {
		if it.mean != mBut || !t.saidBy(it, t.r.except) {
			continue
		}
		for j := i - 1; j >= 0 && t.sentence[t.items[j].lo] == t.sentence[it.lo]; j-- {
			b := t.items[j]
			if b.mean == mDone || b.mean == mDid {
				return true
			}
			if slices.Contains(facts, b.mean) || b.scored() {
				break
			}
		}
	}
	return false
}

// others reads skin, not worn, how-to and call. What was read of danger words
// and numbers must stand.
func (t *text) others() {
	o := &t.out
	for i, it := range t.items {
		at := make([]int, 0, 4)
		for k := it.lo; k < it.hi; k++ {
			at = append(at, k)
		}
		switch it.mean {
		case mSkin:
			switch {
			case !it.letter && t.denied(at, false, false, nil):
				t.cover(at)
			case !it.letter && t.denied(at, false, true, nil): // "blister gone": ask
				o.Unread = true
			default:
				o.Skin = true
			}
		case mSkinOK:
			if it.letter || !t.limited(i) && !t.oneSided(i) {
				o.SkinOK = true
			} else {
				o.Unread = true
			}
		case mNotWorn:
			zero := 0.0
			o.Wear = &zero
		case mHow:
			if o.How == nil && (it.letter || it.hi-it.lo > 1 || !t.unknownNear(i)) {
				all := 0
				o.How = &all
			}
		case mCall:
			if it.letter || !t.negated(i) {
				o.Call = true
			} else {
				o.Unread = true
			}
		}
	}
}

// oneSided tells whether the clause of item i speaks of one side only: "no
// marks on the left foot" is half a skin check.
func (t *text) oneSided(i int) bool {
	left, right := false, false
	for j, it := range t.items {
		if t.sameClause(i, j) {
			left, right = left || it.mean == mLeft, right || it.mean == mRight
		}
	}
	return left != right
}

// skinFine lets a skin check without findings stand only in a text that was
// understood in full and tells of no skin complaint or danger: a check that is
// made up lets wear time grow where the patient can't feel the harm.
func (t *text) skinFine() {
	o := &t.out
	if o.Unread || o.Skin || o.Wrong || len(o.Flags) > 0 || slices.ContainsFunc(t.items, t.lightWord) {
		o.SkinOK = false
	}
}

// unknownNear tells whether an unknown word stands in the clause of item i.
func (t *text) unknownNear(i int) bool {
	for j, it := range t.items {
		if t.sameClause(i, j) && t.unexplained(it) {
			return true
		}
	}
	return false
}

// unexplained tells words that mean nothing here and stand in no danger word.
func (t *text) unexplained(it item) bool {
	return (it.mean == mUnknown || it.mean == mIgnore) && slices.Contains(t.covered[it.lo:it.hi], false)
}

// noPain reads "no pain" as 0, if nothing in the text takes it back.
func (t *text) noPain() {
	o := &t.out
	hurts := slices.ContainsFunc(t.items, func(it item) bool {
		return it.mean == mPain && slices.Contains(t.covered[it.lo:it.hi], false)
	})
	for i, it := range t.items {
		if it.mean != mNoPain {
			continue
		}
		switch {
		case slices.Contains(t.covered[it.lo:it.hi], true): // "no pain in chest"
		case hurts, t.limited(i):
			o.Unread = o.Unread || o.Pain == nil
		case t.asked == rules.AskFirstStep && o.Pain == nil:
			if o.FirstStep == nil {
				o.FirstStep = new(int)
			}
		case o.Pain == nil:
			o.Pain = new(int)
		}
	}
}

// denies tells whether item it holds a denying word or one of inability.
func (t *text) denies(it item) bool {
	for i := it.lo; i < it.hi; i++ {
		if w := t.toks[i].text; t.r.not[w] || t.r.no[w] || t.r.unable[w] {
			return true
		}
	}
	return false
}

// limited tells a "no pain" that holds only so far: "no pain at rest", "not
// sure no pain", "no pain yesterday".
func (t *text) limited(i int) bool {
	if t.doubtful(t.clause[t.items[i].lo]) || t.changed(t.items[i].lo) {
		return true
	}
	here := t.sentence[t.items[i].lo]
	for j, it := range t.items {
		switch it.mean {
		case mPast, mFuture:
			if t.sameClause(i, j) {
				return true
			}
		case mNo, mNot, mDays, mWeeks, mLimit: // "never without pain", "3 days without pain"
			if j < i && t.sameClause(i, j) && !t.covered[it.lo] {
				return true
			}
		case mNone, mSome: // "couldnt do it without pain"
			if j < i && t.sameClause(i, j) && t.denies(it) {
				return true
			}
		}
		switch it.mean {
		case mLimit, mUnknown, mIgnore, mMore:
			if j > i && t.sentence[it.lo] == here && !t.covered[it.lo] {
				return true
			}
		}
	}
	return false
}
