package config

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// What callers of [AddEntries] and [Edit.Write] may ask for.
var (
	ErrNoEnrollment = errors.New("no enrollment has this id")
	ErrNothingToDo  = errors.New("the entries are there already, word for word")
	ErrChanged      = errors.New("the file changed meanwhile")
)

// Edit is a change of one of the clinic's files. It was read back and found to
// add what it should and to leave everything else as it was.
type Edit struct {
	Path          string // of the file, absolute
	Before, After []byte
	Line          int  // of the first new entry in After
	New           bool // there is no such file yet

	like fs.FileInfo // of a new one: a file of the clinic's that it gets mode and owner from
}

// AddEntries makes the edit of a clinic's files that adds entries to an
// enrollment, as a careful person would write them: what is there keeps its
// words, comments, order, indentation and line ends. Entries that are there
// already are left out; with none left the error is [ErrNothingToDo]. Nothing
// is written before [Edit.Write]. The files must be free of errors.
func AddEntries(dir, id string, entries []rules.Entry) (*Edit, error) {
	c, problems := Load(dir, nil)
	if c == nil {
		return nil, fmt.Errorf("add entries to %s: the clinic's files have errors: %w", quoted(id), problems.Errors())
	}
	return c.addEntries(id, entries)
}

func (c *Clinic) addEntries(id string, entries []rules.Entry) (*Edit, error) {
	fail := func(err error) (*Edit, error) { return nil, fmt.Errorf("add entries to %s: %w", quoted(id), err) }
	e := c.Enrollments.Get(id)
	if e == nil {
		return fail(ErrNoEnrollment)
	}
	entries = newOnes(e, entries)
	if len(entries) == 0 {
		return fail(ErrNothingToDo)
	}
	texts := make([]string, len(entries))
	for i, n := range entries {
		var err error
		if texts[i], err = entryText(n); err != nil {
			return fail(err)
		}
	}
	at := slices.IndexFunc(c.Files, func(f File) bool { return f.Path == e.At.File })
	s, err := newSheet(c.Files[at].Data, e.At, texts)
	if err != nil {
		return fail(err)
	}
	after, line, ok := s.edited()
	if !ok {
		return fail(fmt.Errorf("%s: the enrollment is written in a way that can't be added to safely; write the entry by hand", e.At))
	}
	grown := *e
	grown.Entries = slices.Concat(e.Entries, entries)
	want := c.inFile(e.At.File)
	want[slices.IndexFunc(want, func(e *Enrollment) bool { return e.ID == id })] = &grown
	if err := c.readsBack(e.At.File, after, want, e.At); err != nil {
		return fail(err)
	}
	return &Edit{
		Path:   filepath.Join(c.Dir, filepath.FromSlash(e.At.File)),
		Before: slices.Clone(c.Files[at].Data), After: after, Line: line,
	}, nil
}

// newOnes are the entries that an enrollment does not have yet, each once.
func newOnes(e *Enrollment, entries []rules.Entry) []rules.Entry {
	there := map[string]bool{}
	for _, n := range e.Entries {
		there[n.ID()] = true
	}
	var out []rules.Entry
	for _, n := range entries {
		if !there[n.ID()] {
			there[n.ID()] = true
			out = append(out, n)
		}
	}
	return out
}

// readsBack checks that the folder with one of its files changed reads as
// before, but that the file holds these enrollments. The other files of
// enrollments are the same, and what may not stand in two was looked at, so they
// are left out: a clinic may have very many.
func (c *Clinic) readsBack(path string, after []byte, enrollments []*Enrollment, at rules.Pos) error {
	want := *c
	want.Files, want.Enrollments = []File{NewFile(path, after)}, NewRoll(enrollments)
	for _, f := range c.Files {
		if f.Path == settingsFile || strings.HasPrefix(f.Path, programFolder+"/") {
			want.Files = append(want.Files, f)
		}
	}
	slices.SortFunc(want.Files, func(a, b File) int { return cmp.Compare(a.Path, b.Path) })
	got, problems := LoadFiles(c.Dir, want.Files, nil)
	if got == nil {
		return fmt.Errorf("the edit would be an error: %w", problems.Errors())
	}
	if !alike(*got, want) {
		return fmt.Errorf("%s: it can't be written so that it reads the same; write it by hand", at)
	}
	return nil
}

// inFile are the enrollments of one file, by id.
func (c *Clinic) inFile(path string) []*Enrollment {
	var list []*Enrollment
	for e := range c.Enrollments.All() {
		if e.At.File == path {
			list = append(list, e)
		}
	}
	return list
}

// entryText writes an entry on one line, like
// {hold: 2026-12-01, by: J. Marlowe DPM, why: "seen, swelling"}.
func entryText(n rules.Entry) (string, error) {
	value := n.On.String()
	switch n.Kind {
	case rules.EntryHold, rules.EntryRelease, rules.EntryDischarge, rules.EntryConfirm, rules.EntryWear, rules.EntryReview, rules.EntryReport:
	case rules.EntryCap:
		if value = "none"; n.Step != 0 {
			value = fmt.Sprint(n.Step)
		}
	case rules.EntryStrike, rules.EntryReplace:
		value = n.Report.String()
	default:
		return "", fmt.Errorf("there is no kind of entry %s", quoted(string(n.Kind)))
	}
	parts := []string{string(n.Kind) + ": " + value}
	if n.OfHold != 0 {
		parts = append(parts, "of hold: "+n.OfHold.String())
	}
	if n.AsBefore {
		parts = append(parts, "as before: true")
	}
	if n.Said != "" {
		parts = append(parts, "said: "+flowScalar(n.Said))
	}
	if n.Score != nil {
		parts = append(parts, fmt.Sprintf("score: %d", *n.Score))
	}
	if slices.Contains(datedByOn, n.Kind) {
		parts = append(parts, "on: "+n.On.String())
	}
	parts = append(parts, "by: "+flowScalar(n.By))
	if n.Why != "" {
		parts = append(parts, "why: "+flowScalar(n.Why))
	}
	return "{" + strings.Join(parts, ", ") + "}", nil
}

// flowScalar writes a text inside {...}, in quotes only if YAML would read it
// as something else without. Letters that nobody sees are written as escapes:
// the library stumbles over a byte order mark at some places of a file.
func flowScalar(text string) string {
	if strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return doubleQuoted(text)
	}
	var doc yaml.Node
	err := decode(yaml.NewDecoder(strings.NewReader("{a: "+text+", b: c}")), &doc)
	if err == nil && len(doc.Content) == 1 && len(doc.Content[0].Content) == 4 {
		v := doc.Content[0].Content[1]
		if v.Kind == yaml.ScalarNode && v.Style == 0 && v.ShortTag() == "!!str" && v.Value == text && doc.Content[0].Content[3].Value == "c" {
			return text
		}
	}
	return doubleQuoted(text)
}

// doubleQuoted writes a text in double quotes. YAML 1.2, 5.7, knows every
// escape that Go writes.
func doubleQuoted(text string) string { return fmt.Sprintf("%q", text) }
