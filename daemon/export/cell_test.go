package export

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// readRows reads RFC 4180 to the letter: CR LF after every row, quotes only
// round a whole cell, and nothing but a doubled quote within.
func readRows(text string) ([][]string, error) {
	var rows [][]string
	var row []string
	for text != "" {
		cell, rest, err := readCell(text)
		if err != nil {
			return nil, fmt.Errorf("row %d: %w", len(rows)+1, err)
		}
		row = append(row, cell)
		switch {
		case strings.HasPrefix(rest, ","):
			text = rest[1:]
		case strings.HasPrefix(rest, "\r\n"):
			rows, row, text = append(rows, row), nil, rest[2:]
		default:
			return nil, fmt.Errorf("row %d: a cell ends in %.10q", len(rows)+1, rest)
		}
	}
	if row != nil {
		return nil, fmt.Errorf("the last row has no end")
	}
	return rows, nil
}

func readCell(text string) (cell, rest string, err error) {
	if !strings.HasPrefix(text, `"`) {
		end := strings.IndexAny(text, ",\r\n\"")
		if end < 0 {
			return "", "", fmt.Errorf("a cell without an end: %.10q", text)
		}
		return text[:end], text[end:], nil
	}
	var b strings.Builder
	for text = text[1:]; ; {
		i := strings.IndexByte(text, '"')
		if i < 0 {
			return "", "", fmt.Errorf("a quote is not closed")
		}
		b.WriteString(text[:i])
		if !strings.HasPrefix(text[i:], `""`) {
			return b.String(), text[i+1:], nil
		}
		b.WriteByte('"')
		text = text[i+2:]
	}
}

// A cell that a spreadsheet may take for a formula has an apostrophe; the first
// characters are those that OWASP names, owasp.org/www-community/attacks/CSV_Injection.
func TestHarmless(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "p-01": "p-01", "7": "7", "-7": "-7", "0": "0", "2026-10-05": "2026-10-05", "a=b": "a=b", "a'": "a'", " a": " a", "ébène": "ébène",
		"=1+1": "'=1+1", "+1": "'+1", "-a": "'-a", "-1-1": "'-1-1", "@SUM(A1)": "'@SUM(A1)", "\t=1": "'\t=1", "\rx": "'\rx", "\nx": "'\nx",
		"＝1": "'＝1", "＋1": "'＋1", "－1": "'－1", "＠x": "'＠x", " =1": "' =1", "\u00a0+1": "'\u00a0+1", "'": "''", "'=1": "''=1", "-007": "'-007",
	} {
		if got := Harmless(in); got != want {
			t.Errorf("Harmless(%q) = %q, want %q", in, got, want)
		}
	}
}

// Any text in any cell reads back the same, apart from the apostrophe.
func TestRowsReadBack(t *testing.T) {
	piece := rapid.OneOf(rapid.SampledFrom([]string{"", "=", "'", "\"", ",", "\r\n", "\n", "\r", "\t", " ", "-1", "+", "@", "＝", "x", "\ufeff", "é"}), rapid.String())
	cell := rapid.Custom(func(rt *rapid.T) string { return strings.Join(rapid.SliceOfN(piece, 0, 4).Draw(rt, "pieces"), "") })
	rapid.Check(t, func(rt *rapid.T) {
		// A row of one empty cell is an empty line, which readers pass over; the table has more columns.
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 3, 3), 1, 4).Draw(rt, "rows")
		var buf bytes.Buffer
		for _, row := range rows {
			writeRow(&buf, row)
		}
		got, err := readRows(buf.String())
		if err != nil {
			rt.Fatal(err)
		}
		if len(got) != len(rows) {
			rt.Fatalf("%d rows, want %d", len(got), len(rows))
		}
		for i := range rows {
			for k, c := range got[i] {
				if plain := strings.TrimPrefix(c, "'"); plain != strings.ToValidUTF8(rows[i][k], "\ufffd") {
					rt.Fatalf("cell %q reads back as %q", rows[i][k], c)
				}
				if strings.ContainsAny(c[:min(1, len(c))], "=+@\t\r\n") {
					rt.Fatalf("cell %q is not harmless", c)
				}
			}
		}
		other, err := csv.NewReader(strings.NewReader(buf.String())).ReadAll()
		if err != nil {
			rt.Fatal(err)
		}
		for i := range got { // this reader makes CR LF in a cell LF
			for k := range got[i] {
				got[i][k] = strings.ReplaceAll(got[i][k], "\r\n", "\n")
			}
			if !slices.Equal(got[i], other[i]) {
				rt.Fatalf("encoding/csv reads %q, not %q", other[i], got[i])
			}
		}
	})
}
