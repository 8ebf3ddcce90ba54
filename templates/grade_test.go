package templates

import (
	"math"
	"regexp"
	"strings"
	"testing"
)

// grade is the Flesch-Kincaid grade, 0.39 words/sentences + 11.8
// syllables/words - 15.59: Kincaid JP et al., 1975.
func grade(words, sentences, syllables int) float64 {
	return 0.39*float64(words)/float64(sentences) + 11.8*float64(syllables)/float64(words) - 15.59
}

// One sentence of 13 words and 24 syllables is of grade 11.3 (worked example
// to the formula above). That the sentence is this one is from memory; here
// it checks the counting.
func TestGradeWorkedExample(t *testing.T) {
	if g := grade(13, 1, 24); math.Abs(g-11.3) > 0.05 {
		t.Errorf("grade(13, 1, 24) = %.2f, want 11.3", g)
	}
	w, s, y := count(syllables, "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.")
	if w != 13 || s != 1 || y != 24 {
		t.Errorf("counted %d words, %d sentences, %d syllables; want 13, 1, 24", w, s, y)
	}
}

// Syllables as a dictionary divides the words our texts use most.
func TestSyllables(t *testing.T) {
	for word, want := range map[string]int{
		"exercises": 4, "exercise": 3, "inserts": 2, "emergency": 4, "today": 2, "noted": 2, "stopped": 1,
		"noted.": 2, "2": 1, "7": 2, "11": 3, "20": 2, "0-10": 3, "minutes": 2, "hours": 2, "please": 1,
		"clinic": 2, "urgent": 2, "care": 1, "worried": 2, "little": 2, "leave": 1, "blister": 2,
	} {
		if got := syllables(word); got != want {
			t.Errorf("syllables(%q) = %d, want %d", word, got, want)
		}
	}
}

// Every text to a patient is at most of grade 6: AMA and NIH advice, in
// Eltorai AE et al. 2014 (PMC4353543).
func TestReadingLevel(t *testing.T) {
	worst, which := -99.0, ""
	for _, s := range samples(t) {
		if s.team {
			continue
		}
		g := grade(count(syllables, s.msg.Text))
		if g > 6 {
			t.Errorf("%s is of grade %.1f, want at most 6:\n%s", s.name, g, s.msg.Text)
		}
		if g > worst {
			worst, which = g, s.name
		}
	}
	t.Logf("the hardest text is %s, grade %.1f", which, worst)
}

// A sentence ends at . ? or ! before a space or the end, and at the end of a
// line. The number and bracket before an exercise in a list count for nothing.
var (
	sentenceEnd = regexp.MustCompile(`[.?!](\s|$)|\n`)
	listMark    = regexp.MustCompile(`(?m)^\d\) `)
)

// count gives the words, sentences and syllables of a text, by a language's way
// of counting the syllables of a word.
func count(syllables func(string) int, text string) (words, sentences, syl int) {
	text = listMark.ReplaceAllString(text, "")
	for _, s := range sentenceEnd.Split(text, -1) {
		n := 0
		for _, w := range strings.Fields(s) {
			if k := syllables(w); k > 0 {
				n++
				syl += k
			}
		}
		if n > 0 {
			sentences++
			words += n
		}
	}
	return words, sentences, syl
}

var (
	numberWord = regexp.MustCompile(`^\d+$`)
	spoken     = []int{2, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 3, 1, 2, 2, 2, 2, 3, 2, 2}
)

// syllables counts the syllables of one word. A number up to 99 counts as it
// is spoken; a longer one, such as a group of a phone number, is dialed and
// not read, and counts as one.
func syllables(word string) int {
	n := 0
	for _, part := range strings.FieldsFunc(strings.ToLower(word), func(r rune) bool { return strings.ContainsRune("-/.,:;?!()\"'", r) }) {
		if numberWord.MatchString(part) {
			n += numberSyllables(part)
		} else {
			n += letterSyllables(part)
		}
	}
	return n
}

func numberSyllables(s string) int {
	v := 0
	for _, r := range s {
		v = v*10 + int(r-'0')
	}
	switch {
	case len(s) > 2:
		return 1
	case v < 20:
		return spoken[v]
	case v%10 == 0 && v != 70:
		return 2
	case v == 70:
		return 3
	case v/10 == 7:
		return 3 + spoken[v%10]
	}
	return 2 + spoken[v%10]
}

// irregular are words the counting of vowel groups gets wrong. An hour counts
// two, the harder of its readings.
var irregular = map[string]int{
	"exercises": 4, "exercise": 3, "hour": 2, "hours": 2, "australian": 3, "reptilian": 3, "creature": 2,
}

// letterSyllables counts groups of vowels, less the silent ones.
func letterSyllables(w string) int {
	if n, ok := irregular[w]; ok {
		return n
	}
	vowel := func(i int) bool { return i >= 0 && i < len(w) && strings.ContainsRune("aeiouy", rune(w[i])) }
	n := 0
	for i := range w {
		if vowel(i) && !vowel(i-1) {
			n++
		}
	}
	last := len(w) - 1
	switch {
	case n > 1 && strings.HasSuffix(w, "ed") && !strings.ContainsAny(w[max(0, last-2):last-1], "td") && !vowel(last-2):
		n--
	case n > 1 && strings.HasSuffix(w, "es") && !strings.ContainsAny(w[max(0, last-2):last-1], "sxzcgh"):
		n--
	case n > 1 && strings.HasSuffix(w, "e") && !vowel(last-1) && !(strings.HasSuffix(w, "le") && !vowel(last-2)):
		n--
	}
	return max(n, 1)
}
