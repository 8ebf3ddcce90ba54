// Package page prints conversations for a person at a terminal, as the demo
// and a rehearsal show them. It knows columns and signs, and nothing of where
// a conversation comes from.
package page

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"stepgate/rules"
)

// Width is how many columns a page needs.
const Width = 80

// Page is where it prints. A write that fails is the terminal's trouble, and
// is not told.
type Page struct {
	Out   io.Writer
	Color bool
}

// Line prints one line as it is.
func (p *Page) Line(args ...any) { _, _ = fmt.Fprintln(p.Out, args...) }

// Printf prints as it is told.
func (p *Page) Printf(format string, args ...any) { _, _ = fmt.Fprintf(p.Out, format, args...) }

// Wrap prints text in the page's width, first behind head, then behind more.
func (p *Page) Wrap(head, more, text string) {
	col, line := utf8.RuneCountInString(head), head
	start := true
	for _, word := range strings.Fields(text) {
		n := visible(word)
		if !start && col+1+n > Width {
			p.Line(strings.TrimRight(line, " "))
			line, col, start = more, utf8.RuneCountInString(more), true
		}
		if !start {
			line, col = line+" ", col+1
		}
		line, col, start = line+word, col+n, false
	}
	p.Line(strings.TrimRight(line, " "))
}

// visible counts the columns of a word without its color codes.
func visible(s string) int {
	n, esc := 0, false
	for _, r := range s {
		switch {
		case r == '\x1b':
			esc = true
		case esc:
			esc = r != 'm'
		default:
			n++
		}
	}
	return n
}

// LongDate writes a date like Mon Jan 2.
func LongDate(d rules.Date) string { return d.Time().Format("Mon Jan 2") }

func (p *Page) style(code, s string) string {
	if !p.Color || s == "" {
		return s
	}
	return "\x1b[" + code + "m" + s + "\x1b[0m"
}

// Bold, Dim and Red dress a text where the page has color.
func (p *Page) Bold(s string) string { return p.style("1", s) }

// Dim is for what is there to be skipped.
func (p *Page) Dim(s string) string { return p.style("2", s) }

// Red is for what should not be missed.
func (p *Page) Red(s string) string { return p.style("31", s) }
