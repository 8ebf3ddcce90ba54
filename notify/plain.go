package notify

import (
	"strings"
	"unicode/utf8"
)

// plainer turns smart punctuation into what the GSM alphabet has. Letters are
// left alone: an accent is the writer's business, a curly quote is not.
var plainer = strings.NewReplacer(
	"\u2018", "'", "\u2019", "'", "\u201a", "'", "\u201b", "'", // single quotes
	"\u2032", "'", "`", "'", "\u00b4", "'", // prime, backtick, acute
	"\u201c", `"`, "\u201d", `"`, "\u201e", `"`, "\u201f", `"`, // double quotes
	"\u2033", `"`, "\u00ab", `"`, "\u00bb", `"`, // double prime, guillemets
	"\u2010", "-", "\u2011", "-", "\u2012", "-", "\u2013", "-", // hyphens and dashes
	"\u2014", "-", "\u2015", "-", "\u2212", "-",
	"\u2026", "...",
	"\u2022", "-", // bullet
	"\t", " ", "\u00a0", " ", "\u2007", " ", "\u2009", " ", "\u200a", " ", "\u202f", " ", // blanks
	"\u2028", "\n", "\u2029", "\n",
	"\u00ad", "", "\u200b", "", "\ufeff", "", // what nobody sees
)

// Plain turns smart punctuation (curly quotes, dashes, the ellipsis, the
// no-break space, the tab) into plain, so that a text that needs nothing more
// stays GSM 7 bit.
func Plain(text string) string {
	for i := range len(text) {
		if c := text[i]; c >= utf8.RuneSelf || c == '`' || c == '\t' {
			return plainer.Replace(text)
		}
	}
	return text // as nearly all are
}
