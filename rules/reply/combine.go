package reply

import "math"

// combine joins numbers that belong together.
func (t *text) combine() {
	t.join(t.longNumber)
	t.join(t.half)
	t.join(t.adjacent)
	t.join(t.span)
	t.join(t.outOf)
	for i := range t.items[:max(0, len(t.items)-1)] {
		next := &t.items[i+1]
		switch {
		case t.items[i].mean == mMore && next.mean == mNumber:
			next.num.more = true
		case t.items[i].mean == mNumber && next.mean == mMore:
			t.items[i].num.more = true
		case next.mean == mNumber && next.num.high == 0 && t.after(i+1, t.r.almost):
			next.num.more = true // "almost 0" is no 0
		}
	}
}

// join replaces runs of items by one number wherever f finds a run: f
// returns how many items from i on become one number, or 0.
func (t *text) join(f func(i int) (int, number)) {
	var out []item // nil until a run is found
	for i := 0; i < len(t.items); {
		n, num := 0, number{}
		if t.items[i].mean == mNumber {
			n, num = f(i)
		}
		if n > 0 && out == nil {
			out = append(make([]item, 0, len(t.items)), t.items[:i]...)
		}
		if out != nil {
			it := t.items[i]
			if n > 0 {
				it.num, it.hi = num, t.items[i+n-1].hi
			}
			out = append(out, it)
		}
		i += max(n, 1)
	}
	if out != nil {
		t.items = out
	}
}

// is tells whether item i exists and has meaning m.
func (t *text) is(i int, m meaning) bool {
	return i >= 0 && i < len(t.items) && t.items[i].mean == m
}

// isMark tells whether item i is the mark s.
func (t *text) isMark(i int, s string) bool {
	return t.is(i, mMark) && t.toks[t.items[i].lo].text == s
}

// longNumber joins the pieces of a phone number or a date with dashes: seven
// digits and more, or three numbers parted by dashes.
func (t *text) longNumber(i int) (int, number) {
	size, most, dashes, n := 0, 0, 0, 0
	for j := i; j < len(t.items); j++ {
		it := t.items[j]
		switch {
		case it.mean == mNumber && !it.num.word && !it.num.scale:
			size += it.num.size
			most = max(most, it.num.size)
			n = j - i + 1
			continue
		case t.isMark(j, "-") && t.is(j+1, mNumber):
			dashes++
			continue
		case (t.isMark(j, ".") || t.isMark(j, "(") || t.isMark(j, ")")) && n > 0:
			continue
		}
		break
	}
	if size >= 7 && most >= 3 || dashes >= 2 && n >= 5 && size >= 4 {
		return n, number{date: true}
	}
	return 0, number{}
}

// outOf reads "4 out of 10" and "4 / 10".
func (t *text) outOf(i int) (int, number) {
	num := t.items[i].num
	if !(t.is(i+1, mScale) || t.isMark(i+1, "/")) || !t.is(i+2, mNumber) || num.scale || num.part {
		return 0, number{}
	}
	of := t.items[i+2].num
	under := of.high
	num.scale = under == 10 && (!of.span || of.low <= 1) // "on a scale of 1 to 10" too
	num.part = !num.scale
	if num.part && under > 0 {
		num.low /= under
	}
	return 3, num
}

// half reads "3 and a half" and "3 1/2".
func (t *text) half(i int) (int, number) {
	v := t.items[i].num
	if v.part || v.scale || len(v.scores) != 1 || v.high != math.Trunc(v.high) {
		return 0, number{}
	}
	switch {
	case t.is(i+1, mHalf):
		return 2, raised(v, 0.5)
	case t.is(i+1, mNumber) && t.items[i+1].num.part && !t.items[i+1].num.date && t.items[i+1].num.low < 1:
		return 2, raised(v, t.items[i+1].num.low)
	}
	return 0, number{}
}

func raised(n number, by float64) number {
	n.scores = []float64{n.high + by}
	n.low, n.high = n.high+by, n.high+by
	return n
}

// adjacent reads numbers with nothing between them. "twenty five" is one
// number, "1 0" may well be 10, and a number beside one over 10 ("2 45") is
// no score, whichever of them was meant.
func (t *text) adjacent(i int) (int, number) {
	if !t.is(i+1, mNumber) {
		return 0, number{}
	}
	a, b := t.items[i].num, t.items[i+1].num
	switch {
	case a.scale || b.scale || a.clock || b.clock || t.gluedNumber(i):
		return 0, number{}
	case a.high == 1 && b.high == 0:
		n := a
		n.scores = []float64{10}
		return 2, n
	case a.high > 10 || b.high > 10:
		n := number{scores: []float64{math.Inf(1)}, low: a.low, high: max(a.high, b.high)}
		return 2, n
	}
	return 0, number{}
}

// span reads ranges: "4-5", "4 to 5", "4 or 5". Both ends stay; the worse one
// counts.
func (t *text) span(i int) (int, number) {
	j := i + 1
	a := t.items[i].num
	switch {
	case t.is(j, mTo), t.is(j, mOr), t.isMark(j, "-"):
		j++
	case t.isMark(j, ".") && t.isMark(j+1, "."): // "4..5", "4...5"
		for t.isMark(j, ".") {
			j++
		}
	default:
		return 0, number{}
	}
	if !t.is(j, mNumber) {
		return 0, number{}
	}
	b := t.items[j].num
	if a.date || b.date || a.clock != b.clock || a.part || b.part || a.minus || b.minus {
		return 0, number{}
	}
	n := number{
		scores: append(append([]float64{}, a.scores...), b.scores...),
		low:    min(a.low, b.low), high: max(a.high, b.high),
		scale: a.scale || b.scale, clock: a.clock, more: a.more || b.more,
		size: a.size + b.size, span: true,
	}
	return j - i + 1, n
}
