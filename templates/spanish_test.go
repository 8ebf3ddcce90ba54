package templates

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

// inSpanish is the sample program with its words in Spanish.
func inSpanish() *rules.Program {
	p := sampleProgram()
	for id, words := range map[string][4]string{
		"calf-straight": {"Estirar pantorrilla, rodilla recta", "Párese frente a una pared y ponga las dos manos en ella. " +
			"Lleve un pie hacia atrás y deje esa rodilla recta. Inclínese hasta sentir que se estira la pantorrilla.",
			"Párese un poco más cerca de la pared.", "Deje el talón abajo."},
		"calf-bent": {"Estirar pantorrilla, rodilla doblada", "Párese como en el primero. Ahora doble un poco la rodilla de atrás " +
			"y deje el talón en el piso.", "Doble menos.", ""},
		"toe-pull": {"Jalar los dedos", "Siéntese y cruce un pie sobre la otra rodilla. Jale los dedos hacia la espinilla hasta sentir " +
			"que se estira el arco.", "", "Jale despacio."},
		"heel-raise": {"Subir el talón en un escalón", "Párese en un escalón con la parte de adelante de los pies. Suba despacio y " +
			"luego baje los talones despacio.", "Use las dos piernas.", "Agárrese de una baranda."},
		"band-out": {"Liga hacia afuera", "Pase una liga por los dos pies. Gire un pie hacia afuera contra la liga.", "", ""},
		"towel":    {"Arrugar la toalla", "Ponga una toalla en el piso. Jálela con los dedos del pie.", "", ""},
	} {
		x := p.Exercises[id]
		x.Name, x.How, x.Easier, x.Care = es(words[0]), es(words[1]), es(words[2]), es(words[3])
	}
	p.Exercises["calf-bent"].Forms["toes-in"] = es("dedos hacia adentro")
	p.Exercises["heel-raise"].Why = es("Hace fuertes la pantorrilla y el arco")
	return p
}

func es(s string) rules.Text { return rules.Text{"es": s} }

// spanish is a patient, or who gets the texts for one, in Spanish.
func spanish(p Patient) Patient {
	p.Language = "es"
	return p
}

// wider are the days whose Spanish takes a segment more: three exercises that
// share nothing, three with long names by proxy, and a first text by proxy.
var wider = map[string]int{"mixed-wear": 3, "proxy-short": 3, "first-proxy-two": 4}

// spanishSamples are the messages of [samples] in Spanish, as mails: .Text keeps
// its accents.
func spanishSamples(t testing.TB) []sample { return spanishAs(t, false) }

func spanishAs(t testing.TB, sms bool) []sample {
	s := newSet(t)
	var out []sample
	clinic := harbor
	clinic.Hours = "lun-vie 9-5"
	for _, d := range dailySamples() {
		p := spanish(d.who())
		p.TextOnly = sms
		for i := range d.dec.Doses {
			if len(d.dec.Doses[i].Load) > 0 {
				d.dec.Doses = slices.Clone(d.dec.Doses)
				d.dec.Doses[i].Load = es("una mochila con libros")
			}
		}
		out = append(out, sample{name: "daily-" + d.name, msg: s.Daily(clinic, p, inSpanish(), d.dec), max: max(2, d.max, wider[d.name])})
	}
	for name, p := range map[string]Patient{"visit": ana, "visit-proxy": byProxy} {
		p = spanish(p)
		p.TextOnly = sms
		out = append(out, sample{name: name, msg: s.Visit(clinic, p, monday+1), max: 1},
			sample{name: strings.Replace(name, "visit", "paused", 1), msg: s.StillPaused(clinic, p, monday), max: 2})
	}
	for _, a := range answerSamples() {
		p := spanish(ana)
		p.TextOnly = sms
		for i := range a.data.Due {
			if len(a.data.Due[i].Load) > 0 {
				a.data.Due = slices.Clone(a.data.Due)
				a.data.Due[i].Load = es("una mochila con libros")
			}
		}
		out = append(out, sample{name: "answer-" + a.name, msg: s.Answer(clinic, p, inSpanish(), a.data), max: max(2, a.max)})
	}
	for _, a := range alertSamples() {
		a.data.Language = "es"
		out = append(out, sample{name: "alert-" + a.name, msg: s.Alert(clinic, a.data), team: true})
	}
	return out
}

