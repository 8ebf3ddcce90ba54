package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// sheet is a file of enrollments as it is edited.
type sheet struct {
	data    []byte
	starts  []int // of each line
	root    *yaml.Node
	list    []*yaml.Node // the enrollments
	which   int
	patient *yaml.Node // the enrollment that the entries are for
	order   []*yaml.Node
	texts   []string     // the new entries as YAML
	nodes   []*yaml.Node // and as nodes
}

// newSheet takes a file that was read and found good.
func newSheet(data []byte, at rules.Pos, texts []string) (*sheet, error) {
	s, err := openSheet(data)
	if err != nil {
		return nil, err
	}
	s.texts = texts
	s.which = slices.IndexFunc(s.list, func(n *yaml.Node) bool { return n.Line == at.Line && n.Column == at.Column })
	if s.which < 0 {
		return nil, fmt.Errorf("%s: %w", at, errNoPlace)
	}
	s.patient = s.list[s.which]
	for _, text := range texts {
		n, err := document([]byte(text))
		if err != nil {
			return nil, err
		}
		s.nodes = append(s.nodes, n)
	}
	return s, nil
}

// openSheet parses a file of enrollments.
func openSheet(data []byte) (*sheet, error) {
	s := &sheet{data: data, starts: lineStarts(data)}
	var err error
	if s.root, err = document(data); err != nil {
		return nil, err
	}
	s.list = enrollmentsOf(s.root)
	var visit func(n *yaml.Node)
	visit = func(n *yaml.Node) {
		s.order = append(s.order, n)
		for _, c := range n.Content {
			visit(c)
		}
	}
	visit(s.root)
	return s, nil
}

// document parses a file of one document. The library's words may hold values
// and are left out.
func document(data []byte) (*yaml.Node, error) {
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, more yaml.Node
	if err := decode(dec, &doc); err != nil || len(doc.Content) != 1 {
		return nil, errors.New("the file can't be read as YAML")
	}
	if err := decode(dec, &more); !errors.Is(err, io.EOF) {
		return nil, errors.New("the file holds more than one document")
	}
	return doc.Content[0], nil
}

// enrollmentsOf are the enrollments of a file's root.
func enrollmentsOf(root *yaml.Node) []*yaml.Node {
	if _, list := pair(root, "enrollments"); list != nil {
		return list.Content
	}
	return nil
}

// pair is a key of a mapping and its value; nil if it is not there.
func pair(m *yaml.Node, name string) (key, value *yaml.Node) {
	if m.Kind != yaml.MappingNode {
		return nil, nil
	}
	for i := 0; i+1 < len(m.Content); i += 2 {
		if m.Content[i].Value == name {
			return m.Content[i], m.Content[i+1]
		}
	}
	return nil, nil
}

// lastLeaf is what stands last inside a node.
func lastLeaf(n *yaml.Node) *yaml.Node {
	for len(n.Content) > 0 {
		n = n.Content[len(n.Content)-1]
	}
	return n
}

// next is the node that follows a leaf in the file; nil if none does.
func (s *sheet) next(leaf *yaml.Node) *yaml.Node {
	if i := slices.Index(s.order, leaf); i >= 0 && i+1 < len(s.order) {
		return s.order[i+1]
	}
	return nil
}

// lineStarts are where the lines of a file begin, as the library counts them:
// it breaks lines at carriage returns and at Unicode's line ends too.
func lineStarts(data []byte) []int {
	starts := []int{0}
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		i += size
		switch r {
		case '\r':
			if i < len(data) && data[i] == '\n' {
				i++
			}
			starts = append(starts, i)
		case '\n', '\u0085', '\u2028', '\u2029':
			starts = append(starts, i)
		}
	}
	if n := len(starts); n > 1 && starts[n-1] == len(data) {
		starts = starts[:n-1] // nothing stands after the last line end
	}
	return starts
}

