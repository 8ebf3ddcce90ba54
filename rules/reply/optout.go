package reply

import (
	"slices"

	"stepgate/rules"
)

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
	t.anywhere(k.stopAsk, func(_ pattern, at []int) {
		unclear = true
		t.cover(at)
		for _, i := range at {
			free[i] = true
		}
	})
	t.anywhere(k.stopPhrase, func(_ pattern, at []int) {
		if t.told(at[0]) || slices.ContainsFunc(at, func(i int) bool { return free[i] }) {
			return
		}
		if _, no := t.denier(at[0], 0, false, nil); !no {
			plain = true
			t.cover(at)
		}
	})
	for i := range t.toks {
		for _, ws := range k.unclear {
			if plainRun(t.toks[i:], ws) && !free[i] {
				unclear = true
				for j := range ws {
					t.cover([]int{i + j})
				}
			}
		}
	}
	clause, edge := t.stopClause(), t.stopEdge()
	return plain, unclear || clause || edge
}

// told tells whether token i is part of a phrase of the report, as "stop" is
// in "had to stop".
func (t *text) told(i int) bool {
	return slices.ContainsFunc(t.items, func(it item) bool {
		return it.lo <= i && i < it.hi && it.hi-it.lo > 1 && (it.mean == mSome || it.mean == mNone || it.mean == mDone)
	})
}

// stopClause tells whether a clause of its own is a stop word: "pain 3,
// cancel".
func (t *text) stopClause() bool {
	found := false
	for lo := 0; lo < len(t.toks); {
		hi := lo + 1
		for hi < len(t.toks) && t.clause[hi] == t.clause[lo] {
			hi++
		}
		if said, ok := t.core(t.toks[lo:hi]); ok && (written(said, t.r.keywords.stop) || written(said, t.r.common.stop) || written(said, t.r.common.unclear)) {
			found = true
			for i := lo; i < hi; i++ {
				t.cover([]int{i})
			}
		}
		lo = hi
	}
	return found
}

// stopEdge tells whether the text begins or ends with a stop word beside a
// number or a fact: "CANCEL pain 5". In "end of day pain 3" it is none.
func (t *text) stopEdge() bool {
	items := t.spoken()
	n, found := len(items), false
	for _, at := range [][2]int{{0, 1}, {n - 1, n - 2}} {
		if n < 2 || items[at[0]].hi-items[at[0]].lo != 1 {
			continue
		}
		word, beside := items[at[0]].lo, items[at[1]]
		if written([]string{t.toks[word].text}, t.r.common.stop) &&
			(beside.mean == mNumber || beside.letter || slices.Contains(facts, beside.mean)) {
			found = true
			t.cover([]int{word})
		}
	}
	return found
}

// spoken is the items that are no marks.
func (t *text) spoken() []item {
	return slices.DeleteFunc(slices.Clone(t.items), func(it item) bool { return it.mean == mMark })
}

// stop takes the wish to opt out into the reading. A plain one counts unless
// a complaint stands in the same text: the complaint must be heard, so it
// counts and the patient is asked. A stop word that may mean anything is
// asked about.
func (t *text) stop(plain, unclear bool) {
	switch o := &t.out; {
	case plain && !t.complains():
		t.out = rules.Reading{Stop: true, Wrong: o.Wrong, Call: o.Call, Denied: o.Denied}
	case plain, unclear:
		o.AskStop = true
	}
}

// complains tells whether the text holds a score or a complaint, or begins or
// ends with a number that may be a score: "opt out 8".
func (t *text) complains() bool {
	o := &t.out
	if o.Pain != nil || o.FirstStep != nil || o.Skin || len(o.Flags) > 0 {
		return true
	}
	items := t.spoken()
	for _, i := range []int{0, len(items) - 1} {
		if i >= 0 && i < len(items) && items[i].mean == mNumber && items[i].counts == cLeft {
			if _, ok := items[i].num.score(); ok {
				return true
			}
		}
	}
	return false
}