// Every message in Spanish: as texts, and the text of the mails to clinicians.
func TestGoldenSpanish(t *testing.T) {
	for _, s := range spanishAs(t, true) {
		dir := "sms"
		if s.team {
			dir = "mail"
		}
		golden(t, filepath.Join("es", dir, s.name+".txt"), s.msg.Text+"\n")
	}
	words := newSet(t)
	var b strings.Builder
	for _, c := range codes {
		fmt.Fprintf(&b, "%-12s %s\n", c, words.Why("es", rules.Reason{Code: c, Since: monday, Have: 1, Need: 2, By: "J. Marlowe"}))
	}
	golden(t, filepath.Join("es", "why.txt"), b.String())
}

// A text takes two segments at most, three or four where the English one may,
// and loses nothing but accents.
func TestSpanishTextsFitTheirSegments(t *testing.T) {
	mails, total, two := map[string]string{}, 0, 0
	for _, s := range spanishSamples(t) {
		mails[s.name] = s.msg.Text
	}
	for _, s := range spanishAs(t, true) {
		if s.team {
			continue
		}
		n, bad := smsSize(s.msg.Text)
		if bad != "" || segments(n) > s.max {
			t.Errorf("%s takes %d septets, %d segments, want at most %d; %s is outside the alphabet:\n%s", s.name, n, segments(n), s.max, bad, s.msg.Text)
		}
		total++
		if segments(n) > 1 {
			two++
		}
		if plain, lost := fold(mails[s.name]); lost || plain != s.msg.Text && !strings.HasPrefix(s.name, "answer-how") {
			t.Errorf("%s: the text differs from the mail by more than accents:\n%s\n%s", s.name, s.msg.Text, mails[s.name])
		}
	}
	t.Logf("%d texts, %d of them longer than one segment", total, two)
}

// A text drops the acute accents that GSM-7 lacks, and keeps é, ñ, ü, ¿ and ¡; a
// mail and a page keep them all, and so does a text where the clinic says so,
// which then is short enough in the other alphabet.
func TestSpanishAccents(t *testing.T) {
	s, p := newSet(t), spanish(ana)
	p.Name = "Íñigo"
	dec := rules.Decision{Date: monday, Wear: 3600e9, WearNow: true, Rest: true, Ask: rules.AskPainNow}
	mail := s.Daily(harbor, p, inSpanish(), dec)
	p.TextOnly = true
	sms := s.Daily(harbor, p, inSpanish(), dec).Text
	kept := harbor
	kept.Accents = true
	whole := s.Daily(kept, p, inSpanish(), dec).Text
	for _, c := range []struct{ what, text, want, not string }{
		{"a text", sms, "Iñigo", "Íñigo"}, {"a text", sms, "Dia de", "Día"}, {"a text", sms, "¿Cuanto", "á"},
		{"a text that keeps them", whole, "Íñigo", "Iñigo"}, {"a text that keeps them", whole, "Día de", "Dia"},
		{"a mail", mail.Text, "Hola, Íñigo", "Iñigo"}, {"a mail", mail.HTML, "Día de", "Dia"},
	} {
		if !strings.Contains(c.text, c.want) || strings.Contains(c.text, c.not) {
			t.Errorf("%s lacks %q or holds %q:\n%s", c.what, c.want, c.not, c.text)
		}
	}
	if h := (hand{accents: true}); h.segments(whole) < 2 || h.segments(sms) != 1 {
		t.Errorf("%d segments with accents, %d without", h.segments(whole), h.segments(sms))
	}
	for n, want := range map[int]int{70: 1, 71: 2, 134: 2, 135: 3} { // 3GPP TS 23.040, as in package notify
		if got := (hand{accents: true}).segments(strings.Repeat("á", n)); got != want {
			t.Errorf("%d accents take %d segments, want %d", n, got, want)
		}
	}
	if out, lost := (hand{accents: true}).write("\u201cs\u00ed\u201d \u2013 a\u0301\u200b"); out != `"sí" - á` || lost {
		t.Errorf("%q, %v", out, lost)
	}
	long := rules.Decision{Date: monday, Doses: threeDue, Ask: rules.AskPain, Wear: 3600e9, WearNow: true}
	if a, b := s.Daily(kept, p, inSpanish(), long).Text, s.Daily(harbor, p, inSpanish(), long).Text; (hand{accents: true}).segments(a) <= segments(size(b)) {
		t.Error("accents cost nothing")
	}
}

