package notify

import (
	"slices"
	"unicode/utf8"
)

// The two encodings of a text.
const (
	GSM7 = "GSM-7"
	UCS2 = "UCS-2"
)

// Room in one text, in units of its encoding. A user data field has 140
// octets, 6 of them for the header of a text in several parts:
// 3GPP TS 23.040 sections 9.2.3.16 and 9.2.3.24.1.
const (
	gsmSingle = 160 // septets
	gsmPart   = 153
	ucsSingle = 70 // UTF-16 units
	ucsPart   = 67
)

// Count is how a text travels as SMS.
type Count struct {
	Encoding string // GSM7 or UCS2
	Units    int    // septets, or UTF-16 units
	Segments int    // none for an empty text
	Outside  []rune // what forced UCS2, each once, in order of appearance
}

// Segments counts the SMS segments of a text as the standard does: GSM 7 bit
// where every character is in the default alphabet or its extension
// (3GPP TS 23.038 section 6.2.1), else UCS-2 with surrogate pairs. What takes
// two units is never cut in two by the end of a segment, so that a text may
// need a segment more than its units divided by the room in one.
func Segments(text string) Count {
	c := Count{Encoding: GSM7}
	for _, r := range text {
		n := septets(r)
		if n == 0 && !slices.Contains(c.Outside, r) {
			c.Outside = append(c.Outside, r)
		}
		c.Units += n
	}
	width, single, part := septets, gsmSingle, gsmPart
	if len(c.Outside) > 0 {
		c.Encoding, c.Units = UCS2, 0
		width, single, part = utf16Units, ucsSingle, ucsPart
		for _, r := range text {
			c.Units += width(r)
		}
	}
	switch {
	case text == "":
	case c.Units <= single:
		c.Segments = 1
	default:
		c.Segments = parts(text, width, part)
	}
	return c
}

func parts(text string, width func(rune) int, part int) int {
	n, room := 1, part
	for _, r := range text {
		w := width(r)
		if w > room {
			n++
			room = part
		}
		room -= w
	}
	return n
}

func utf16Units(r rune) int {
	if r > 0xffff && r <= utf8.MaxRune {
		return 2
	}
	return 1
}
