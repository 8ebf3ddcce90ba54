package config

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// plainLetters takes the accents off a text: José becomes Jose.
func plainLetters(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(strings.ReplaceAll(text, "’", "'")))
}

// SpoolName makes a name on the spool of a person's name, without capitals,
// accents and blanks; "" where no letter is left.
func SpoolName(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' {
			return r
		}
		return -1
	}, strings.ToLower(plainLetters(name)))
}
