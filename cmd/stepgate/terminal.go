package main

import (
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/term"
	"golang.org/x/text/width"
)

// terminal is where a page is printed: how many columns it has, and what it can
// show.
type terminal struct {
	out   io.Writer
	width int
	ascii bool // nothing but ASCII of our own
	color bool
}

// widest is how far a page spreads; longer lines are hard to follow.
const widest = 160

// newTerminal asks the terminal how wide it is, or where there is none the
// variable COLUMNS; 80 columns is what pages are made for.
func newTerminal(out io.Writer, ascii bool) terminal {
	s := terminal{out: out, width: 80, ascii: ascii || !utf8Locale(), color: colors()}
	if w, _, err := term.GetSize(int(os.Stdout.Fd())); err == nil && w > 0 {
		s.width = w
	} else if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && w > 0 {
		s.width = w
	}
	s.width = min(max(s.width, 20), widest)
	return s
}

// utf8Locale tells whether the locale is one of UTF-8. The first of the three
// variables that is set counts (POSIX, section 8.2).
func utf8Locale() bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := strings.ToLower(os.Getenv(name)); v != "" {
			return strings.Contains(v, "utf-8") || strings.Contains(v, "utf8")
		}
	}
	return false
}

// narrow tells whether it is a phone's.
func (s *terminal) narrow() bool { return s.width < 60 }

func (s *terminal) line(text string) { fmt.Fprintln(s.out, strings.TrimRight(text, " ")) }

func (s *terminal) style(code, text string) string {
	if !s.color || text == "" {
		return text
	}
	return "\x1b[" + code + "m" + text + "\x1b[0m"
}

func (s *terminal) bold(text string) string { return s.style("1", text) }
func (s *terminal) dim(text string) string  { return s.style("2", text) }

// wrap prints text behind head, and its further lines behind so many blanks.
func (s *terminal) wrap(head string, indent int, text string) {
	for i, line := range s.folded(text, s.width-indent) {
		if i > 0 || head == "" {
			head = strings.Repeat(" ", indent)
		}
		s.line(head + line)
	}
}

// hang prints a paragraph whose further lines stand in by two.
func (s *terminal) hang(text string) {
	for i, line := range s.folded(text, s.width-2) {
		if i > 0 {
			line = "  " + line
		}
		s.line(line)
	}
}

// quick says that what is shown is quick time's, where it is.
func (s *terminal) quick(is bool) {
	if is {
		s.hang("! Quick time: made-up days, apart from the clinic's own.")
	}
}

// folded breaks a text into lines of so many columns, a word that is longer
// among them.
func (s *terminal) folded(text string, most int) []string {
	lines, line := []string{}, ""
	for _, word := range strings.Fields(printable(text)) {
		for cells(word) > most {
			cut := s.cut(word, most)
			if line != "" {
				lines, line = append(lines, line), ""
			}
			lines, word = append(lines, cut), word[len(cut):]
		}
		if line != "" && cells(line)+1+cells(word) > most {
			lines, line = append(lines, line), ""
		}
		if line != "" && word != "" {
			line += " "
		}
		line += word
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// cut is the start of a word that fits into so many columns, one rune at least.
func (s *terminal) cut(word string, most int) string {
	n := 0
	for i, r := range word {
		if n += cells(string(r)); n > most && i > 0 {
			return word[:i]
		}
	}
	return word
}

// fit brings a cell to exactly so many columns, with a mark where it was cut.
func (s *terminal) fit(text string, n int) string {
	text = printable(text)
	mark := "…"
	if s.ascii {
		mark = "~"
	}
	if cells(text) > n {
		text = s.cut(text, n-1) + mark
	}
	return text + strings.Repeat(" ", max(0, n-cells(text)))
}

// right brings a cell to so many columns from the left.
func right(text string, n int) string { return strings.Repeat(" ", max(0, n-cells(text))) + text }

// printable is a text of files or patients with nothing in it that could move
// a terminal's cursor or turn its words around.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case !unicode.IsGraphic(r):
			return -1
		}
		return r
	}, s)
}

// cells counts the columns of a text: two for a wide rune (Unicode Standard
// Annex 11), none for a mark on the one before.
func cells(s string) int {
	n := 0
	for _, r := range s {
		switch k := width.LookupRune(r).Kind(); {
		case unicode.Is(unicode.Mn, r):
		case k == width.EastAsianWide || k == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}
