package templates

import (
	"strings"
	"unicode"
	"unicode/utf16"

	"golang.org/x/text/unicode/norm"
)

// The GSM 7-bit default alphabet and its extension, 3GPP TS 23.038. A
// character of the extension takes two septets.
const (
	gsmBasic = "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?" +
		"¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
	gsmExtended = "\f^{}\\[~]|€"
)

// alphabet is what each character takes, up to the highest of the alphabet,
// the euro sign; 0: not in it.
var alphabet = func() (a ['\u20ac' + 1]uint8) {
	for _, r := range gsmBasic {
		a[r] = 1
	}
	for _, r := range gsmExtended {
		a[r] = 2
	}
	return a
}()

func septets(r rune) int {
	if int(r) >= len(alphabet) {
		return 0
	}
	return int(alphabet[r])
}

// lookalike is what stands in for characters that no accent explains.
var lookalike = map[rune]string{
	'\u2018': "'", '\u2019': "'", '\u201a': "'", '`': "'", '\u00b4': "'", '\u2032': "'",
	'\u201c': `"`, '\u201d': `"`, '\u201e': `"`, '\u00ab': `"`, '\u00bb': `"`,
	'\u2010': "-", '\u2011': "-", '\u2012': "-", '\u2013': "-", '\u2014': "-", '\u2212': "-",
	'\u2026': "...", '\u2022': "-", '\u00d7': "x", '\u00b7': "-",
	'\t': " ", '\u00a0': " ", '\u202f': " ", '\u2009': " ",
	'\u0141': "L", '\u0142': "l", '\u0110': "D", '\u0111': "d", '\u0131': "i",
	'\u0152': "OE", '\u0153': "oe", '\u00fe': "th", '\u00de': "Th", '\u00f0': "d", '\u00d0': "D",
}

// fold writes text in the GSM-7 alphabet: typographic marks become plain
// ones, accents the alphabet lacks are dropped. What has no counterpart at all
// becomes a question mark, and lost tells so.
func fold(s string) (plain string, lost bool) {
	if inGSM(s) {
		return s, false
	}
	var b strings.Builder
	for _, r := range norm.NFC.String(s) {
		switch sub, known := lookalike[r]; {
		case septets(r) > 0:
			b.WriteRune(r)
		case known:
			b.WriteString(sub)
		default:
			base, ok := unaccented(r)
			lost = lost || !ok
			b.WriteString(base)
		}
	}
	return b.String(), lost
}

// tidy keeps every letter as it is written: only typographic marks become plain
// ones, and what nobody sees is left out.
func tidy(s string) string {
	var b strings.Builder
	for _, r := range norm.NFC.String(s) {
		switch sub, known := lookalike[r]; {
		case known && !unicode.IsLetter(r):
			b.WriteString(sub)
		case septets(r) > 0, !unicode.IsControl(r) && !unicode.Is(unicode.Cf, r):
			b.WriteRune(r)
		}
	}
	return b.String()
}

func inGSM(s string) bool {
	for _, r := range s {
		if septets(r) == 0 {
			return false
		}
	}
	return true
}

// unaccented is a character without its accents, or a question mark. Marks
// and controls that stand alone vanish.
func unaccented(r rune) (string, bool) {
	var b strings.Builder
	for _, c := range norm.NFD.String(string(r)) {
		if septets(c) > 0 {
			b.WriteRune(c)
		} else if !unicode.Is(unicode.Mn, c) && !unicode.IsControl(c) && !unicode.Is(unicode.Cf, c) {
			return "?", false
		}
	}
	return b.String(), true
}

// size is how many septets folded text takes.
func size(s string) int {
	n := 0
	for _, r := range s {
		n += septets(r)
	}
	return n
}

// One SMS holds 160 septets; each of several joined ones holds 153.
const (
	single = 160
	joined = 153
)

// segments estimates how many SMS so many septets take. It is for choosing
// between wordings; the true count, where a two-septet character may not
// straddle two segments, is the sender's to make.
func segments(septets int) int {
	if septets <= single {
		return 1
	}
	return (septets + joined - 1) / joined
}

// One SMS outside the alphabet holds 70 UTF-16 units, each of several 67.
const (
	wideSingle = 70
	wideJoined = 67
)

// hand is how a text is written, and so how long it is.
type hand struct {
	accents bool // those that the alphabet lacks are kept
	mail    bool // it is the text part of a mail: they are kept, and cost nothing
}

// write is fold, or tidy where accents are kept. lost tells that a character
// could not be written.
func (h hand) write(s string) (out string, lost bool) {
	if h.accents || h.mail {
		return tidy(s), false
	}
	return fold(s)
}

// segments is how many SMS a written text takes. The wording of a mail is that
// of a text without accents.
func (h hand) segments(s string) int {
	if h.mail {
		s, _ = fold(s)
	}
	if inGSM(s) {
		return segments(size(s))
	}
	n := len(utf16.Encode([]rune(s)))
	if n <= wideSingle {
		return 1
	}
	return (n + wideJoined - 1) / wideJoined
}

// handOf is how the text to a patient is written.
func handOf(c Clinic, p Patient) hand { return hand{accents: c.Accents, mail: !p.TextOnly} }
