package reply

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// lexicon is every word of a vocabulary and the ways to recognize it.
type lexicon struct {
	known  map[string]bool
	ending map[string]string   // word with an ending: the word
	near   map[rune][]nearWord // by first letter: words a misspelling may stand for
}

type nearWord struct {
	text string
	len  int // in runes
}

// newLexicon learns the known words. Words in exact stand for themselves
// only, with no endings and no misspellings: numbers, and what denies, since
// a wrong guess there would turn a meaning into its opposite.
func newLexicon(known, exact map[string]bool, endings []string) *lexicon {
	lx := &lexicon{known: known, ending: map[string]string{}, near: map[rune][]nearWord{}}
	sorted := make([]string, 0, len(known))
	for w := range known {
		sorted = append(sorted, w)
	}
	slices.Sort(sorted)
	for _, w := range sorted {
		n := utf8.RuneCountInString(w)
		if n < 4 || exact[w] {
			continue
		}
		first, _ := utf8.DecodeRuneInString(w)
		lx.near[first] = append(lx.near[first], nearWord{w, n})
		for _, e := range endings {
			for _, stem := range stems(w, e) {
				if !known[stem] && lx.ending[stem] == "" {
					lx.ending[stem] = w
				}
			}
		}
	}
	return lx
}

// stems are w with ending e, once as it is and once without a doubled or
// silent last letter: "bruise" + "ed" gives bruised too.
func stems(w, e string) []string {
	out := []string{w + e}
	if last := w[len(w)-1]; last == e[0] {
		out = append(out, w+e[1:])
	} else if last == 'e' {
		out = append(out, w[:len(w)-1]+e)
	}
	return out
}

// resolve returns the known words that a written word may stand for: itself,
// or the word it is with an ending, or the nearest ones it misspells.
func (lx *lexicon) resolve(w string) []string {
	if lx.known[w] {
		return []string{w}
	}
	if base := lx.ending[w]; base != "" {
		return []string{base}
	}
	for _, s := range []string{squeeze(w, 2), squeeze(w, 1)} { // "soooo", "doneee"
		if s == w {
			continue
		}
		if lx.known[s] {
			return []string{s}
		}
		if base := lx.ending[s]; base != "" {
			return []string{base}
		}
	}
	return lx.nearest(w)
}

// nearest finds the known words with the same first letter and the fewest
// slips, as far as the word's length allows.
func (lx *lexicon) nearest(w string) []string {
	n := utf8.RuneCountInString(w)
	if n < 4 || n > 24 {
		return nil
	}
	first, _ := utf8.DecodeRuneInString(w)
	best, found := 3, []string(nil)
	for _, k := range lx.near[first] {
		if k.len > n+2 || k.len < n-2 {
			continue
		}
		d := slips(w, k.text)
		if d == 0 || d > best {
			continue
		}
		if d < best {
			best, found = d, nil
		}
		found = append(found, k.text)
	}
	return found
}

// slips counts how far w is from the known word k: 1 or 2, or 0 where it is
// too far to be a misspelling. Short words allow less, because another real
// word is near: "done" does not stand for "gone", "fever" not for "fewer".
//
//	4 letters    two neighbors swapped, or a letter doubled
//	5 letters    also one letter left out or put in
//	6 to 8       any one slip
//	9 or more    any two slips
func slips(w, k string) int {
	a, b := []rune(w), []rune(k)
	d := distance(a, b)
	switch long := len(b); {
	case d == 0 || d > 2:
		return 0
	case long >= 9:
		return d
	case d > 1:
		return 0
	case long >= 6:
		return 1
	case long == 5 && len(a) != len(b), len(a) == len(b) && swapped(a, b), doubled(a, b):
		return 1
	}
	return 0
}

// swapped tells whether a is b with two neighbors swapped.
func swapped(a, b []rune) bool {
	for i := range a {
		if a[i] != b[i] {
			return i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i]
		}
	}
	return false
}

// doubled tells whether a is b with one letter written twice.
func doubled(a, b []rune) bool {
	if len(a) != len(b)+1 {
		return false
	}
	for i := 1; i < len(a); i++ {
		if a[i] == a[i-1] && string(a[:i])+string(a[i+1:]) == string(b) {
			return true
		}
	}
	return false
}

// distance is the number of letters put in, left out, changed or swapped with
// their neighbor between a and b (optimal string alignment).
func distance(a, b []rune) int {
	before, prev, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(prev[j]+1, row[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, prev, row = prev, row, before
	}
	return prev[len(b)]
}

// squeeze shortens runs of three and more of one letter to n.
func squeeze(w string, n int) string {
	var b strings.Builder
	rs := []rune(w)
	for i := 0; i < len(rs); {
		j := i
		for j < len(rs) && rs[j] == rs[i] {
			j++
		}
		k := j - i
		if k >= 3 {
			k = n
		}
		b.WriteString(strings.Repeat(string(rs[i]), k))
		i = j
	}
	return b.String()
}