// Jargon, shorthand and diagnoses, and words of English left behind.
var forbiddenSpanish = regexp.MustCompile(`(?i)\b(repeticion(es)?|dosis|puntuaci[oó]n|sesion(es)?|tempo|diagn[oó]stic\w*|fasci\w*|tendin\w*|neuropat\w*|` +
	`diabet\w*|[oó]rtesis|ortopédic\w*|adherencia|paciente|cumplimiento|umbral|t[uú]s?|tus|vos|vosotros|tienes|puedes|haz|llama|env[ií]a)\b|\bRM\b|\d ?[x*] ?\d|` +
	`\b(the|your|you|today|pain|call|and|of|with|leg|day|days|times|hold)\b`)

func TestSpanishForbiddenWords(t *testing.T) {
	for _, bad := range []string{"3 x 10", "10 repeticiones", "your pain", "llama a tu clínica", "8RM, RM"} {
		if !forbiddenSpanish.MatchString(bad) {
			t.Errorf("the check itself misses %q", bad)
		}
	}
	for _, s := range spanishSamples(t) {
		if s.team {
			continue
		}
		for _, shown := range []string{s.msg.Text, s.msg.Subject, visible(s.msg.HTML)} {
			if w := forbiddenSpanish.FindString(shown); w != "" {
				t.Errorf("%s says %q:\n%s", s.name, w, shown)
			}
		}
	}
}

// Every letter that a text to a patient names means that in reply.yaml, and every
// letter of reply.yaml is named.
func TestSpanishLettersMeanWhatTheTextsSay(t *testing.T) {
	v, err := Vocabulary("es")
	if err != nil {
		t.Fatal(err)
	}
	l := v.Letters
	patterns := map[*regexp.Regexp]string{}
	for pattern, letter := range map[string]string{
		`(?:Al terminar envíe|Luego:) (\w)\b`: l.Done, `como (\w) 2\.`: l.Done, `Envíe así: (\w)2\.`: l.First, `¿Bien\? Agregue (\w)\.`: l.SkinOK,
		`marca\? Agregue (\w)\.`: l.Skin, `Envíe (\w) cada día hasta que la piel`: l.Skin, `\b(\w) \d para `: l.How,
		`(\w) \(todo\)`: l.Done, `(\w) \(un poco\)`: l.Some, `(\w) \(nada\)`: l.None, `(\w) \(piel bien\)`: l.SkinOK,
		`(\w) todo,`: l.Done, ` (\w) un poco,`: l.Some, ` (\w) nada,`: l.None, ` (\w) 0-10 dolor,`: l.Pain,
		` (\w) 0-10 primeros pasos,`: l.First, ` (\w) roce o ampolla,`: l.Skin, ` (\w) piel bien,`: l.SkinOK, ` (\w) horas de uso,`: l.Wear,
		` (\w) explicar,`: l.How, ` (\w) días ausente,`: l.Away, ` (\w) contácteme,`: l.Call,
	} {
		patterns[regexp.MustCompile(pattern)] = letter
	}
	lone, named, used := regexp.MustCompile(`(^|[^\p{L}])[A-Z]\d?([^\p{L}\d]|$)`), map[string]bool{}, map[*regexp.Regexp]bool{}
	for _, s := range spanishSamples(t) {
		if s.team {
			continue
		}
		rest := s.msg.Text
		for re, letter := range patterns {
			for _, m := range re.FindAllStringSubmatch(rest, -1) {
				used[re], named[m[1]] = true, true
				if !strings.EqualFold(m[1], letter) {
					t.Errorf("%s says %q; in reply.yaml that is %q", s.name, m[0], letter)
				}
			}
			rest = re.ReplaceAllString(rest, "")
		}
		rest, _ = fold(rest) // so that the word boundaries of the pattern see letters
		if m := lone.FindString(rest); m != "" {
			t.Errorf("%s names the letter %q in a way this test does not know:\n%s", s.name, m, s.msg.Text)
		}
	}
	for re := range patterns {
		if !used[re] {
			t.Errorf("no text says %s", re)
		}
	}
	if len(named) != len("TUNDMRVZEAC") {
		t.Errorf("the texts name %d letters: %v", len(named), named)
	}
}

