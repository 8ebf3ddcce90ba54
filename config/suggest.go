package config

import (
	"slices"
	"strings"
)

// suggest is the "what to do" for a word that is not among those known: the
// nearest one where there is a near one, else all of them.
func suggest(got string, known []string) string {
	if best := nearest(got, known); best != "" {
		return "did you mean " + quoted(best) + "?"
	}
	known = slices.Clone(known)
	slices.Sort(known)
	switch len(known) {
	case 0:
		return "there is none to choose from yet"
	case 1:
		return "write " + known[0]
	}
	if len(known) > 12 {
		return "choose one of " + strings.Join(known[:12], ", ") + " and so on"
	}
	return "choose one of " + strings.Join(known, ", ")
}

// nearest is the known word the fewest typing slips away, or "" if none is
// near. About a third of the letters may be wrong, at most two of them.
func nearest(got string, known []string) string {
	plain := func(s string) string {
		return strings.Map(func(r rune) rune {
			if r == '-' || r == '_' {
				return ' '
			}
			return r
		}, strings.ToLower(s))
	}
	const longest = 40 // no key is longer; keeps the work small
	if len(got) > longest {
		return ""
	}
	best, fewest := "", 3
	for _, k := range known {
		d := slips(plain(got), plain(k))
		if d <= max(1, (len(k)+1)/3) && (d < fewest || d == fewest && k < best) {
			best, fewest = k, d
		}
	}
	return best
}

// slips counts the letters to add, drop, change or swap with their neighbor
// to turn a into b.
func slips(a, b string) int {
	s, t := []rune(a), []rune(b)
	var before []int
	row := make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(s); i++ {
		next := make([]int, len(t)+1)
		next[0] = i
		for j := 1; j <= len(t); j++ {
			cost := 1
			if s[i-1] == t[j-1] {
				cost = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(t)]
}
