package reply

import (
	"strings"
	"unicode"
)

type kind uint8

const (
	word kind = iota
	digits
	mark
	emoji
)

// token is one word, number, mark or emoji.
type token struct {
	kind  kind
	text  string // lower case
	glued bool   // no space before it
	upper bool   // written with a capital first
	num   number // digits only
}

// lexer cuts a normalized text into tokens.
type lexer struct {
	in  []rune
	pos int
	out []token
}

// tokenize cuts a text into tokens.
func tokenize(text string) []token {
	lx := &lexer{in: normalize(text)}
	glued := false
	for lx.pos < len(lx.in) {
		r := lx.in[lx.pos]
		switch {
		case r == '\n' || r == '\r':
			lx.emit(token{kind: mark, text: "\n"}, 1)
		case unicode.IsSpace(r):
			lx.pos++
			glued = false
			continue
		case r >= '0' && r <= '9', r == '.' && isDigit(lx.at(1)):
			lx.number(glued)
		case unicode.IsLetter(r):
			lx.word(glued)
		case r == '-' && lx.hyphen():
			lx.pos++
			glued = false
			continue
		case r < 0x80 || unicode.IsPunct(r):
			lx.emit(token{kind: mark, text: string(r), glued: glued}, 1)
		default:
			lx.emit(token{kind: emoji, text: string(r), glued: glued}, 1)
		}
		glued = true
	}
	return lx.out
}

func (lx *lexer) emit(t token, n int) {
	lx.out = append(lx.out, t)
	lx.pos += n
}

// at is the rune n places ahead (or behind), or 0 outside the text.
func (lx *lexer) at(n int) rune {
	if i := lx.pos + n; i >= 0 && i < len(lx.in) {
		return lx.in[i]
	}
	return 0
}

// hyphen tells whether the dash here joins two words, as in "pain-free".
func (lx *lexer) hyphen() bool {
	return unicode.IsLetter(lx.at(-1)) && unicode.IsLetter(lx.at(1))
}

// word reads letters; apostrophes inside are dropped: can't is cant.
func (lx *lexer) word(glued bool) {
	var b strings.Builder
	upper := unicode.IsUpper(lx.at(0))
	for {
		r := lx.at(0)
		if r == '\'' && unicode.IsLetter(lx.at(1)) {
			lx.pos++
			continue
		}
		if r == '.' && b.Len() == 1 && unicode.IsLetter(lx.at(1)) && !unicode.IsLetter(lx.at(2)) {
			lx.pos++ // "a.m."
			continue
		}
		if !unicode.IsLetter(r) {
			break
		}
		b.WriteRune(unicode.ToLower(r))
		lx.pos++
	}
	lx.out = append(lx.out, token{kind: word, text: b.String(), glued: glued, upper: upper})
}

// words are a phrase's words and emojis, without marks and numbers.
func words(phrase string) []string {
	var out []string
	for _, t := range tokenize(phrase) {
		if t.kind == word || t.kind == emoji {
			out = append(out, t.text)
		}
	}
	return out
}