var (
	openSpanish  = regexp.MustCompile(`(?i)\b(cuánto|cuál|cómo|qué|cuándo)\b`)
	todoSpanish  = regexp.MustCompile(`^(Agregue|Llame|Llámenos|Pare|Envíe)\b`)
	yesNoSpanish = regexp.MustCompile(`(?i)^¿(le|ha|es|puede|quiere|tiene|hizo|va|seguimos)\b`)
)

// No question takes a bare sí, which says too little, nor a stop word.
func TestNoSpanishQuestionTakesAYes(t *testing.T) {
	closed := func(text string) string {
		all := sentences.FindAllString(text, -1)
		for i, s := range all {
			s = strings.TrimSpace(s)
			if !strings.HasSuffix(s, "?") || openSpanish.MatchString(s) {
				continue
			}
			if i+1 == len(all) || yesNoSpanish.MatchString(s) || !todoSpanish.MatchString(strings.TrimSpace(all[i+1])) {
				return s
			}
		}
		return ""
	}
	for _, bad := range []string{"¿Le duele? Envíe 0.", "¿Terminar el plan?", "¿Bien? Gracias."} {
		if closed(bad) == "" {
			t.Errorf("the check itself misses %q", bad)
		}
	}
	for _, s := range spanishSamples(t) {
		if q := closed(s.msg.Text); !s.team && q != "" {
			t.Errorf("%s asks %q", s.name, q)
		}
	}
}

// Nothing is left in English: but for what holds no words, no template of a
// language says the same as the English one.
func TestEveryTemplateIsTranslated(t *testing.T) {
	s := newSet(t)
	action := regexp.MustCompile(`(?s)\{\{.*?\}\}|<[^>]*>|\.page.*?\}|&\w+;`)
	for _, lang := range s.Languages() {
		if lang == fallback {
			continue
		}
		for _, tmpl := range s.langs[lang].text.Templates() {
			english := s.langs[fallback].text.Lookup(tmpl.Name())
			if english == nil || tmpl.Tree == nil || strings.HasPrefix(tmpl.Name(), "alerts/head") {
				continue
			}
			mine := strings.TrimSpace(action.ReplaceAllString(tmpl.Root.String(), ""))
			if mine == strings.TrimSpace(action.ReplaceAllString(english.Root.String(), "")) && regexp.MustCompile(`[A-Za-z]{3}`).MatchString(strings.ReplaceAll(mine, "Stepgate", "")) {
				t.Errorf("%s: %s is still in English: %q", lang, tmpl.Name(), mine)
			}
		}
	}
}

// STOP, HELP and START say who writes, whom to call and how to stop, and the word
// for help that the texts name is heard as one.
func TestSpanishHelpSaysWhoAndHowToStop(t *testing.T) {
	s, p := newSet(t), spanish(ana)
	for name, m := range map[string]Message{
		"help":    s.Answer(harbor, p, nil, AnswerData{Parts: []rules.Part{rules.SayHelp}}),
		"first":   s.Daily(harbor, p, inSpanish(), rules.Decision{Date: monday, First: true, Doses: oneDue, Ask: rules.AskPain}),
		"started": s.Answer(harbor, p, nil, AnswerData{Parts: []rules.Part{rules.SayStarted}}),
	} {
		for _, want := range []string{harbor.Name, "STOP", harbor.Phone} {
			if !(name == "started" && want == harbor.Phone) && !strings.Contains(m.Text, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, m.Text)
			}
		}
	}
	v, err := Vocabulary("es")
	if err != nil {
		t.Fatal(err)
	}
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	if !r.Read("AYUDA", rules.AskPain).Help || !r.Read("STOP", rules.AskPain).Stop || !r.Read("START", rules.AskPain).Start {
		t.Error("a keyword the texts name is not heard")
	}
}
