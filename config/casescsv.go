package config

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"stepgate/rules"
)

// replyColumns are the columns of a file of replies.
var replyColumns = []string{"day", "time", "text"}

// ReadReplies reads the replies of a made-up patient from a CSV file with the
// columns day, time and text, for a rehearsal of so many days. It gives every
// problem at once, and replies only where there is none.
func ReadReplies(f File, p *rules.Program, days int) ([]Reply, Problems) {
	r := &replyReader{f: f, p: p, days: days}
	f.Data = bytes.TrimPrefix(f.Data, []byte("\ufeff")) // spreadsheets write one
	switch {
	case len(f.Data) > maxFile:
		r.wrong(rules.Pos{File: f.Path}, "the file is over 5 MB", "play fewer replies")
	case r.readable(f):
		r.read(f.Data)
	}
	if len(r.list) > 0 {
		return nil, r.sorted()
	}
	slices.SortStableFunc(r.replies, func(a, b Reply) int { return a.Day - b.Day })
	return r.replies, nil
}

// replyReader reads one file of replies.
type replyReader struct {
	notes
	f       File
	p       *rules.Program
	days    int
	lines   [][]byte
	replies []Reply
}

func (r *replyReader) read(data []byte) {
	r.lines = bytes.Split(data, []byte("\n"))
	c := csv.NewReader(bytes.NewReader(data))
	c.FieldsPerRecord = -1 // counted here, to say what is wrong
	c.TrimLeadingSpace = true
	for header := true; ; header = false {
		record, err := c.Read()
		var syntax *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			if header {
				r.wrong(rules.Pos{File: r.f.Path, Line: 1, Column: 1}, "the file is empty", "begin it with the line day,time,text")
			}
			return
		case errors.As(err, &syntax):
			r.syntax(syntax)
			if header {
				return
			}
			continue
		case err != nil: // reading from memory gives no other
			r.wrong(rules.Pos{File: r.f.Path}, "the file can't be read", "save it again as plain CSV")
			return
		}
		fields := make([]Value, len(record))
		for i, text := range record {
			fields[i] = Value{Text: strings.TrimSpace(text), Key: "the column", At: r.at(c.FieldPos(i))}
			if i < len(replyColumns) {
				fields[i].Key = replyColumns[i]
			}
		}
		switch {
		case !header:
			r.record(fields)
		case !r.header(fields):
			return // the rest would be misread
		}
	}
}

// at is a place in the file. The reader counts columns in bytes; people count
// letters.
func (r *replyReader) at(line, column int) rules.Pos {
	pos := rules.Pos{File: r.f.Path, Line: line, Column: column}
	if line >= 1 && line <= len(r.lines) {
		text := r.lines[line-1]
		pos.Column = utf8.RuneCount(text[:min(max(column-1, 0), len(text))]) + 1
	}
	return pos
}

func (r *replyReader) syntax(err *csv.ParseError) {
	at, what := r.at(err.Line, err.Column), "the quotes on this line don't fit"
	if err.StartLine != err.Line { // it ran on to wherever: look where it began
		at, what = r.at(err.StartLine, 1), "the quotes opened on this line don't end as they should"
	}
	r.wrong(at, what, `put quotes around the whole text, and write a quote inside it twice: "he said ""ok"""`)
}

// header checks the first line.
func (r *replyReader) header(fields []Value) bool {
	ok := len(fields) == len(replyColumns)
	for i, v := range fields {
		ok = ok && strings.EqualFold(v.Text, replyColumns[i])
	}
	if !ok {
		do := "begin the file with the line day,time,text"
		if strings.Contains(fields[0].Text, ";") {
			do += ", and part the columns with commas"
		}
		r.wrong(fields[0].At, "the first line does not name the columns", do)
	}
	return ok
}

// record reads one line.
func (r *replyReader) record(fields []Value) {
	switch n := len(fields); {
	case n < len(replyColumns):
		r.wrong(fields[0].At, fmt.Sprintf("the line has %s, not 3", plural(n, "column")), "write day,time,text; the time may be empty, as in 9,,P5")
		return
	case n > len(replyColumns):
		r.wrong(fields[len(replyColumns)].At, "a comma ended the text before this", `put quotes around the whole text: "done, 3/10"`)
		return
	}
	reply := Reply{At: rules.Pos{File: r.f.Path, Line: fields[0].At.Line, Column: fields[0].At.Column}}
	ok := r.day(&reply, fields[0])
	if fields[1].Text != "" {
		t, good := r.clock(fields[1])
		reply.Time, ok = &t, ok && good
	}
	if fields[2].Text == "" {
		r.wrong(fields[2].At, "the text is missing", "write what the patient sends, or take the line away")
		return
	}
	if r.said(&reply, fields[2], r.p) && ok {
		r.replies = append(r.replies, reply)
	}
}

// day reads the day of a line.
func (r *replyReader) day(reply *Reply, v Value) bool {
	want := "a day from 1 to " + strconv.Itoa(r.days) + "; day 1 is the start date"
	n, ok := digits(v.Text)
	switch {
	case v.Text == "" || !ok:
		r.unreadable(v, want)
		return false
	case n < 1:
		r.outside(v, want)
		return false
	case n > r.days:
		r.wrong(v.At, fmt.Sprintf("day %d is after the %s that are played", n, plural(r.days, "day")), "play more with --weeks, or take the line away")
		return false
	}
	reply.Day = n
	return true
}