// end is where a line ends, its line end included. Lines count from 1.
func (s *sheet) end(line int) int {
	if line < len(s.starts) {
		return s.starts[line]
	}
	return len(s.data)
}

// line is a line with its line end.
func (s *sheet) line(line int) string { return string(s.data[s.starts[line-1]:s.end(line)]) }

// lineEnd is the line end of a line; "" if the file ends without one.
func (s *sheet) lineEnd(line int) string {
	text := s.line(line)
	for _, br := range []string{"\r\n", "\n", "\r", "\u0085", "\u2028", "\u2029"} {
		if len(text) >= len(br) && text[len(text)-len(br):] == br {
			return br
		}
	}
	return ""
}

// lineOf is the line that a byte stands on.
func (s *sheet) lineOf(at int) int {
	i, found := slices.BinarySearch(s.starts, at)
	if found {
		return i + 1
	}
	return i
}

// offset is where a node begins, in bytes. Columns count letters, and the mark
// that may begin a file is none.
func (s *sheet) offset(n *yaml.Node) int {
	at := s.starts[min(n.Line, len(s.starts))-1]
	if at == 0 {
		at += len(s.data) - len(bytes.TrimPrefix(s.data, []byte("\ufeff")))
	}
	for range n.Column - 1 {
		_, size := utf8.DecodeRune(s.data[at:])
		at += size
	}
	return at
}

// edited is the file with the entries added at the first place where they
// become what they should and nothing else changes, and their line.
func (s *sheet) edited() (after []byte, line int, ok bool) {
	return s.firstGood(s.places(), s.grown, s.texts[0])
}

// firstGood tries changes in turn. mark is how what is added begins.
func (s *sheet) firstGood(places iter.Seq[change], good func(root *yaml.Node) bool, mark string) (after []byte, line int, ok bool) {
	for c := range places {
		after = s.with(c)
		if root, err := document(after); err != nil || !good(root) {
			continue
		}
		at := bytes.Index(after[c[0].at:], []byte(mark)) + c[0].at
		return after, (&sheet{data: after, starts: lineStarts(after)}).lineOf(at), true
	}
	return nil, 0, false
}

// with is the file after a change.
func (s *sheet) with(c change) []byte {
	var out []byte
	at := 0
	for _, p := range c {
		out = append(append(out, s.data[at:p.at]...), p.text...)
		at = p.at + p.cut
	}
	return append(out, s.data[at:]...)
}

// grown tells whether a changed file is this one with the entries added. It
// takes them out of the changed one again and holds the rest against this one.
func (s *sheet) grown(root *yaml.Node) bool {
	list := enrollmentsOf(root)
	if s.which >= len(list) {
		return false
	}
	patient := list[s.which]
	_, had := pair(s.patient, "entries")
	_, has := pair(patient, "entries")
	if has == nil || has.Kind != yaml.SequenceNode || len(has.Content) < len(s.nodes) {
		return false
	}
	old := len(has.Content) - len(s.nodes)
	for i, item := range s.nodes {
		if !sameNode(item, has.Content[old+i]) {
			return false
		}
	}
	switch {
	case had == nil:
		if patient.Content[len(patient.Content)-1] != has || old > 0 {
			return false
		}
		patient.Content = patient.Content[:len(patient.Content)-2]
	case had.Kind == yaml.ScalarNode:
		if old > 0 {
			return false
		}
		*has = *had
	default:
		has.Content = has.Content[:old]
	}
	return sameNode(s.root, root)
}

// sameNode tells whether two nodes say the same, wherever they stand. A block
// text at the end of a file without line end gains one, which no reader sees.
func sameNode(a, b *yaml.Node) bool {
	return a.Kind == b.Kind && strings.TrimRight(a.Value, "\n") == strings.TrimRight(b.Value, "\n") && a.ShortTag() == b.ShortTag() && a.Anchor == b.Anchor &&
		slices.EqualFunc(a.Content, b.Content, sameNode)
}
