package templates

import (
	"strings"
	"unicode/utf8"
)

// columns is how wide the text parts of mails to the clinician are. RFC 5322,
// 2.1.1, wants at most 78; the rest is room to be quoted.
const columns = 72

// wrap breaks lines between words where they are wider. A word, such as a
// link, is never broken.
func wrap(text string) string {
	var b strings.Builder
	for line := range strings.SplitSeq(text, "\n") {
		if b.Len() > 0 {
			b.WriteByte('\n')
		}
		at := 0
		for word := range strings.FieldsSeq(line) {
			n := utf8.RuneCountInString(word)
			switch {
			case at == 0:
				at = n
			case at+1+n > columns:
				b.WriteByte('\n')
				at = n
			default:
				b.WriteByte(' ')
				at += 1 + n
			}
			b.WriteString(word)
		}
	}
	return b.String()
}
