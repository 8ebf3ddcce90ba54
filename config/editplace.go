package config

import (
	"errors"
	"iter"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// change is what is put into a file: pieces in order of place. A piece may
// take the place of some bytes.
type change []piece

type piece struct {
	at, cut int
	text    string
}

// places are where the new entries could be put, the likeliest first. The
// tree of nodes says where each begins but not where it ends, so some of them
// fall into the middle of a text; edited tries them in turn.
func (s *sheet) places() iter.Seq[change] {
	key, list := pair(s.patient, "entries")
	inFlow := s.patient.Style&yaml.FlowStyle != 0
	flow := "[" + strings.Join(s.texts, ", ") + "]"
	one := func(at, cut int, text string) iter.Seq[change] {
		return func(yield func(change) bool) { yield(change{{at, cut, text}}) }
	}
	switch {
	case list == nil && inFlow:
		return s.beforeBrace(lastLeaf(s.patient), "entries: "+flow)
	case list == nil:
		d := s.habit()
		indent := spaces(s.patient.Column - 1)
		lines := []string{indent + "entries:"}
		return s.below(lastLeaf(s.patient), s.patient.Column, append(lines, s.items(s.patient.Column+d.in, d.gap)...))
	case list.Kind == yaml.ScalarNode && list.Value != "": // null or ~
		return one(s.offset(list), len(list.Value), flow)
	case list.Kind == yaml.ScalarNode && inFlow:
		return func(yield func(change) bool) {
			at := s.afterKey(key)
			_ = yield(change{{at, 0, " " + flow}}) && yield(change{{at, 0, ": " + flow}}) // a key may stand without its colon
		}
	case list.Kind == yaml.ScalarNode:
		d := s.habit()
		return s.below(list, key.Column+d.in, s.items(key.Column+d.in, d.gap))
	case list.Style&yaml.FlowStyle != 0 && len(list.Content) == 0:
		return one(s.offset(list)+1, 0, strings.Join(s.texts, ", "))
	case list.Style&yaml.FlowStyle != 0:
		return s.behindItem(list.Content[len(list.Content)-1])
	}
	column, gap := s.dash(list)
	return s.below(lastLeaf(list), column, s.items(column, gap))
}

// items are the new entries as lines of a list whose dashes stand in a column.
func (s *sheet) items(column int, gap string) []string {
	out := make([]string, len(s.texts))
	for i, text := range s.texts {
		out[i] = spaces(column-1) + "-" + gap + text
	}
	return out
}

func spaces(n int) string { return strings.Repeat(" ", max(n, 0)) }

// below puts lines below a node, as soon as what it is part of ends. Comments
// that stand directly under it and as deep stay with it.
func (s *sheet) below(leaf *yaml.Node, column int, lines []string) iter.Seq[change] {
	return func(yield func(change) bool) {
		last := len(s.starts)
		if next := s.next(leaf); next != nil {
			last = next.Line - 1
		}
		for line := leaf.Line; line <= last; line++ {
			for _, at := range slices.Compact([]int{s.pastComments(line, column), line}) {
				if !yield(change{s.belowLine(at, lines)}) {
					return
				}
			}
		}
	}
}

// belowLine puts lines below one of the file's. A last line without an end
// gets one, and the new last line has none then.
func (s *sheet) belowLine(line int, lines []string) piece {
	br, at := s.lineEnd(line), s.end(line)
	if br == "" {
		br = s.lineEnd(1)
		if br == "" {
			br = "\n"
		}
		return piece{at, 0, br + strings.Join(lines, br)}
	}
	return piece{at, 0, strings.Join(lines, br) + br}
}

// pastComments is the last of the comment lines that stand directly below a
// line, as deep as a column or deeper. Where something as deep follows they
// are its heading and not counted.
func (s *sheet) pastComments(line, column int) int {
	past := line
	for past < len(s.starts) {
		text := s.line(past + 1)
		rest := strings.TrimLeft(text, " ")
		if deep := len(text) - len(rest); !strings.HasPrefix(rest, "#") {
			if strings.TrimSpace(rest) != "" && deep == column-1 {
				return line
			}
			break
		} else if deep < column-1 {
			break
		}
		past++
	}
	return past
}

// behindItem puts the entries behind the last item of a list in brackets: on
// lines of their own if the item has its own.
func (s *sheet) behindItem(item *yaml.Node) iter.Seq[change] {
	return func(yield func(change) bool) {
		indent := s.data[s.starts[item.Line-1]:s.offset(item)]
		ownLine := strings.TrimSpace(string(indent)) == ""
		for at := range s.each('}', lastLeaf(item)) {
			line := s.lineOf(at)
			rest := strings.TrimSpace(string(s.data[at+1 : s.end(line)]))
			tail, comma := strings.CutPrefix(rest, ",")
			tail = strings.TrimSpace(tail)
			if br := s.lineEnd(line); ownLine && br != "" && (tail == "" || tail[0] == '#') {
				c := change{{s.end(line), 0, string(indent) + strings.Join(s.texts, ","+br+string(indent)) + br}}
				if comma {
					c[0].text = strings.TrimSuffix(c[0].text, br) + "," + br
				} else {
					c = append(change{{at + 1, 0, ","}}, c...)
				}
				if !yield(c) {
					return
				}
			}
			if !yield(change{{at + 1, 0, ", " + strings.Join(s.texts, ", ")}}) {
				return
			}
		}
	}
}

// beforeBrace puts a last key before the brace that closes a mapping.
func (s *sheet) beforeBrace(leaf *yaml.Node, text string) iter.Seq[change] {
	return func(yield func(change) bool) {
		for at := range s.each('}', leaf) {
			end := len(strings.TrimRight(string(s.data[:at]), " \t\r\n"))
			sep := ", "
			if s.data[end-1] == ',' {
				sep = " "
			}
			for _, p := range []piece{{end, 0, sep + text}, {at, 0, ", " + text}, {at, 0, text}} {
				if !yield(change{p}) {
					return
				}
			}
		}
	}
}

// each is where a letter stands from a node up to the next one.
func (s *sheet) each(letter byte, from *yaml.Node) iter.Seq[int] {
	return func(yield func(int) bool) {
		last := len(s.data)
		if next := s.next(from); next != nil {
			last = s.offset(next)
		}
		for at := s.offset(from); at < last; at++ {
			if s.data[at] == letter && !yield(at) {
				return
			}
		}
	}
}

// afterKey is the place behind a key and its colon.
func (s *sheet) afterKey(key *yaml.Node) int {
	at := s.offset(key) + len(key.Value)
	if key.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0 {
		at += 2
	}
	for i := at; i < len(s.data); i++ {
		switch s.data[i] {
		case ':':
			return i + 1
		case ' ', '\t', '\r', '\n':
			continue
		}
		break
	}
	return at
}

// dashes is how a list is laid out below its key: how much deeper its dashes
// stand, and what parts them from their items.
type dashes struct {
	in  int
	gap string
}

// habit is how lists are laid out elsewhere: in the same enrollment, in
// others, or that of the enrollments themselves.
func (s *sheet) habit() dashes {
	for _, of := range []*yaml.Node{s.patient, s.root} {
		if d, ok := s.firstList(of); ok {
			return d
		}
	}
	return dashes{2, " "}
}

// firstList looks for a list of dashes among a mapping's values, those inside
// first.
func (s *sheet) firstList(n *yaml.Node) (dashes, bool) {
	for i, v := range n.Content {
		if d, ok := s.firstList(v); ok {
			return d, true
		}
		if n.Kind == yaml.MappingNode && i%2 == 1 && v.Kind == yaml.SequenceNode && v.Style&yaml.FlowStyle == 0 && len(v.Content) > 0 {
			if in := v.Column - n.Content[i-1].Column; in >= 0 && in <= 8 {
				_, gap := s.dash(v)
				return dashes{in, gap}, true
			}
		}
	}
	return dashes{}, false
}

// dash is the column of a list's dashes, and what parts the last one from its
// item. A list with an anchor begins, to the library, at the anchor.
func (s *sheet) dash(list *yaml.Node) (column int, gap string) {
	item := list.Content[len(list.Content)-1]
	before := string(s.data[s.starts[item.Line-1]:s.offset(item)])
	behind := strings.TrimLeft(before, " ")
	column = list.Column
	if list.Anchor != "" {
		column = len(before) - len(behind) + 1
	}
	gap, ok := strings.CutPrefix(behind, "-")
	if !ok || gap == "" || strings.Trim(gap, " ") != "" {
		gap = " "
	}
	return column, gap
}

var errNoPlace = errors.New("the enrollment is not found again in its file")
