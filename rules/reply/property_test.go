package reply

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"stepgate/rules"
)

var asked = []rules.Question{rules.AskNothing, rules.AskPain, rules.AskPainNow, rules.AskFirstStep}

// fullWidth writes n in full-width digits.
func fullWidth(n int) string {
	return strings.Map(func(r rune) rune { return r + 0xFEE0 }, fmt.Sprint(n))
}

// Every way to write "P n" reads as exactly n, whatever was asked.
func TestEverySpellingOfAScore(t *testing.T) {
	_, r := english(t)
	names := []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	heads := []string{"P", "p", "Pain", "PAIN", "pain was", "pain is about", "my pain today:", "pian", "hurts", "Ｐ",
		"pain level", "foot pain of", "d p", "done. pain", "N, p", "w 3 p", "👍 pain"}
	seps := []string{"", " ", "  ", ": ", " = ", "-", " - ", ":", ". ", "... ", ", "}
	tails := []string{"", ".", "!", " ", " l", " left foot", "/10", " / 10", " out of 10", " out of ten", " today", " 😀",
		" thanks", " d", "\nD", ", wore 2 hours", ".0", " (left)"} // ".0" and " l" follow digits only
	read := func(n int, text string) {
		t.Helper()
		for _, q := range asked {
			if got := r.Read(text, q); got.Pain == nil || *got.Pain != n {
				t.Fatalf("%q asked %q is %+v, want pain %d", text, q, got, n)
			}
		}
	}
	turn := 0 // every tail meets every kind of head, though not every one
	for n := range 11 {
		digits := []string{fmt.Sprint(n), fullWidth(n), fmt.Sprintf("%02d", n)}
		spelled := []string{names[n], strings.ToUpper(names[n])}
		for _, head := range heads {
			for _, sep := range seps {
				for _, form := range append(digits, spelled...) {
					if sep == "" && (!strings.ContainsAny(form, digits[0]+digits[1]) || strings.HasSuffix(head, ":")) {
						continue // "pfour" is no word
					}
					read(n, head+sep+form)
				}
				for _, form := range digits {
					if sep != "" || !strings.HasSuffix(head, ":") {
						read(n, head+sep+form+tails[turn%len(tails)])
						turn++
					}
				}
			}
		}
		for _, tail := range tails {
			for _, form := range digits {
				read(n, "P"+form+tail)
				read(n, "D. Pain was about "+form+tail)
			}
		}
	}
}

// check holds what must be true of the reading of any text at all.
func check(t interface {
	Helper()
	Fatalf(string, ...any)
}, r *Reader, text string, q rules.Question) {
	t.Helper()
	got := r.Read(text, q)
	for _, s := range []*int{got.Pain, got.FirstStep} {
		if s != nil && (*s < 0 || *s > 10) {
			t.Fatalf("%q: score %d", text, *s)
		}
	}
	if got.Wear != nil && (*got.Wear < 0 || *got.Wear > 24) {
		t.Fatalf("%q: %v hours worn", text, *got.Wear)
	}
	if got.Away != nil && *got.Away < 1 || got.How != nil && *got.How < 0 {
		t.Fatalf("%q: %+v", text, got)
	}
	if got.Stop && got.Report() {
		t.Fatalf("%q: both an opt-out and a report: %+v", text, got)
	}
	if got.SkinOK && (got.Skin || got.Unread || len(got.Flags) > 0) {
		t.Fatalf("%q: the skin is fine and more: %+v", text, got)
	}
	if sore := r.Read(text+" b", q); sore.SkinOK {
		t.Fatalf("%q: adding b leaves the skin fine: %+v", text, sore)
	}
	for _, f := range got.Denied {
		if named(got.Flags, f.Name) {
			t.Fatalf("%q: %s both plain and denied", text, f.Name)
		}
	}
	more := r.Read(text+" p9", q)
	if more.Pain == nil || *more.Pain < 9 || got.Pain != nil && *more.Pain < *got.Pain {
		t.Fatalf("%q: adding p9 gives %+v", text, more)
	}
	for i, skin := range r.skins {
		if skin && named(got.Flags, r.signs[i].Name) && !got.Skin {
			t.Fatalf("%q: %s is no skin complaint: %+v", text, r.signs[i].Name, got)
		}
	}
	for _, f := range got.Flags {
		if !named(more.Flags, f.Name) {
			t.Fatalf("%q: adding p9 loses %s", text, f.Name)
		}
	}
}

