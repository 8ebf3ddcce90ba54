package templates

import (
	"strings"
	"testing"

	"stepgate/rules"
)

// The pages a patient sees keep their accents and hold no English: the handout
// of every starter, and the page behind each link of a mail.
func TestSpanishPages(t *testing.T) {
	s := newSet(t)
	v, err := Vocabulary("es")
	if err != nil {
		t.Fatal(err)
	}
	clinic := harbor
	clinic.Hours = "lun-vie 9-5"
	pages := map[string]string{}
	for _, name := range starterNames(t) {
		prog, e := loadStarter(t, name, "    cautions: [reduced sensation, balance]\n")
		page, err := s.Handout(Handout{Clinic: clinic, Language: "es", Program: prog, Vocabulary: v, Enrollment: &e.Enrollment, Name: "Íñigo"})
		if err != nil {
			t.Fatal(err)
		}
		pages["handout "+name] = page
		for _, want := range []string{"Íñigo", "caída", "Día", "T 2", "izq"} {
			if !strings.Contains(strings.ToLower(page), strings.ToLower(want)) && !(name == "wear-in" && want == "T 2") {
				t.Errorf("the handout of %s lacks %q", name, want)
			}
		}
	}
	for _, what := range asked {
		for _, state := range []string{"ask", "thanks", "expired", "used", "bad"} {
			pages["link "+what+" "+state] = string(s.LinkPage(LinkPage{Language: "es", Clinic: clinic.Name, What: what, Score: score(3),
				Action: "/a", State: state, Answer: []string{"Gracias."}, Phone: clinic.Phone, Emergency: clinic.Emergency}))
		}
	}
	for name, page := range pages {
		if w := forbiddenSpanish.FindString(visible(page)); w != "" {
			t.Errorf("%s says %q", name, w)
		}
		if !strings.Contains(page, `lang="es"`) {
			t.Errorf("%s does not say that it is in Spanish", name)
		}
	}
}

// Two texts that differ by an accent alone must not differ in what they ask:
// a text without accents holds no word that would then be another one.
func TestSpanishReadsWellWithoutAccents(t *testing.T) {
	// What the word without its accent says instead: I use, I end, he stopped.
	for _, s := range spanishSamples(t) {
		if s.team {
			continue
		}
		for _, w := range []string{"usó", "terminó.", "paró", "bajó", "subió", "llamó", "envió", "dejó", "sé ", "té ", "dé ", "sí,", "sí "} {
			if w == "terminó." && strings.HasSuffix(s.name, "ended") {
				continue // "su plan ya termino" can't be read otherwise
			}
			if strings.Contains(strings.ToLower(s.msg.Text), " "+w) {
				t.Errorf("%s says %q, which reads otherwise without its accent:\n%s", s.name, w, s.msg.Text)
			}
		}
	}
	if got := newSet(t).Answer(harbor, Patient{Language: "es", TextOnly: true}, nil, AnswerData{Parts: []rules.Part{rules.SayWear}, Wear: new(float64)}).Text; strings.HasPrefix(got, "Uso ") {
		t.Errorf("%q reads as I use", got)
	}
}
