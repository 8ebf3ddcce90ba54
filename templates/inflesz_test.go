package templates

import (
	"io/fs"
	"math"
	"strings"
	"testing"

	"stepgate/rules"
)

// inflesz is the perspicuity of a Spanish text, 206.835 - 62.3 syllables/words -
// words/sentences: Szigriszt Pazos F, Universidad Complutense de Madrid, 1993.
// How it is read is the INFLESZ scale, made for texts to patients: Barrio-Cantalejo
// IM et al., An Sist Sanit Navar 2008;31(2):135-152: under 40 very hard, 40 to 55
// somewhat hard, 55 to 65 normal, 65 to 80 fairly easy, over 80 very easy.
func inflesz(words, sentences, syllables int) float64 {
	return 206.835 - 62.3*float64(syllables)/float64(words) - float64(words)/float64(sentences)
}

// fairlyEasy is the least a text to a patient may have.
const fairlyEasy = 65

func TestInflesz(t *testing.T) {
	// By hand: 206.835 - 62.3 x 2 - 10 = 72.235.
	if got := inflesz(20, 2, 40); math.Abs(got-72.235) > 0.001 {
		t.Errorf("inflesz(20, 2, 40) = %.3f, want 72.235", got)
	}
	// By hand: us-te-des-can-se hoy / ma-ña-na ha-ga dos se-ries de diez.
	w, s, y := count(spanishSyllables, "Usted descanse hoy. Mañana haga 2 series de 10.")
	if w != 9 || s != 2 || y != 16 {
		t.Errorf("counted %d words, %d sentences, %d syllables; want 9, 2, 16", w, s, y)
	}
	hard := "La prescripción terapéutica individualizada contempla incrementos progresivos condicionados por la sintomatología."
	if got := inflesz(count(spanishSyllables, hard)); got >= 40 {
		t.Errorf("a very hard sentence has %.1f", got)
	}
}

// Syllables as a dictionary divides the words, by hand.
func TestSpanishSyllables(t *testing.T) {
	for word, want := range map[string]int{
		"pie": 1, "pies": 1, "día": 2, "días": 2, "hoy": 1, "muy": 1, "y": 1, "peor": 2, "talón": 2, "dolor": 2, "país": 2, "buey": 1,
		"ciudad": 2, "guía": 2, "leer": 2, "que": 1, "quítese": 3, "siguiente": 3, "averigüe": 4, "oeste": 3, "aéreo": 4, "ahora": 3,
		"cuántas": 2, "plantillas": 3, "clínica": 3, "ejercicios": 4, "pantorrilla": 4, "emergencia": 4, "urgencias": 3,
		"respuestas": 3, "levántelo": 4, "uruguay": 3, "enviéis": 2, "agüita": 3, "cuídese": 3, "construido": 3, "oír": 2,
		"ampolla": 3, "¿cuánto": 2, "0-10": 3, "2": 1, "7": 2, "20": 2, "16": 3, "28": 3, "45": 6, "202": 1,
	} {
		if got := spanishSyllables(word); got != want {
			t.Errorf("spanishSyllables(%q) = %d, want %d", word, got, want)
		}
	}
}

var (
	spanishUnits = strings.Fields("cero uno dos tres cuatro cinco seis siete ocho nueve diez once doce trece catorce quince " +
		"dieciséis diecisiete dieciocho diecinueve veinte veintiuno veintidós veintitrés veinticuatro veinticinco veintiséis " +
		"veintisiete veintiocho veintinueve")
	spanishTens = strings.Fields("treinta cuarenta cincuenta sesenta setenta ochenta noventa")
)

// spanishSyllables counts the syllables of one word. A number up to 99 counts as
// it is spoken; a longer one is dialed and not read, and counts as one.
func spanishSyllables(word string) int {
	n := 0
	for _, part := range strings.FieldsFunc(strings.ToLower(word), func(r rune) bool { return strings.ContainsRune("-/.,:;?!¿¡()\"'", r) }) {
		if !numberWord.MatchString(part) {
			n += vowelGroups(part)
			continue
		}
		v := 0
		for _, r := range part {
			v = v*10 + int(r-'0')
		}
		switch {
		case len(part) > 2:
			n++
		case v < 30:
			n += vowelGroups(spanishUnits[v])
		case v%10 == 0:
			n += vowelGroups(spanishTens[v/10-3])
		default:
			n += vowelGroups(spanishTens[v/10-3]) + 1 + vowelGroups(spanishUnits[v%10])
		}
	}
	return n
}

