package reply

import (
	"slices"
	"strings"
)

// strong takes in the words that stand for a strong pain.
func (c *compiler) strong() {
	owner := map[string]int{}
	for i, s := range c.v.Strong {
		const list = "strong pain"
		if s.Pain < 0 || s.Pain > 10 {
			c.errorf("%s: %d is no score from 0 to 10", list, s.Pain)
		}
		if len(s.Words)+len(s.Alone) == 0 {
			c.errorf("%s: no words for %d", list, s.Pain)
		}
		c.r.strengths = append(c.r.strengths, s.Pain)
		for _, ps := range c.patterns(list, s.Not) {
			for _, p := range ps {
				p.flag, p.tight = i, true // must not reach over other words
				c.r.milder.add(p)
			}
		}
		for k, said := range slices.Concat(s.Words, s.Alone) {
			p, ok := c.pattern(list, said)
			if !ok {
				continue
			}
			key := p.key()
			if had, ok := owner[key]; ok && had != s.Pain {
				c.errorf("%s: %q stands under both %d and %d", list, said, had, s.Pain)
			}
			owner[key] = s.Pain
			p.flag, p.alone = i, k >= len(s.Words)
			c.r.strong.add(p)
		}
	}
}

// single is the phrases that are one word.
func (c *compiler) single(ps []string) map[string]bool {
	set := map[string]bool{}
	for _, p := range ps {
		if ws := c.learn(p); len(ws) == 1 {
			set[ws[0]] = true
		}
	}
	return set
}

// joined is the phrases with one space between their words.
func (c *compiler) joined(ps []string) map[string]bool {
	set := map[string]bool{}
	for _, p := range ps {
		set[strings.Join(c.learn(p), " ")] = true
	}
	return set
}

// strong reads a strong pain told in words as the score its words stand for,
// unless a number in the text is as high. The number is still asked for: the
// words are passed on as not understood.
func (t *text) strong() {
	o := &t.out
	free := map[[2]int]bool{} // strength and token: explained otherwise
	t.anywhere(t.r.milder, func(p pattern, at []int) {
		for _, i := range at {
			free[[2]int{p.flag, i}] = true
		}
	})
	worst, numbered := -1, o.Pain != nil || o.FirstStep != nil
	t.anywhere(t.r.strong, func(p pattern, at []int) {
		switch {
		case slices.ContainsFunc(at, func(i int) bool { return free[[2]int{p.flag, i}] }):
		case t.mild(at):
			o.Unread = o.Unread || !numbered
		case !p.alone || !numbered:
			t.cover(at)
			worst = max(worst, t.r.strengths[p.flag])
		}
	})
	if worst < 0 || o.Pain != nil && worst <= *o.Pain {
		return
	}
	for _, it := range t.items { // a number nobody explained may be the worse pain
		if s, ok := it.num.score(); ok && it.counts == cLeft {
			worst = max(worst, s)
		}
	}
	o.Pain, o.Unread = &worst, true
}

// mild tells whether a denying word stands before one of these tokens, and is
// none of them itself, with only what a denial or "really", "that" may reach over between: "not too
// bad", "doesn't really hurt a lot".
func (t *text) mild(at []int) bool {
	for _, i := range at {
		for j := i - 1; j >= 0 && t.clause[j] == t.clause[i] && t.toks[j].kind == word && !slices.Contains(at, j); j-- {
			w := t.toks[j].text
			if t.r.not[w] || t.r.no[w] {
				return true
			}
			if !t.r.overNot[w] && !t.r.overNo[w] && !t.r.limits[w] {
				break
			}
		}
	}
	return false
}

// saidBy is the words of an item as they are known, joined by spaces.
func (t *text) saidBy(it item, phrases map[string]bool) bool {
	all := []string{""}
	for i := it.lo; i < it.hi; i++ {
		var longer []string
		for _, head := range all {
			for _, w := range t.words[i] {
				longer = append(longer, strings.TrimSpace(head+" "+w))
			}
		}
		all = longer
	}
	return slices.ContainsFunc(all, func(s string) bool { return phrases[s] })
}

// lightWord tells an item that is understood only beside a report.
func (t *text) lightWord(it item) bool {
	return it.mean == mIgnore && t.saidBy(it, t.r.light)
}

// gone tells whether the danger sign at these tokens is said to be over:
// "numbness gone". What follows must end there, since "gone up my leg" and
// "gone but back at night" are no end, and only the least urgent signs may
// end: a chest pain that went away is still one.
func (t *text) gone(at []int) bool {
	from, c := at[len(at)-1]+1, t.clause[at[0]]
	for _, g := range t.r.gone {
		end := from + len(g)
		if t.run(from, g) && t.clause[end-1] == c && (end == len(t.toks) || t.toks[end].kind == mark && t.breaks(end)) {
			for i := from; i < end; i++ {
				t.cover([]int{i})
			}
			return true
		}
	}
	return false
}
