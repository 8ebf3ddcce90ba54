package config

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"stepgate/rules"
)

// notes gathers problems while a folder is read.
type notes struct{ list Problems }

// wrong notes an error: what is wrong, and what to do.
func (n *notes) wrong(at rules.Pos, what, do string) {
	n.list = append(n.list, Problem{At: at, What: what, Do: do})
}

// warn notes something worth a look that stops nothing.
func (n *notes) warn(at rules.Pos, what, do string) {
	n.list = append(n.list, Problem{At: at, What: what, Do: do, Warning: true})
}

// need tells whether a key is written, and notes it as missing otherwise. A
// mapping that could not be read has had its complaint already.
func (n *notes) need(p Place, key, do string) bool {
	if p.Bad || p.has(key) {
		return p.has(key)
	}
	n.wrong(p.Pos, key+" is missing", do)
	return false
}

// sorted returns the problems in order of place, each once.
func (n *notes) sorted() Problems {
	slices.SortStableFunc(n.list, func(a, b Problem) int {
		return cmp.Or(
			cmp.Compare(a.At.File, b.At.File),
			cmp.Compare(a.At.Line, b.At.Line),
			cmp.Compare(a.At.Column, b.At.Column),
			cmp.Compare(a.What, b.What),
		)
	})
	return slices.Compact(n.list)
}

// quoted shows a piece of a file in a complaint: short, on one line.
func quoted(s string) string {
	const most = 40
	if !utf8.ValidString(s) {
		return `"?"`
	}
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "..."
	}
	return `"` + strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '"' {
			return '?'
		}
		return r
	}, s) + `"`
}

// oneOf writes choices as people read them: a, b or c.
func oneOf(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
