package config

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"stepgate/rules"
)

// Spreadsheet is a file of newcomers that was read.
type Spreadsheet struct {
	List []Newcomer
	file string
	rows []rules.Pos // of each newcomer
	at   []map[string]rules.Pos
}

// ReadSpreadsheet reads newcomers from a spreadsheet saved as CSV: a first line
// that names the columns, as in [Columns], in any order, and a patient a line.
// Commas, semicolons or tabs part the columns. Cells left empty, and columns
// that are not there, are as in fill; an empty id is proposed. It gives every
// problem at once, with the place in the file, and the newcomers only where none
// is an error.
func (x *Enrolling) ReadSpreadsheet(f File, fill Newcomer) (*Spreadsheet, Problems) {
	r := &sheetReader{x: x, fill: fill, s: &Spreadsheet{file: f.Path}, notes: &notes{}}
	f.Data = bytes.TrimPrefix(f.Data, []byte("\ufeff")) // spreadsheets write one
	switch {
	case len(f.Data) > maxFile:
		r.wrong(rules.Pos{File: f.Path}, "the file is over 5 MB", "save it in several")
	case !utf8.Valid(f.Data) || bytes.IndexByte(f.Data, 0) >= 0:
		r.wrong(rules.Pos{File: f.Path}, "the file is not UTF-8", "save it as CSV UTF-8")
	default:
		r.read(f.Data)
	}
	unread := slices.Clone(r.list)
	for _, p := range x.Check(r.s.List) {
		if strings.HasSuffix(p.What, " is missing") && r.s.hasOneOf(unread, p) {
			continue // the cell is there, and unreadable
		}
		p.At = r.s.place(p.Row, p.Column)
		p.What = newEnrollment.ReplaceAllStringFunc(p.What, r.s.named)
		r.list = append(r.list, p.Problem)
	}
	problems := r.sorted()
	if len(problems.Errors()) > 0 {
		return nil, problems
	}
	return r.s, problems
}

// place is where a column of a newcomer stands.
func (s *Spreadsheet) place(row int, column string) rules.Pos {
	if at, ok := s.at[row][column]; ok {
		return at
	}
	return s.rows[row]
}

// hasOneOf tells whether one of the problems is in the cell of another, or in
// one of the contact's where that is about them.
func (s *Spreadsheet) hasOneOf(problems Problems, p RowProblem) bool {
	names := []string{p.Column}
	if p.Column == "" {
		names = contactColumns
	}
	return slices.ContainsFunc(names, func(name string) bool {
		at, ok := s.at[p.Row][name]
		return ok && slices.ContainsFunc(problems, func(q Problem) bool { return q.At == at })
	})
}

// named puts the place in the spreadsheet for the number of a newcomer.
func (s *Spreadsheet) named(text string) string {
	var n int
	if _, err := fmt.Sscanf(text, "new enrollment %d", &n); err != nil || n < 1 || n > len(s.rows) {
		return text
	}
	return fmt.Sprintf("%s:%d", s.file, s.rows[n-1].Line)
}

// sheetReader reads one spreadsheet.
type sheetReader struct {
	*notes
	x       *Enrolling
	fill    Newcomer
	s       *Spreadsheet
	lines   [][]byte
	columns []*Column // by position; nil: not for us
}

