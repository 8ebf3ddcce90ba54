//go:build proof

package templates

import (
	"io/fs"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"stepgate/rules/reply"
)

// spanishLists are the open word lists of Spanish as it is written in the United
// States and in Mexico (Debian: hunspell-es, from the RLA-ES project). A word
// is right that one of them knows.
var spanishLists = "es_US,es_MX"

// unlisted gives the words of a text that the lists lack. The lists hold words
// with their accents, so that a forgotten accent is found too.
func unlisted(t *testing.T, words []string) []string {
	t.Helper()
	cmd := exec.Command("hunspell", "-i", "utf-8", "-d", spanishLists, "-l")
	cmd.Stdin = strings.NewReader(strings.Join(words, "\n"))
	out, err := cmd.CombinedOutput()
	if err != nil || strings.Contains(string(out), "Can't open") {
		t.Fatalf("the word lists can't be read (Debian: hunspell hunspell-es): %v\n%s", err, out)
	}
	list := strings.Fields(string(out))
	slices.Sort(list)
	return slices.Compact(list)
}

var spanishWord = regexp.MustCompile(`\p{L}+`)

// phoneSpanish are the words of reply.yaml that no list has: what is written on
// phones and no dictionary allows, words of the region, and the carriers'
// English.
var phoneSpanish = strings.Fields(`
	agujitas am auch bórrenme cardiaco ceis ciete cuatr desuscribir desuscribirme desuscríbanme dies doc dolorcito
	dr dra elimínenme h hábleme háblenme help hormiguitas hr hrs hs info jaja jajaja kg lb min mins márcame márqueme márquenme ok
	okay okey oki piquetitos please pm porfa porfavor puntitas quíteme quítenme regrésenme remucho rojita rojito seg sem sinco sip
	spam start stop stopall talvez thanks trac truenido tvp unstop unsubscribe x zero`)

// TestProofSpanishWords holds every word of the Spanish vocabulary against open
// word lists. It needs hunspell with its Spanish lists (Debian: hunspell
// hunspell-es).
func TestProofSpanishWords(t *testing.T) {
	if got := unlisted(t, []string{"rodilla", "dolió", "dolio", "pantorrilla", "tobilo"}); !slices.Equal(got, []string{"dolio", "tobilo"}) {
		t.Fatalf("the check itself finds %q", got)
	}
	v, err := Vocabulary("es")
	if err != nil {
		t.Fatal(err)
	}
	words := vocabularyWords(v)
	if len(words) < 800 {
		t.Fatalf("only %d words", len(words))
	}
	bad := unlisted(t, words)
	for _, w := range bad {
		if !slices.Contains(phoneSpanish, w) {
			t.Errorf("no list has %q", w)
		}
	}
	for _, w := range phoneSpanish {
		if !slices.Contains(bad, w) {
			t.Errorf("%q stands among the words of phones; it is a usual one, or not in reply.yaml", w)
		}
	}
	t.Logf("%d words, %d of them of phones", len(words), len(phoneSpanish))
}

// vocabularyWords are the words a vocabulary looks for, but for those of its
// English keywords. What "same as" replaces is misspelled on purpose.
func vocabularyWords(v *reply.Vocabulary) []string {
	r, a, n, s, k := v.Report, v.Around, v.Negation, v.Sense, v.Keywords
	lists := [][]string{r.Done, r.Did, r.Some, r.Part, r.None, r.Pain, r.NoPain, r.First, r.Skin, r.SkinOK, r.Wear, r.NotWorn,
		r.How, r.Away, r.Call, r.Left, r.Right, a.Scale, a.To, a.Or, a.Half, a.More, a.Minutes, a.Hours, a.Days, a.Weeks, a.Times,
		a.Counts, a.TimeAt, a.Before, n.No, n.NoBridge, n.Not, n.NotBridge, n.Unable, n.Doubt, n.Limit, n.But, n.Except, n.Gone,
		n.Future, n.Past, s.Filler, s.Ignore, s.Light, s.Polite, k.Stop, k.StopPhrase, k.StopUnclear, k.NotStop, k.Start, k.Help,
		v.Wrong, v.Died}
	for _, d := range v.RedFlags {
		lists = append(lists, d.Words, d.Verbs, d.Not)
	}
	for _, x := range v.Strong {
		lists = append(lists, x.Words, x.Alone, x.Not)
	}
	for p := range v.Numbers {
		lists = append(lists, []string{p})
	}
	for _, p := range v.SameAs {
		lists = append(lists, []string{p})
	}
	var out []string
	for _, p := range slices.Concat(lists...) {
		out = append(out, spanishWord.FindAllString(strings.ToLower(p), -1)...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// clinicSpanish are the words of the templates that no list has: names, keywords
// and commands, which stay as they are, and verbs with a pronoun.
var clinicSpanish = strings.Fields(`Corríjalo Farrar JT Pain Quíteselas START STOP Stepgate Sujétese all back check confirm contact corríjalo
	explain release respóndalo review seen stepgate wear`)

// TestProofSpanishTexts holds every word that people read in Spanish against the
// same lists, accents and all.
func TestProofSpanishTexts(t *testing.T) {
	var words []string
	add := func(text string) { words = append(words, spanishWord.FindAllString(text, -1)...) }
	markup := regexp.MustCompile(`(?s)\{\{.*?\}\}|<style>.*?</style>|<[^>]*>|&\w+;|\b[a-z-]+: ?[^;\n]*px;.*|border:0;.*|display:inline-block.*`)
	files, err := fs.Glob(embedded, "es/*.tmpl")
	if err != nil || len(files) < 9 {
		t.Fatalf("%q, %v", files, err)
	}
	for _, f := range files {
		b, err := fs.ReadFile(embedded, f)
		if err != nil {
			t.Fatal(err)
		}
		add(markup.ReplaceAllString(string(b), " "))
	}
	all, err := reportPhrases()
	if err != nil {
		t.Fatal(err)
	}
	filling := regexp.MustCompile(`\{.*?\}`)
	for _, p := range all["es"] {
		add(filling.ReplaceAllString(p.One+" "+p.Many, " "))
	}
	l := newSet(t).in("es")
	for _, list := range []map[string]string{l.words.Needs, l.words.Dangers} {
		for _, said := range list {
			add(said)
		}
	}
	for _, name := range starterNames(t) {
		prog, _ := loadStarter(t, name, "")
		add(prog.Title["es"])
		for _, x := range prog.Exercises {
			add(strings.Join([]string{x.Name["es"], x.How["es"], x.Easier["es"], x.Care["es"], x.Why["es"]}, " "))
		}
	}
	if len(words) < 3000 {
		t.Fatalf("only %d words", len(words))
	}
	bad := unlisted(t, words)
	for _, w := range bad {
		if utf8.RuneCountInString(w) > 1 && !slices.Contains(clinicSpanish, w) {
			t.Errorf("no list has %q", w)
		}
	}
	for _, w := range clinicSpanish {
		if !slices.Contains(bad, w) {
			t.Errorf("%q stands among the names; it is a usual word, or in no text", w)
		}
	}
	t.Logf("%d words", len(words))
}
