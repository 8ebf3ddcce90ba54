package reply

import (
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

// flagged checks the danger signs of each text: all of one name, none denied.
func flagged(t *testing.T, r *Reader, texts map[string][]string) {
	t.Helper()
	for name, said := range texts {
		for _, s := range said {
			for _, text := range []string{s, string(normalize(s))} {
				got := r.Read(text, rules.AskPain)
				if len(got.Denied) > 0 || !slices.ContainsFunc(got.Flags, func(f rules.RedFlag) bool { return f.Name == name }) {
					t.Errorf("%q: want %s, got flags %v, denied %v", text, name, got.Flags, got.Denied)
				}
			}
		}
	}
}

// A carer writes of the patient, words are misspelled or of the street, and what
// was not so may be so now.
func TestSpanishDangerInOtherWords(t *testing.T) {
	flagged(t, inSpanish(t), map[string][]string{
		"short of breath": {"no puede respirar", "mi mamá no puede respirar", "me falta la respiración", "no me entra aire", "no agarro aire",
			"siento el pecho cerrado", "se me cierra el pecho", "nunca me había faltado el aire así"},
		"coughing blood": {"flemas con sangre"},
		"cannot bear weight": {"no puede caminar", "no puede apoyar el pie", "mi hija no puede apoyar", "no pudo caminar",
			"no puedo apollar", "no puedo pizar", "no puedo kaminar", "no puedo poner el pie", "no puedo plantar el pie",
			"no puedo asentar el pie", "no puedo ponerme de puntas", "no puedo hacer fuerza con el pie", "no me deja caminar",
			"el dolor no me deja apoyar", "caminar no puedo", "ni caminar puedo", "imposible apoyar"},
		"numbness": {"no siente el pie", "no siente los dedos", "no siente los pies", "se me entumió el pie", "se me entumen los dedos",
			"se me durmieron los dedos", "se me durmieron los pies", "se me adormeció el pie", "pie adormilado", "no se me quita lo dormido"},
		"fever":    {"no tenía fiebre pero hoy sí", "38 grados", "tengo 39", "tengo 38.5", "39.2 grados"},
		"swelling": {"no tenía hinchazón hasta hoy", "no estaba hinchado antes"},
		"tingling": {"antes no tenía hormigueo y ahora sí", "no tengo hormigueo como antes"},
		"sudden pop": {"no tenía tronido pero ahora sí", "sentí una pedrada", "un latigazo", "un balazo", "como si me hubieran pateado",
			"hizo trac", "un truenido", "se me desgarró la pantorrilla"},
		"swollen or hot calf":    {"nunca había tenido la pantorrilla tan hinchada"},
		"spreading redness":      {"jamás había tenido el pie tan rojo"},
		"open or draining wound": {"me sale materia", "se me abrió la piel", "me corté el pie"},
		"bad fall":               {"me azoté", "me fui de boca"},
		"color change":           {"dedos moraditos"},
	})
	readSpanish(t, rules.AskPain, []said{
		{"tengo 39 años", unread},
		{"tengo 40 años, dolor 3", `{"pain":3}`},
		{"no le duele", `{"pain":0}`},
		{"no hizo nada", `{"done":"none"}`},
		{"no tiene fiebre", `{"denied":[{"name":"fever","tier":"clinic"}]}`},
	})
}

func TestDangerSinceNow(t *testing.T) {
	_, r := english(t)
	flagged(t, r, map[string][]string{
		"fever":               {"no fever before", "didn't have a fever but now I do", "no fever until today"},
		"swelling":            {"no swelling until today", "never had it this swollen"},
		"swollen or hot calf": {"never had my calf so swollen"},
		"sudden pop":          {"like I was kicked", "felt like someone kicked me in the calf"},
	})
	readAll(t, rules.AskPain, []said{
		{"no fever", `{"denied":[{"name":"fever","tier":"clinic"}]}`},
		{"no fever, thanks so much", `{"denied":[{"name":"fever","tier":"clinic"}]}`},
	})
}

func TestSpanishStrongPainOfTheStreet(t *testing.T) {
	r := inSpanish(t)
	for s, least := range map[string]int{"me dolió un montón": 6, "me dolió un chorro": 6, "me dolió un buen": 6, "me dolió harto": 6,
		"me duele re mucho": 6, "me dolió re mucho": 6, "no aguanto el talón": 6} {
		if got := r.Read(s, rules.AskPain); got.Pain == nil || *got.Pain < least || !got.Unread {
			t.Errorf("%q: %s", s, readJSON(r, s, rules.AskPain))
		}
	}
}

// Our own text says "pare": a patient who writes it back is asked whether the
// exercises or the messages are meant, in whatever language.
func TestHavingStoppedIsNoOptOut(t *testing.T) {
	asks := `{"unread":true,"ask_stop":true}`
	readSpanish(t, rules.AskPain, []said{
		{"paré", asks}, {"ya paré", asks}, {"Pare.", asks}, {"parar", asks},
		{"paré los ejercicios", `{"done":"some"}`},
		{"paré de hacerlos", `{"done":"some"}`},
		{"dejen de mandar tantos ejercicios", asks},
		{"dejen de mandarme tantos ejercicios por favor", asks},
		{"dejen de mandar tantos mensajes", stops},
	})
	readAll(t, rules.AskPain, []said{
		{"pare", asks},
		{"stop sending so many exercises", asks},
		{"stop sending me messages about exercises", stops},
	})
	r := inSpanish(t)
	for _, s := range strings.Fields("STOP QUIT END REVOKE CANCEL UNSUBSCRIBE STOPALL OPTOUT ALTO BASTA CANCELAR PAREN") {
		if got := readJSON(r, s, rules.AskPain); got != stops {
			t.Errorf("%q no longer opts out: %s", s, got)
		}
	}
}

func TestSpanishCallsMeant(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"háblenme", `{"call":true}`},
		{"me pueden hablar por teléfono", `{"call":true}`},
		{"¿me pueden marcar?", `{"call":true}`},
		{"voy a llamar a mi hijo", unread},
		{"llamar a mi hijo", unread},
	})
}
