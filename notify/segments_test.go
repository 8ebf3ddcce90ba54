package notify

import (
	"bufio"
	"encoding/hex"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Sources of the expected counts: 3GPP TS 23.038 section 6.2.1 (alphabet,
// extension) and 3GPP TS 23.040 section 9.2.3.24.1 (160 and 153 septets, 70
// and 67 UCS-2 units); each vector was also run through the npm package
// sms-segments-calculator 1.3.0 (MIT), except the straddling ones, which
// follow from the standard: an escape and its code, or a surrogate pair, may
// not be split over two segments.
func TestSegments(t *testing.T) {
	rep := strings.Repeat
	for _, c := range []struct {
		name     string
		text     string
		encoding string
		units    int
		segments int
	}{
		{"empty", "", GSM7, 0, 0},
		{"160 a", rep("a", 160), GSM7, 160, 1},
		{"161 a", rep("a", 161), GSM7, 161, 2},
		{"306 a", rep("a", 306), GSM7, 306, 2},
		{"307 a", rep("a", 307), GSM7, 307, 3},
		{"80 euro", rep("€", 80), GSM7, 160, 1},
		{"81 euro", rep("€", 81), GSM7, 162, 2},
		{"70 small c cedilla", rep("ç", 70), UCS2, 70, 1},
		{"71 small c cedilla", rep("ç", 71), UCS2, 71, 2},
		{"134 small c cedilla", rep("ç", 134), UCS2, 134, 2},
		{"135 small c cedilla", rep("ç", 135), UCS2, 135, 3},
		{"35 faces", rep("😀", 35), UCS2, 70, 1},
		{"36 faces", rep("😀", 36), UCS2, 72, 2},
		{"capital C cedilla", "Ç", GSM7, 1, 1},
		{"CRLF", "a\r\nb", GSM7, 4, 1},
		{"form feed", "\f", GSM7, 2, 1},
		{"euro over the edge", rep("a", 152) + "€" + rep("a", 152), GSM7, 306, 3},
		{"pair over the edge", rep("ç", 66) + "😀" + rep("ç", 66), UCS2, 134, 3},
	} {
		got := Segments(c.text)
		if got.Encoding != c.encoding || got.Units != c.units || got.Segments != c.segments {
			t.Errorf("%s: got %s, %d units, %d segments; want %s, %d, %d", c.name,
				got.Encoding, got.Units, got.Segments, c.encoding, c.units, c.segments)
		}
	}
}

// 3GPP TS 23.038 section 6.2.1 has none of these; checked also with the npm
// package sms-segments-calculator 1.3.0.
func TestSegmentsOutside(t *testing.T) {
	for _, r := range "\u2019`\t\u00a0ê" {
		got := Segments("ok " + string(r))
		if got.Encoding != UCS2 || len(got.Outside) != 1 || got.Outside[0] != r {
			t.Errorf("%U: got %+v", r, got)
		}
	}
	got := Segments("ça va, ça alors, ê")
	if string(got.Outside) != "çê" {
		t.Errorf("outside = %q, want each once in order", string(got.Outside))
	}
	if got := Segments("a\xffb"); got.Encoding != UCS2 {
		t.Errorf("a broken byte counted as %+v", got)
	}
}

// Our table against a second one that was not derived from it: Perl's
// Encode::GSM0338 2.10, see the head of the file.
func TestAlphabetAgainstSecondTable(t *testing.T) {
	f, err := os.Open("../testdata/gsm/gsm0338.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	ours := map[rune]string{}
	for code, r := range gsmBasic {
		if code != gsmEscape {
			ours[r] = string([]byte{byte(code)})
		}
	}
	for r, code := range gsmExtension {
		ours[r] = string([]byte{gsmEscape, code})
	}
	seen := 0
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		point, septets, _ := strings.Cut(lines.Text(), " ")
		n, err := strconv.ParseUint(strings.TrimPrefix(point, "U+"), 16, 32)
		if err != nil {
			t.Fatalf("%q: %v", lines.Text(), err)
		}
		want, err := hex.DecodeString(septets)
		if err != nil {
			t.Fatalf("%q: %v", lines.Text(), err)
		}
		seen++
		if got, ok := ours[rune(n)]; !ok || got != string(want) {
			t.Errorf("U+%04X: ours %x, theirs %x", n, got, want)
		}
		if got := Segments(string(rune(n))).Units; got != len(want) {
			t.Errorf("U+%04X: %d units, want %d", n, got, len(want))
		}
	}
	// 127 characters of the basic table and 10 of the extension.
	if seen != 137 || len(ours) != seen {
		t.Errorf("their table has %d characters, ours %d, want 137", seen, len(ours))
	}
}

func TestPlain(t *testing.T) {
	in := "\u201cDon\u2019t rush\u201d \u2013 rest\u2014now\u2026\u00a0ok\tthen\u200b"
	want := `"Don't rush" - rest-now... ok then`
	got := Plain(in)
	if got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if c := Segments(got); c.Encoding != GSM7 {
		t.Errorf("still %s because of %q", c.Encoding, string(c.Outside))
	}
	for _, keep := range []string{"año, después", "a\r\nb", "👍", "€ [x]"} {
		if got := Plain(keep); got != keep {
			t.Errorf("%q became %q", keep, got)
		}
	}
}

func FuzzSegments(f *testing.F) {
	f.Add("hello €")
	f.Add(strings.Repeat("😀", 40))
	f.Fuzz(func(t *testing.T, text string) {
		c := Segments(text)
		single, part := gsmSingle, gsmPart
		if c.Encoding == UCS2 {
			single, part = ucsSingle, ucsPart
		}
		least := (c.Units + part - 1) / part
		if c.Units <= single {
			least = min(c.Units, 1)
		}
		// What takes two units leaves at most one unit of a segment empty.
		most := max(least, (c.Units+part-2)/(part-1))
		if c.Segments < least || c.Segments > most {
			t.Errorf("%d units in %d segments of %s", c.Units, c.Segments, c.Encoding)
		}
		if (len(c.Outside) == 0) != (c.Encoding == GSM7) {
			t.Errorf("%s with %d outside", c.Encoding, len(c.Outside))
		}
	})
}
