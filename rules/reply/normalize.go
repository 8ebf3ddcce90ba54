package reply

import (
	"strings"
	"unicode"
)

// normalize gives a text one form: half-width characters, ASCII digits,
// straight quotes and dashes, no accents, no invisible characters, no skin
// tones. Case is kept.
func normalize(text string) []rune {
	out := make([]rune, 0, len(text))
	for _, r := range text {
		switch {
		case r >= 0xFF01 && r <= 0xFF5E: // full-width forms
			r -= 0xFEE0
		case unicode.IsDigit(r) && r > '9':
			r = '0' + digitValue(r)
		case invisible(r):
			continue
		}
		switch r {
		case '½', '¼', '¾':
			out = append(out, fraction(r, out)...)
		case '…':
			out = append(out, '.', '.', '.')
		default:
			out = append(out, plain(r))
		}
	}
	return out
}

// digitValue is the value of a decimal digit of any script: Unicode lists
// each script's digits in runs from 0 to 9.
func digitValue(r rune) rune {
	for _, t := range unicode.Nd.R16 {
		if lo := rune(t.Lo); r >= lo && r <= rune(t.Hi) {
			return (r - lo) % 10
		}
	}
	for _, t := range unicode.Nd.R32 {
		if lo := rune(t.Lo); r >= lo && r <= rune(t.Hi) {
			return (r - lo) % 10
		}
	}
	return 0
}

// invisible tells characters that change how others look and nothing else.
func invisible(r rune) bool {
	return unicode.Is(unicode.Mn, r) || // accents on their own, emoji variation
		unicode.Is(unicode.Cf, r) || // zero width, text direction, soft hyphen
		r == 0x20E3 || // keycap
		r >= 0x1F3FB && r <= 0x1F3FF // skin tones
}

// fraction writes ½ after a digit as .5, elsewhere as 0.5.
func fraction(r rune, before []rune) []rune {
	dec := map[rune]string{'½': ".5", '¼': ".25", '¾': ".75"}[r]
	if n := len(before); n > 0 && before[n-1] >= '0' && before[n-1] <= '9' {
		return []rune(dec)
	}
	return []rune("0" + dec)
}

// accents folds accented Latin letters onto plain ones, capital by capital.
var accents = func() map[rune]rune {
	m := map[rune]rune{}
	for _, row := range []string{
		"aàáâãäåāăą", "AÀÁÂÃÄÅĀĂĄ", "cçćč", "CÇĆČ", "dďđ", "DĎĐ",
		"eèéêëēĕėęě", "EÈÉÊËĒĔĖĘĚ", "gğ", "GĞ", "iìíîïīıį", "IÌÍÎÏĪİĮ",
		"lł", "LŁ", "nñńň", "NÑŃŇ", "oòóôõöøō", "OÒÓÔÕÖØŌ", "rř", "RŘ",
		"sśşš", "SŚŞŠ", "tť", "TŤ", "uùúûüūůű", "UÙÚÛÜŪŮŰ", "yýÿ", "YÝŸ",
		"zźżž", "ZŹŻŽ",
	} {
		plain := rune(row[0])
		for _, r := range row[1:] {
			m[r] = plain
		}
	}
	return m
}()

// plain folds one character onto its simplest form.
func plain(r rune) rune {
	if r < 0x80 {
		if r == '`' {
			return '\''
		}
		return r
	}
	if p, ok := accents[r]; ok {
		return p
	}
	switch {
	case strings.ContainsRune("‘’‚‛´′ʼ", r):
		return '\''
	case strings.ContainsRune("“”„‟«»″", r):
		return '"'
	case strings.ContainsRune("‐‑‒–—―−", r):
		return '-'
	case strings.ContainsRune("。．", r):
		return '.'
	case strings.ContainsRune("、，", r):
		return ','
	case r == 0x2028 || r == 0x2029 || r == 0x85:
		return '\n'
	case unicode.IsSpace(r):
		return ' '
	}
	return r
}