func (r *sheetReader) read(data []byte) {
	r.lines = bytes.Split(data, []byte("\n"))
	c := csv.NewReader(bytes.NewReader(data))
	c.Comma, c.FieldsPerRecord = r.delimiter(), -1 // cells are counted here, to say what is wrong
	for {
		record, err := c.Read()
		var syntax *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			if r.columns == nil {
				r.wrong(rules.Pos{File: r.s.file, Line: 1, Column: 1}, "the file is empty", "begin it with the names of the columns, such as name,program,mobile")
			}
			return
		case errors.As(err, &syntax):
			at := r.at(syntax.StartLine, 1)
			if syntax.StartLine == syntax.Line {
				at = r.at(syntax.Line, syntax.Column)
			}
			r.wrong(at, "the quotes on this line don't fit", `put quotes around the whole cell, and write a quote inside it twice`)
			if syntax.StartLine != syntax.Line {
				return // they ran on to wherever; what follows would be misread
			}
			continue
		case err != nil:
			r.wrong(rules.Pos{File: r.s.file}, "the file can't be read", "save it again as CSV UTF-8")
			return
		}
		cells := make([]Value, len(record))
		for i, text := range record {
			cells[i] = Value{Text: strings.TrimSpace(strings.ReplaceAll(text, "\u00a0", " ")), At: r.at(c.FieldPos(i))}
		}
		switch {
		case r.columns == nil && len(cells) > 0 && strings.HasPrefix(cells[0].Text, "sep="): // what some spreadsheets begin with
		case r.columns != nil:
			r.row(cells)
		case !r.header(cells):
			return // the rest would be misread
		}
	}
}

// delimiter is what parts the columns: the one that the first line has most of.
func (r *sheetReader) delimiter() rune {
	line := string(r.lines[0])
	if sep, ok := strings.CutPrefix(strings.TrimSpace(line), "sep="); ok && len(sep) == 1 {
		return rune(sep[0])
	}
	best := ','
	for _, d := range ";\t" {
		if strings.Count(line, string(d)) > strings.Count(line, string(best)) {
			best = d
		}
	}
	return best
}

// at is a place in the file. The reader counts columns in bytes; people count
// letters.
func (r *sheetReader) at(line, column int) rules.Pos {
	pos := rules.Pos{File: r.s.file, Line: line, Column: column}
	if line >= 1 && line <= len(r.lines) {
		text := r.lines[line-1]
		pos.Column = utf8.RuneCount(text[:min(max(column-1, 0), len(text))]) + 1
	}
	return pos
}

// header reads the names of the columns.
func (r *sheetReader) header(cells []Value) bool {
	ok := true
	for _, v := range cells {
		c := columnOf(v.Text)
		switch {
		case v.Text == "":
		case c == nil:
			r.wrong(v.At, "there is no column "+quoted(v.Text), suggest(v.Text, columnNames())+" (or take the column away)")
			ok = false
		case slices.Contains(r.columns, c):
			r.wrong(v.At, "the column "+quoted(c.Name)+" is there twice", "keep one of them")
			ok = false
		}
		r.columns = append(r.columns, c)
	}
	return ok
}

// row reads one patient.
func (r *sheetReader) row(cells []Value) {
	if !slices.ContainsFunc(cells, func(v Value) bool { return v.Text != "" }) {
		return
	}
	n, at := Newcomer{}, map[string]rules.Pos{}
	for i, v := range cells {
		switch {
		case i >= len(r.columns):
			if v.Text != "" {
				r.wrong(v.At, "there are more cells on this line than columns", "put quotes around a cell with a comma in it")
			}
			continue
		case r.columns[i] == nil:
			continue
		}
		name := r.columns[i].Name
		at[name] = v.At
		value, err := r.x.Read(name, v.Text)
		if err != nil {
			what, do, _ := strings.Cut(err.Error(), "; ")
			r.wrong(v.At, name+": "+what, do)
			continue
		}
		n[name] = value
	}
	for name, value := range r.fill {
		given := n[name] != "" || slices.Contains(contactColumns, name) && n[onSpool]+n[onSMS]+n[onEmail] != ""
		if _, there := n[name]; !given && (there || at[name].Line == 0) {
			n[name] = value
		}
	}
	if n["id"] == "" {
		n["id"] = r.x.NextID()
	}
	r.x.Drop(n)
	r.s.List, r.s.rows, r.s.at = append(r.s.List, n), append(r.s.rows, cells[0].At), append(r.s.at, at)
}
