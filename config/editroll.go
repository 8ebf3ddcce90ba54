package config

import (
	"bytes"
	"errors"
	"fmt"
	"iter"
	"path/filepath"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// Edit makes the edit that adds newcomers to a file of enrollments, at its
// end and laid out as the others are; everything there stays as it is, as with
// [AddEntries]. A file that is not there is made. Nothing is written before
// [Edit.Write]. The newcomers must be free of problems, see Check.
func (x *Enrolling) Edit(list []Newcomer, file string) (*Edit, error) {
	fail := func(err error) (*Edit, error) { return nil, fmt.Errorf("enroll in %s: %w", file, err) }
	if len(list) == 0 {
		return fail(ErrNothingToDo)
	}
	c := x.Clinic
	e := &Edit{Path: filepath.Join(c.Dir, filepath.FromSlash(file))}
	at := slices.IndexFunc(c.Files, func(f File) bool { return f.Path == file })
	if at < 0 {
		e.New, e.Line, e.like = true, 2, c.neighbor()
		head := modeline(c.Dir, file, "enrollments")
		if head != "" {
			e.Line += strings.Count(head, "\n")
		}
		e.After = []byte(head + "enrollments:\n" + strings.Join(laidOut(list, 3, " ", false), "\n") + "\n")
	} else {
		e.Before = slices.Clone(c.Files[at].Data)
		r, err := newRollSheet(e.Before, list)
		if err != nil {
			return fail(err)
		}
		var ok bool
		if e.After, e.Line, ok = r.firstGood(r.places(), r.grown, r.mark()); !ok {
			return fail(errors.New("the file is written in a way that can't be added to safely; write the enrollment by hand"))
		}
	}
	want := append(c.inFile(file), x.enrolled(list)...)
	if err := c.readsBack(file, e.After, want, rules.Pos{File: file, Line: e.Line}); err != nil {
		return fail(err)
	}
	return e, nil
}

// rollSheet is a file of enrollments that newcomers are added to.
type rollSheet struct {
	*sheet
	added []Newcomer
}

func newRollSheet(data []byte, list []Newcomer) (*rollSheet, error) {
	s, err := openSheet(data)
	if err != nil {
		return nil, err
	}
	for _, n := range list {
		node, err := document([]byte(strings.Join(n.Lines(), "\n")))
		if err != nil {
			return nil, err
		}
		s.nodes = append(s.nodes, node)
		s.texts = append(s.texts, braces(n.pairs()))
	}
	return &rollSheet{s, list}, nil
}

// mark is how the first newcomer begins, in lines and in braces.
func (r *rollSheet) mark() string { return r.added[0].Lines()[0] }

// places are where the newcomers could be put, the likeliest first.
func (r *rollSheet) places() iter.Seq[change] {
	key, list := pair(r.root, "enrollments")
	inFlow := r.root.Style&yaml.FlowStyle != 0
	flowList := list.Kind == yaml.SequenceNode && list.Style&yaml.FlowStyle != 0
	switch {
	case flowList && len(list.Content) > 0:
		return r.behindItem(list.Content[len(list.Content)-1])
	case inFlow:
		return r.inBrackets(list)
	case list.Kind == yaml.ScalarNode && list.Value == "":
		return r.below(list, key.Column+2, laidOut(r.added, key.Column+2, " ", false))
	case list.Kind == yaml.ScalarNode || flowList:
		return r.instead(key, list)
	}
	column, gap := r.dash(list)
	return r.below(lastLeaf(list), column, laidOut(r.added, column, gap, r.apart(list)))
}

// inBrackets puts newcomers into an empty list in brackets, or in the place of
// a null.
func (r *rollSheet) inBrackets(list *yaml.Node) iter.Seq[change] {
	at, text := r.offset(list), strings.Join(r.texts, ", ")
	return func(yield func(change) bool) {
		if list.Kind == yaml.SequenceNode {
			yield(change{{at + 1, 0, text}})
			return
		}
		_ = yield(change{{at, len(list.Value), " [" + text + "]"}})
	}
}

// instead takes an empty list in brackets, or a null, away and puts the
// newcomers below as lines; or else, as where a comment would go with it, into the
// brackets.
func (r *rollSheet) instead(key, list *yaml.Node) iter.Seq[change] {
	lines := laidOut(r.added, key.Column+2, " ", false)
	return func(yield func(change) bool) {
		from := r.afterKey(key)
		ends := []int{r.offset(list) + len(list.Value)}
		if list.Kind == yaml.SequenceNode {
			ends = nil
			for at := range r.each(']', list) {
				ends = append(ends, at+1)
			}
		}
		for _, end := range ends {
			if end < from || bytes.IndexByte(r.data[from:end], '#') >= 0 {
				continue // a comment, or what looks like one
			}
			if !yield(change{{from, end - from, ""}, r.belowLine(r.lineOf(end-1), lines)}) {
				return
			}
		}
		r.inBrackets(list)(yield)
	}
}

// apart tells whether an empty line parts the enrollments of a list.
func (r *rollSheet) apart(list *yaml.Node) bool {
	n := len(list.Content)
	if n < 2 {
		return false
	}
	line := list.Content[n-1].Line - 1
	return line >= 1 && strings.TrimSpace(r.line(line)) == ""
}

// laidOut writes newcomers as lines of a list whose dashes stand in a column.
func laidOut(list []Newcomer, column int, gap string, apart bool) []string {
	var out []string
	for _, n := range list {
		if apart {
			out = append(out, "")
		}
		lead := spaces(column-1) + "-" + gap
		for _, line := range n.Lines() {
			out = append(out, lead+line)
			lead = spaces(column + len(gap))
		}
	}
	return out
}

// grown tells whether a changed file is this one with the newcomers added.
func (r *rollSheet) grown(root *yaml.Node) bool {
	_, had := pair(r.root, "enrollments")
	_, has := pair(root, "enrollments")
	if has == nil || has.Kind != yaml.SequenceNode || len(has.Content) < len(r.nodes) {
		return false
	}
	old := len(has.Content) - len(r.nodes)
	for i, n := range r.nodes {
		if !sameNode(n, has.Content[old+i]) {
			return false
		}
	}
	if has.Content = has.Content[:old]; had.Kind == yaml.ScalarNode {
		if old > 0 {
			return false
		}
		*has = *had
	}
	return sameNode(r.root, root)
}
