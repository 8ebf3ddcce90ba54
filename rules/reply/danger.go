package reply

import (
	"slices"

	"stepgate/rules"
)

// gapWords is how many words "..." stands for at most, and looseWords how
// many fillers may stand between two words without it: "cant put any weight".
const (
	gapWords   = 5
	looseWords = 2
)

// pattern is a phrase searched for anywhere: runs of words with gaps between.
type pattern struct {
	words []string
	flag  int    // the danger sign it belongs to, an index in the vocabulary
	gap   []bool // a gap before this word
	verb  bool   // only "not" denies it
	firm  bool   // holds a denying word itself: never denied
	tight bool   // no fillers between its words
	alone bool   // strong pain only where no score was written
}

// rest returns the tokens of every match of p whose first k words stand at the
// tokens in at.
func (t *text) rest(p pattern, k int, at []int) [][]int {
	if k == len(p.words) {
		return [][]int{slices.Clone(at)}
	}
	last := at[len(at)-1]
	limit := looseWords
	if p.gap[k] {
		limit = gapWords
	} else if p.tight {
		limit = 0
	}
	var found [][]int
	for j, between := last+1, 0; j < len(t.toks) && between <= limit; j++ {
		if t.sentence[j] != t.sentence[last] {
			break
		}
		if t.toks[j].kind == mark {
			if !p.gap[k] {
				break
			}
			continue
		}
		if t.may(j, p.words[k]) {
			found = append(found, t.rest(p, k+1, append(slices.Clone(at), j))...)
		}
		if !p.gap[k] && !t.filler(j) {
			break
		}
		between++
	}
	return found
}

// filler tells whether token j is a word that says nothing.
func (t *text) filler(j int) bool {
	for _, w := range t.words[j] {
		if t.r.fillers[w] {
			return true
		}
	}
	return false
}

// patterns are phrases to search for, by first word.
type patterns map[string][]pattern

func (ps patterns) add(p pattern) { ps[p.words[0]] = append(ps[p.words[0]], p) }

// at calls f with each match of any of the patterns that begins at token i.
func (t *text) at(i int, ps patterns, f func(p pattern, at []int)) {
	for _, w := range t.words[i] {
		for _, p := range ps[w] {
			for _, at := range t.rest(p, 1, []int{i}) {
				f(p, at)
			}
		}
	}
}

// anywhere calls f with each match in the text.
func (t *text) anywhere(ps patterns, f func(p pattern, at []int)) {
	for i := range t.toks {
		t.at(i, ps, f)
	}
}

// match is a danger word found in a text.
type match struct {
	flag   int // index in the vocabulary
	at     []int
	verb   bool
	firm   bool
	denied bool
}

// danger finds the danger words, and which of them are plainly denied.
func (t *text) danger() {
	free := map[[2]int]bool{} // danger sign and token: explained otherwise
	t.anywhere(t.r.harmless, func(p pattern, at []int) {
		for _, i := range at {
			free[[2]int{p.flag, i}] = true
		}
	})
	var all []match
	t.anywhere(t.r.danger, func(p pattern, at []int) {
		if !slices.ContainsFunc(at, func(i int) bool { return free[[2]int{p.flag, i}] }) {
			all = append(all, match{flag: p.flag, at: at, verb: p.verb, firm: p.firm})
		}
	})
	deniedTo := map[int]bool{} // tokens that end something denied
	for _, it := range t.items {
		if w := t.toks[it.lo].text; it.mean == mNoPain && (t.r.no[w] || t.r.not[w]) {
			deniedTo[it.hi-1] = true
		}
	}
	for i := range all {
		m := &all[i]
		t.cover(m.at)
		over := t.r.signs[m.flag].Tier == rules.UrgentClinic
		if m.denied = !m.firm && t.denied(m.at, m.verb, over, deniedTo); m.denied {
			deniedTo[m.at[len(m.at)-1]] = true
		}
	}
	t.flag(all)
}

