package config

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"stepgate/rules"
)

// maxFile is the most a file may hold, in bytes.
const maxFile = 5 << 20

// readable notes what keeps a file's bytes from being read as text.
func (n *notes) readable(f File) bool {
	if len(f.Data) > maxFile {
		n.wrong(rules.Pos{File: f.Path}, "the file is over 5 MB",
			"split it into several files under enrollments/")
		return false
	}
	line, column := 1, 1
	for rest := f.Data; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		at := rules.Pos{File: f.Path, Line: line, Column: column}
		switch {
		case r == utf8.RuneError && size == 1:
			n.wrong(at, "the file is not UTF-8 text here", "save it again with the encoding UTF-8")
			return false
		case r < ' ' && r != '\n' && r != '\r' && r != '\t', r == 0x7f:
			n.wrong(at, "there is a control character here", "delete it; only plain text can be read")
			return false
		case r == '\n':
			line, column = line+1, 0
		}
		column++
		rest = rest[size:]
	}
	return true
}

// parse reads the one YAML document of a file. It returns nil after noting
// what is wrong.
func (n *notes) parse(file string, data []byte) *yaml.Node {
	dec := yaml.NewDecoder(bytes.NewReader(data))
	var doc, more yaml.Node
	err := decode(dec, &doc)
	if errors.Is(err, io.EOF) || err == nil && len(doc.Content) == 0 {
		n.wrong(rules.Pos{File: file}, "the file is empty", emptyFile(file))
		return nil
	}
	if err != nil {
		at, what := syntaxError(file, data, err)
		n.wrong(at, "the file can't be read from here on: "+what,
			"look at this line and the one above for a missing quote, bracket or space after a colon, for a text with"+
				" a comma, colon, # or ? that wants quotes, and for tabs: indent with spaces")
		return nil
	}
	if err := decode(dec, &more); !errors.Is(err, io.EOF) {
		at := rules.Pos{File: file, Line: more.Line, Column: more.Column}
		n.wrong(at, "a second document begins after ---", "keep one document in a file; take the --- away")
		return nil
	}
	return doc.Content[0]
}

// emptyFile says what an empty file should hold.
func emptyFile(file string) string {
	switch {
	case file == settingsFile:
		return "write the clinic's name, phone, hours and numbers into it"
	case isCases(file):
		return "write cases: and the cases as a list below it, or delete it"
	case strings.HasPrefix(file, programFolder):
		return "write a program into it, or delete it"
	}
	return "write enrollments: [] into it, or delete it"
}

// decode turns a panic of the library into an error: a bad edit must never
// take a running daemon down.
func decode(dec *yaml.Decoder, into *yaml.Node) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = errors.New("yaml: the reader gave up")
		}
	}()
	return dec.Decode(into)
}

var (
	yamlLine   = regexp.MustCompile(`line (\d+): `)
	yamlQuoted = regexp.MustCompile(`'[^']*'|"[^"]*"|` + "`[^`]*`")
)

// syntaxError finds the place of a syntax error and says what the library
// says about it, without anything it quotes: that may be a secret.
func syntaxError(file string, data []byte, err error) (rules.Pos, string) {
	at := rules.Pos{File: file}
	what := strings.TrimPrefix(err.Error(), "yaml: ")
	if m := yamlLine.FindStringSubmatch(what); m != nil {
		at.Line, _ = strconv.Atoi(m[1])
		what = strings.Replace(what, m[0], "", 1)
	}
	lines := bytes.SplitAfter(data, []byte("\n"))
	if l := failingLine(data, lines); l > 0 {
		at.Line = l
	}
	if at.Line > 0 && at.Line <= len(lines) {
		line := lines[at.Line-1]
		at.Column = len(line) - len(bytes.TrimLeft(line, " \t")) + 1
	}
	return at, yamlQuoted.ReplaceAllStringFunc(what, func(quoted string) string {
		if len(quoted) == 3 && strings.Contains(",:[]{}-?", quoted[1:2]) {
			return quoted // the sign that was expected
		}
		return "..."
	})
}

// failingLine is the line from which on the file stops being YAML: the
// library gives the line where the enclosing block begins, which in a long
// file is no help. It tries ever shorter beginnings of the file, so it leaves
// big files to the library's own word and returns 0.
func failingLine(data []byte, lines [][]byte) int {
	const most, mostBytes = 400, 16 << 10
	if len(lines) > most || len(data) > mostBytes {
		return 0
	}
	end := len(data)
	for i := len(lines); i > 0; i-- {
		end -= len(lines[i-1])
		var doc yaml.Node
		err := decode(yaml.NewDecoder(bytes.NewReader(data[:end])), &doc)
		if err == nil || errors.Is(err, io.EOF) {
			return i
		}
	}
	return 0
}

// plural writes a count with its noun: 1 day, 2 days.
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