// vowelGroups counts the syllables of a word by its vowels. Two strong ones (a,
// e, o, and an i or u with an accent) stand in two syllables, a weak one joins its
// neighbor. The u of que, qui, gue and gui is silent, and a y at the end is an i.
func vowelGroups(w string) int {
	rs := []rune(w)
	n, before := 0, ' ' // the vowel before: s strong, w weak
	for i, r := range rs {
		kind := ' '
		switch {
		case strings.ContainsRune("aeoáéóíú", r):
			kind = 's'
		case r == 'u' && i > 0 && i+1 < len(rs) && strings.ContainsRune("qg", rs[i-1]) && strings.ContainsRune("eiéí", rs[i+1]):
		case strings.ContainsRune("iuü", r), r == 'y' && i == len(rs)-1:
			kind = 'w'
		}
		if kind != ' ' && (before == ' ' || before == 's' && kind == 's') {
			n++
		}
		before = kind
	}
	return n
}

// Every text to a patient is fairly easy or easier.
func TestSpanishReadingLevel(t *testing.T) {
	worst, which := 999.0, ""
	for _, s := range spanishSamples(t) {
		if s.team {
			continue
		}
		got := inflesz(count(spanishSyllables, s.msg.Text))
		if got < fairlyEasy {
			t.Errorf("%s has %.1f, want at least %d:\n%s", s.name, got, fairlyEasy, s.msg.Text)
		}
		if got < worst {
			worst, which = got, s.name
		}
	}
	t.Logf("the hardest text is %s, INFLESZ %.1f", which, worst)
}

// The starters say everything in Spanish too, and it reads as easily; their
// texts stay within two segments, three where the first or a caution adds lines.
func TestSpanishStarters(t *testing.T) {
	s := newSet(t)
	worst, which := 999.0, ""
	easy := func(what, text string) {
		got := inflesz(count(spanishSyllables, text))
		if got < fairlyEasy {
			t.Errorf("%s has %.1f, want at least %d: %s", what, got, fairlyEasy, text)
		}
		if got < worst {
			worst, which = got, what
		}
	}
	for _, name := range starterNames(t) {
		for _, who := range starterPeople {
			prog, e := loadStarter(t, name, who.lines)
			if prog.Title["es"] == "" {
				t.Errorf("%s has no Spanish title", name)
			}
			p := Patient{Name: e.Name, Language: "es", Affected: e.Affected, TextOnly: true}
			if e.Proxy != nil {
				p.Proxy = e.Proxy.Name
			}
			for _, d := range starterDays(prog, &e.Enrollment, func(int) int { return 1 }) {
				if !d.Send {
					continue
				}
				text := s.Daily(harbor, p, prog, d).Text
				most := max(who.most, 2)
				if d.First || len(d.Doses) == 3 { // Spanish takes more room; check tells the clinic
					most = max(most, 3, who.first)
					if d.First && d.Support {
						most = 4
					}
				}
				if n, bad := smsSize(text); bad != "" || segments(n) > most {
					t.Errorf("%s, %s, day %d: %d segments, want at most %d; %q is not GSM-7:\n%s", name, who.name, d.Day, segments(n), most, bad, text)
				}
				p.TextOnly = false
				easy(name, s.Daily(harbor, p, prog, d).Text)
				p.TextOnly = true
			}
		}
		prog, _ := loadStarter(t, name, "")
		for id, ex := range prog.Exercises {
			for what, text := range map[string]rules.Text{"name": ex.Name, "how": ex.How, "easier": ex.Easier, "care": ex.Care, "why": ex.Why} {
				switch said := text["es"]; {
				case said == "" || said == text["en"]:
					t.Errorf("%s: %s has no %s in Spanish", name, id, what)
				case what == "how": // names and single lines are too short to be measured
					easy(name+" "+id, said)
				}
			}
			for _, n := range ex.Needs {
				if s.in("es").words.Needs[n] == "" {
					t.Errorf("%s: no Spanish for what %s needs: %s", name, id, n)
				}
			}
		}
	}
	t.Logf("the hardest is %s, INFLESZ %.1f", which, worst)
}

// What the texts and the vocabulary leave to words.yaml is all there.
func TestSpanishNamesOfSigns(t *testing.T) {
	en, err := Vocabulary("en")
	if err != nil {
		t.Fatal(err)
	}
	es, err := Vocabulary("es")
	if err != nil {
		t.Fatal(err)
	}
	tiers := map[string]rules.Urgency{}
	for _, d := range en.RedFlags {
		tiers[d.Name] = d.Tier
	}
	l := newSet(t).in("es")
	for _, d := range es.RedFlags {
		if tier, ok := tiers[d.Name]; !ok || tier != d.Tier {
			t.Errorf("%s: tier %s in Spanish, %q in English", d.Name, d.Tier, tier)
		}
		delete(tiers, d.Name)
		if l.words.Dangers[d.Name] == "" {
			t.Errorf("no Spanish name for %s", d.Name)
		}
	}
	for name := range tiers {
		t.Errorf("the Spanish vocabulary lacks %s", name)
	}
	if _, err := fs.Stat(embedded, "es/"+replyFile); err != nil {
		t.Error(err)
	}
}