// flag writes the danger words down. A word inside a longer, more urgent one
// ("swollen" in "swollen calf") is not told apart, and one that stands both
// plainly and denied counts as plain.
func (t *text) flag(all []match) {
	state := make([]int, len(t.r.signs)) // 1 denied, 2 plain
	for _, m := range all {
		inside := slices.ContainsFunc(all, func(o match) bool {
			return o.at[0] <= m.at[0] && o.denied == m.denied && o.flag != m.flag && len(o.at) > len(m.at) &&
				!t.r.signs[m.flag].Tier.Worse(t.r.signs[o.flag].Tier) &&
				!slices.ContainsFunc(m.at, func(i int) bool { return !slices.Contains(o.at, i) })
		})
		switch {
		case inside:
		case m.denied:
			state[m.flag] = max(state[m.flag], 1)
		default:
			state[m.flag] = 2
		}
	}
	for f, s := range state {
		flag := t.r.signs[f]
		switch s {
		case 1:
			t.out.Denied = append(t.out.Denied, flag)
		case 2:
			t.out.Flags = append(t.out.Flags, flag)
			t.out.Skin = t.out.Skin || t.r.skins[f]
		}
	}
}

// denied tells whether the words at these tokens are plainly denied: all in
// one clause that holds no doubt and is no question, with a denying word
// right before one of them or only bridging words between, or, where the sign
// may be over, a word that says it is right after them. deniedTo are the last
// tokens of what was denied before: "no fever or chills".
func (t *text) denied(at []int, verb, over bool, deniedTo map[int]bool) bool {
	c := t.clause[at[0]]
	if t.clause[at[len(at)-1]] != c || t.doubtful(c) || t.changed(at[0]) {
		return false
	}
	for k, i := range at {
		from := 0
		if k > 0 {
			from = at[k-1] + 1
		}
		if from < i || k == 0 {
			if j, ok := t.denier(i, from, verb, deniedTo); ok {
				t.cover([]int{j})
				return true
			}
		}
	}
	return over && t.gone(at)
}

// doubtful tells whether clause c holds a word of doubt or ends in a question
// mark.
func (t *text) doubtful(c int) bool {
	for _, it := range t.items {
		if it.mean == mDoubt && t.clause[it.lo] == c {
			return true
		}
	}
	for i, tok := range t.toks {
		if tok.text == "?" && i > 0 && t.clause[i-1] == c {
			return true
		}
	}
	return false
}

// changed tells whether the sentence of token i says that what was not so is
// so now: "wasn't swollen until today", "no fever before".
func (t *text) changed(i int) bool {
	for j := range t.toks {
		if t.sentence[j] == t.sentence[i] && slices.ContainsFunc(t.r.changed, func(ws []string) bool { return t.run(j, ws) }) {
			return true
		}
	}
	return false
}

// denier looks back from token i, not past from, for the word that denies it.
func (t *text) denier(i, from int, verb bool, deniedTo map[int]bool) (int, bool) {
	overNo, overNot := true, true
	for j := i - 1; j >= from && t.clause[j] == t.clause[i] && t.toks[j].kind == word; j-- {
		w := t.toks[j].text
		twice := j > 0 && t.toks[j-1].kind == word && (t.r.no[t.toks[j-1].text] || t.r.not[t.toks[j-1].text])
		switch {
		case t.r.not[w]:
			return j, overNot && !twice
		case t.r.no[w]:
			return j, overNo && !verb && !twice
		case t.r.or[w] && j > 0:
			return j, overNot && deniedTo[j-1] && !verb
		}
		overNo = overNo && t.r.overNo[w]
		overNot = overNot && t.r.overNot[w]
		if !overNo && !overNot {
			break
		}
	}
	return 0, false
}

// cover marks tokens as explained.
func (t *text) cover(at []int) {
	for _, i := range at {
		t.covered[i] = true
	}
}
