package export

import (
	"bytes"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// writeRow writes a row by RFC 4180: CR LF at its end, commas between, quotes
// round a cell that holds a comma, a quote or a line end, a quote doubled.
func writeRow(buf *bytes.Buffer, cells []string) {
	for i, c := range cells {
		if i > 0 {
			buf.WriteByte(',')
		}
		c = Harmless(c)
		if !strings.ContainsAny(c, "\",\r\n") {
			buf.WriteString(c)
			continue
		}
		buf.WriteByte('"')
		buf.WriteString(strings.ReplaceAll(c, `"`, `""`))
		buf.WriteByte('"')
	}
	buf.WriteString("\r\n")
}

// Harmless puts an apostrophe before a cell that a spreadsheet would take as a
// formula: one that begins with = + - @, a tab, a carriage return or a line
// feed, or one of the four in full width (OWASP, "CSV Injection",
// owasp.org/www-community/attacks/CSV_Injection). Blanks before them are looked
// past. A whole number, less than 0 too, stays one. So that a reader can take the apostrophe away
// again, one more stands before a cell that begins with one.
func Harmless(s string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	first, _ := utf8.DecodeRuneInString(s)
	switch first {
	case utf8.RuneError: // empty
		return s
	case '\t', '\r', '\n', '\'':
		return "'" + s
	}
	if n, err := strconv.Atoi(s); err == nil && strconv.Itoa(n) == s {
		return s
	}
	first, _ = utf8.DecodeRuneInString(strings.TrimLeftFunc(s, unicode.IsSpace))
	if strings.ContainsRune("=+-@＝＋－＠", first) {
		return "'" + s
	}
	return s
}
