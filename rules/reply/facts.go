package reply

import (
	"math"
	"slices"

	"stepgate/rules"
)

// numbers decides what each number counts and takes it into the reading.
func (t *text) numbers() {
	for i := range t.items {
		if t.is(i, mNumber) {
			t.items[i].counts = t.count(i)
			t.take(i)
		}
	}
	o := &t.out
	for i, it := range t.items {
		switch s, ok := it.num.score(); {
		case it.mean != mNumber:
		case it.counts == cLeft:
			// A number nobody explained, higher than the pain that was read:
			// it may be the worse pain.
			o.Unread = true
			if ok && o.Pain != nil && s > *o.Pain {
				o.Pain = &s
			}
		case it.counts == cTime:
			o.Unread = o.Unread || ok && o.Pain != nil && s > *o.Pain && t.perhapsPain(i)
		case it.counts == cNoTell && o.Pain == nil && o.FirstStep == nil && o.Wear == nil && o.Away == nil:
			o.Unread = true
		}
	}
}

// perhapsPain tells a number that was taken for a time but may be a score:
// "pain 4 morning 9 pm".
func (t *text) perhapsPain(i int) bool {
	if t.items[i].num.clock || t.items[i].num.date || !t.is(i+1, mTimes) || t.toks[t.items[i+1].lo].glued {
		return false
	}
	for j := range i {
		if t.is(j, mPain) && t.sameClause(i, j) {
			return true
		}
	}
	return false
}

// stale tells whether every score in the text is told of yesterday. It still
// counts, being the worst since the last message for all we know, but today's
// is asked for.
func (t *text) stale() bool {
	scores, past := 0, 0
	for _, it := range t.items {
		if it.scored() {
			scores++
			if slices.ContainsFunc(t.items, func(o item) bool {
				return o.mean == mPast && t.clause[o.lo] == t.clause[it.lo]
			}) {
				past++
			}
		}
	}
	return scores > 0 && scores == past
}

// take puts the number at item i where it belongs, or marks it unread.
func (t *text) take(i int) {
	n, o := t.items[i].num, &t.out
	switch t.items[i].counts {
	case cPain, cFirst, cBoth:
		t.takeScore(i)
	case cWear:
		h := n.low
		if t.is(i+1, mMinutes) {
			h /= 60
		}
		if n.minus || n.date || h < 0 || h > 24 {
			o.Unread = true
		} else if o.Wear == nil || h < *o.Wear { // the fewest hours count
			o.Wear = &h
		}
	case cHow:
		k := int(min(n.high, 100))
		if o.How != nil || n.minus || n.part || n.clock || n.low != n.high || n.high != math.Trunc(n.high) || k < 1 || k > 99 {
			o.Unread = true
		} else {
			o.How = &k
		}
	case cAway:
		t.takeAway(i)
	case cBad:
		o.Unread = true
	}
}

// keepGoing is the highest score that both scores may lie at without less load:
// 0-3 keep going, 4-5 modify (the self-help page of an NHS community service).
const keepGoing = 3

// takeScore takes the score at item i. One that may be either counts as the
// daily one too if it is high: in doubt less load.
func (t *text) takeScore(i int) {
	o, c := &t.out, t.items[i].counts
	s, ok := t.items[i].num.score()
	if !ok {
		o.Unread = true
		return
	}
	daily := c == cPain || c == cBoth && s > keepGoing
	if daily && (o.Pain == nil || s > *o.Pain) {
		o.Pain, o.Side = &s, t.sideOf(i)
	}
	if c != cPain && (o.FirstStep == nil || s > *o.FirstStep) {
		o.FirstStep = &s
		if o.Pain == nil {
			o.Side = t.sideOf(i)
		}
	}
}

// takeAway reads days away; of a range the longer.
func (t *text) takeAway(i int) {
	n, o := t.items[i].num, &t.out
	d := math.Ceil(n.high)
	if t.is(i+1, mWeeks) {
		d *= 7
	}
	if n.minus || n.part || n.clock || d < 1 || d > 366 || t.mean(i+1) == mHours || t.mean(i+1) == mMinutes {
		o.Unread = true
		return
	}
	days := int(d)
	if o.Away == nil || days > *o.Away {
		o.Away = &days
	}
	// "a 5" after the pain question may as well be "a five".
	h, _ := t.headBefore(i)
	if h >= 0 && t.items[h].letter && !t.toks[t.items[h].lo].upper && !t.gluedNumber(h) &&
		t.r.fillers[t.toks[t.items[h].lo].text] && t.asked != rules.AskNothing {
		o.Unread = true
	}
}

// sideOf is the side a score belongs to: the one named in its clause, and
// where both are, the one on the same hand of the numbers as the first.
func (t *text) sideOf(i int) string {
	before, after, first := mUnknown, mUnknown, mUnknown
	both, sideFirst := false, false
	seen := false
	for j, it := range t.items {
		if !t.sameClause(i, j) {
			continue
		}
		switch it.mean {
		case mNumber:
			seen = true
		case mLeft, mRight:
			if first == mUnknown {
				first, sideFirst = it.mean, !seen
			}
			both = both || it.mean != first
			if j < i {
				before = it.mean
			} else if after == mUnknown {
				after = it.mean
			}
		}
	}
	switch {
	case !both:
		return sideName(first)
	case sideFirst:
		return sideName(before)
	}
	return sideName(after)
}

func sideName(m meaning) string {
	switch m {
	case mLeft:
		return "left"
	case mRight:
		return "right"
	}
	return ""
}

// unread marks what was not understood.
func (t *text) unread() {
	o := &t.out
	var sides []meaning
	for i, it := range t.items {
		switch it.mean {
		case mUnknown, mIgnore:
			reported := o.Pain != nil || o.FirstStep != nil || o.Done != ""
			o.Unread = o.Unread || t.unexplained(it) && !(reported && t.lightWord(it))
		case mNo, mNot:
			if !t.covered[it.lo] && !t.is(i+1, mMark) {
				o.Unread = true
			}
		case mLeft, mRight:
			sides = append(sides, it.mean)
		case mPain:
			covered := !slices.Contains(t.covered[it.lo:it.hi], false)
			o.Unread = o.Unread || !covered && o.Pain == nil && o.FirstStep == nil
		case mFirst:
			o.Unread = o.Unread || o.FirstStep == nil
		case mWear:
			o.Unread = o.Unread || o.Wear == nil
		case mAway:
			o.Unread = o.Unread || o.Away == nil
		}
	}
	if o.Pain == nil && o.FirstStep == nil && o.Side == "" && len(slices.Compact(sides)) == 1 {
		o.Side = sideName(sides[0])
	}
	o.Unread = o.Unread || t.stale()
	said := o.Report() || o.How != nil || o.Away != nil || o.Call || o.Wrong || len(o.Denied) > 0
	o.Unread = (o.Unread || !said) && !o.Wrong
}