// Texts thrown together from what patients write keep the same promises.
func TestAnyText(t *testing.T) {
	v, r := english(t)
	var words []string
	for _, l := range [][]string{
		v.Report.Done, v.Report.Did, v.Report.Some, v.Report.None, v.Report.Pain, v.Report.NoPain, v.Report.First,
		v.Report.Skin, v.Report.SkinOK, v.Report.Wear, v.Report.How, v.Report.Away, v.Report.Call, v.Around.Hours, v.Around.Days,
		v.Around.Times, v.Around.TimeAt, v.Around.More, v.Around.Counts, v.Around.Before, v.Negation.No,
		v.Negation.Not, v.Negation.Doubt, v.Negation.But, v.Sense.Filler, v.Sense.Ignore, v.Keywords.Stop,
		v.Keywords.StopPhrase, v.Keywords.StopUnclear, v.Keywords.NotStop, v.Common.Stop, v.Common.StopUnclear, v.Signature, v.Wrong,
		{"d", "s", "n", "p", "f", "b", "k", "w", "h", "a", "c", "l", "r", "0", "1", "3", "5", "10", "11", "45", "3.5", "7:30", "3/10",
			"2/3", "4-5", "-", "+", "/", ",", ".", "?", "\n", "<", "#", "'", `"`, "👍", "xyzzy", "seven", "twenty", "555", "0147",
			"Liked", "Liked \"x\"", "3,5", ".5", "1o", "½", "out of"},
		v.Died, v.Negation.Except, v.Negation.Gone, v.Sense.Light, v.Negation.Limit,
	} {
		words = append(words, l...)
	}
	for _, d := range v.RedFlags {
		words = append(words, d.Words...)
		words = append(words, d.Verbs...)
	}
	for _, s := range v.Strong {
		words = append(words, s.Words...)
		words = append(words, s.Alone...)
		words = append(words, s.Not...)
	}
	rapid.Check(t, func(rt *rapid.T) {
		parts := rapid.SliceOfN(rapid.SampledFrom(words), 0, 8).Draw(rt, "parts")
		glue := rapid.SampledFrom([]string{" ", " ", " ", "", ", ", ". "}).Draw(rt, "glue")
		q := rapid.SampledFrom(asked).Draw(rt, "asked")
		check(rt, r, strings.Join(parts, glue), q)
	})
}

func FuzzRead(f *testing.F) {
	_, r := english(f)
	for _, s := range []string{
		"", "D P3", "p 4-5", "STOP", "no chest pain", "had to stop, it hurt", "Liked “x”", "call me at 5", "P３",
		"3½", "\xff\xfe", "👍🏽", "1,000", "7:30", "555-0147", "pain twenty five", "calf ... hot", "-3", "p1o",
		"STOP\nSent from my phone", "S T O P 3", "CANCEL pain 5", "D 2, alto", "停止",
	} {
		f.Add(s, uint8(1))
	}
	f.Fuzz(func(t *testing.T, s string, q uint8) {
		if len(s) > 2000 {
			s = s[:2000]
		}
		check(t, r, s, asked[int(q)%len(asked)])
	})
}

func BenchmarkRead(b *testing.B) {
	_, r := english(b)
	for b.Loop() {
		r.Read("Hi, did all exercises today, pain about a 3 in the morning then 5 after work. Wore them 4 hours", rules.AskPain)
	}
}
