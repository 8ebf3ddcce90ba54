package reply

import (
	"encoding/json"
	"testing"

	"stepgate/rules"
)

// inSpanish is the reader of the Spanish vocabulary.
func inSpanish(t testing.TB) *Reader {
	t.Helper()
	v := new(Vocabulary)
	decode(t, "es/reply.yaml", v)
	v.Common, _ = everyLanguage(t)
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// readSpanish reads every text after the same question, as it stands and without
// its accents.
func readSpanish(t *testing.T, asked rules.Question, table []said) {
	t.Helper()
	r := inSpanish(t)
	for _, s := range table {
		for _, text := range []string{s.text, string(normalize(s.text))} {
			if got := readJSON(r, text, asked); got != s.want {
				t.Errorf("%q asked %q\n got %s\nwant %s", text, asked, got, s.want)
			}
		}
	}
}

func TestSpanishLetters(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"T", `{"done":"all"}`},
		{"t3", `{"done":"all","pain":3}`},
		{"T 3", `{"done":"all","pain":3}`},
		{"TD3", `{"done":"all","pain":3}`},
		{"U", `{"done":"some"}`},
		{"u 4", `{"done":"some","pain":4}`},
		{"N", `{"done":"none"}`},
		{"D3", `{"pain":3}`},
		{"D 10", `{"pain":10}`},
		{"M2", `{"first_step":2}`},
		{"R", `{"skin":true}`},
		{"T 2 R", `{"done":"all","pain":2,"skin":true}`},
		{"T3 V", `{"done":"all","pain":3,"skin_ok":true}`},
		{"T2 Z4", `{"done":"all","pain":2,"wear_hours":4}`},
		{"E", `{"how":0}`},
		{"E2", `{"how":2}`},
		{"A 5", `{"away":5}`},
		{"C", `{"call":true}`},
		{"👍", `{"done":"all"}`},
	})
}

// A letter meant in English makes no less of a text: it keeps its meaning, or
// the patient is asked.
func TestSpanishHearsEnglishLetters(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"D", unread}, {"S", unread}, {"K", unread}, {"H", unread}, {"W 3", unread},
		{"P8", `{"pain":8}`}, {"p 7", `{"pain":7}`}, {"F3", `{"first_step":3}`}, {"B", `{"skin":true}`},
		{"H3", unread}, {"H 8", unread}, {"H 2", unread},
		{"l0", unread}, {"I0", unread}, {"i0", unread}, {"o", unread}, // may be meant as 10
	})
}

func TestSpanishDone(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"hecho", `{"done":"all"}`},
		{"Listo, ya terminé", `{"done":"all"}`},
		{"lo hice", `{"done":"all"}`},
		{"sí, los hice", `{"done":"all"}`},
		{"ya hice los ejercicios", `{"done":"all"}`},
		{"hice todo, sin dolor", `{"done":"all","pain":0}`},
		{"a las 5 hice todo", `{"done":"all"}`},
		{"echo", `{"done":"all"}`},
		{"un poco", `{"done":"some"}`},
		{"hice la mitad", `{"done":"some"}`},
		{"no pude terminarlos, 5", `{"done":"some","pain":5}`},
		{"solo hice uno", `{"done":"some"}`},
		{"hice todo excepto uno", `{"done":"some","unread":true}`},
		{"no hice nada", `{"done":"none"}`},
		{"nada", `{"done":"none"}`},
		{"hoy no pude", `{"done":"none"}`},
		{"se me olvidó", `{"done":"none"}`},
		{"no pude por el dolor 8", `{"done":"none","pain":8}`},
		{"todo bien", unread},
		{"lo hago luego", unread},
		{"lo hice ayer", unread},
		{"gracias", unread},
		{"sí", unread},
		{"no", unread},
	})
}

func TestSpanishScores(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"me duele 4", `{"pain":4}`},
		{"el dolor es de 3", `{"pain":3}`},
		{"3 de 10", `{"pain":3}`},
		{"3 sobre 10", `{"pain":3}`},
		{"tres de diez", `{"pain":3}`},
		{"un tres", `{"pain":3}`},
		{"como un 6", `{"pain":6}`},
		{"6 o 7", `{"pain":7}`},
		{"7 u 8", `{"pain":8}`},
		{"siete u ocho", `{"pain":8}`},
		{"4 a 5", `{"pain":5}`},
		{"de 4 a 5", `{"pain":5}`},
		{"T 3 A 5", `{"done":"all","pain":5}`}, // a range may be meant
		{"más de 5", `{"pain":6}`},
		{"3 y medio", `{"pain":4}`},
		{"diez", `{"pain":10}`},
		{"1o", `{"pain":10}`},
		{"cero", `{"pain":0}`},
		{"6 de dolor en el talón", `{"pain":6}`},
		{"dolr 6", `{"pain":6}`},
		{"me dule 7", `{"pain":7}`},
		{"me duele el pie izquierdo 4", `{"pain":4,"side":"left"}`},
		{"izq 3 der 6", `{"pain":6,"side":"right"}`},
		{"5 no más", `{"pain":5}`},
		{"leve 2", `{"pain":2}`},
		{"treinta y cinco", unread},
		{"3 h", unread},
		{"hoy hice 3 series de 10", unread},
	})
	readSpanish(t, rules.AskFirstStep, []said{
		{"3", `{"first_step":3}`},
		{"M 4 T", `{"done":"all","first_step":4}`},
		{"sin dolor", `{"first_step":0}`},
		{"P8", `{"pain":8}`},
	})
	readSpanish(t, rules.AskPain, []said{
		{"dolor al levantarme 4", `{"first_step":4}`},
		{"dolor de los primeros pasos 7", `{"first_step":7}`},
	})
}

// No pain is 0 only where nothing takes it back.
func TestSpanishNoPain(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"sin dolor", `{"pain":0}`},
		{"no me duele nada", `{"pain":0}`},
		{"ya no me duele", `{"pain":0}`},
		{"nada de dolor", `{"pain":0}`},
		{"no siento dolor en el pie", `{"pain":0}`},
		{"no me dolió, hice todo", `{"done":"all","pain":0}`},
		{"casi no me duele", unread},
		{"no me duele mucho", unread},
		{"no me duele cuando camino", unread},
		{"sin dolor en reposo", unread},
		{"si no me duele hago más", unread},
		{"no sé si me duele", unread},
		{"me duele", unread},
		{"me duele un poco", unread}, // of the pain, not of the exercises
		{"me duele el pie un poco", unread},
		{"me duele todo", unread},
	})
}

func TestSpanishStrongPain(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"me duele mucho", `{"pain":6,"unread":true}`},
		{"duele horrible", `{"pain":6,"unread":true}`},
		{"dolor insoportable", `{"pain":8,"unread":true}`},
		{"no aguanto el dolor", `{"pain":8,"unread":true}`}, // its no denies nothing
		{"me mata el dolor 5", `{"pain":8,"unread":true}`},
		{"mi peor dolor fue 3", `{"pain":3}`},
		{"no muy fuerte", unread},
	})
}

func TestSpanishSkinAndWear(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"me salió una ampolla", `{"skin":true}`},
		{"tengo ampollas", `{"skin":true}`},
		{"ampoya", `{"skin":true}`},
		{"me roza el zapato", `{"skin":true}`},
		{"la piel está roja", `{"skin":true}`},
		{"la marca no se quita", `{"skin":true}`},
		{"la piel está bien", `{"skin_ok":true}`},
		{"no tengo marcas ni ampollas", `{"skin_ok":true}`},
		{"no sé si la piel está bien", unread},
		{"usé las plantillas 3 horas", `{"wear_hours":3}`},
		{"no las usé", `{"wear_hours":0}`},
	})
}

func TestSpanishRequests(t *testing.T) {
	readSpanish(t, rules.AskPain, []said{
		{"por favor llámenme", `{"call":true}`},
		{"¿me pueden llamar?", `{"call":true}`},
		{"llámeme, dolor 8", `{"pain":8,"call":true}`},
		{"no me llamen", unread},
		{"de viaje 5 días", `{"away":5}`},
		{"voy a estar fuera una semana", `{"away":7}`},
		{"¿cómo se hace el 2?", `{"how":2}`},
		{"cómo hago el ejercicio 2", `{"how":2}`},
		{"número equivocado", `{"wrong_person":true}`},
		{"no conozco a Ana", `{"wrong_person":true}`},
		{"murió mi esposo", `{"wrong_person":true}`},
		{"mi mamá falleció ayer, hice todo, 2", `{"done":"all","pain":2,"unread":true}`},
		{"Le gustó “Al terminar envíe T”", `{"echo":true}`},
		{"Liked “Al terminar envíe T”", `{"echo":true}`},
	})
}

// Having had to stop is a report; the wish for no more texts is none.
func TestSpanishStop(t *testing.T) {
	table := []said{
		{"tuve que parar, me dolió", `{"done":"some","unread":true}`},
		{"tuve que parar, me dolió 7", `{"done":"some","pain":7}`},
		{"tuve que parar por el dolor", `{"done":"some","unread":true}`},
		{"paré porque me dolió 6", `{"done":"some","pain":6}`},
		{"paré, me dolió 6", `{"pain":6,"ask_stop":true}`},
		{"alto, me duele 5", `{"pain":5,"ask_stop":true}`},
		{"no más", `{"unread":true,"ask_stop":true}`},
		{"dejen de molestar con mensajes 5", `{"unread":true,"ask_stop":true}`},
		{"no me llegó el mensaje de ayer", unread},
		{"ya no quiero dolor", unread},
		{"AYUDA", helps},
		{"necesito ayuda", helps},
		{"START", starts},
	}
	for _, s := range []string{"STOP", "ALTO!!", "alto por favor", "detener", "basta", "cancelar", "no quiero más mensajes",
		"no me escriban más", "dejen de mandarme mensajes", "ya no quiero que me escriban", "quiero darme de baja por favor",
		"Por favor ya no me manden mensajes"} {
		table = append(table, said{s, stops})
	}
	readSpanish(t, rules.AskPain, table)
}

// Every danger sign is heard with its tier; one that is plainly denied is passed
// on and pauses nothing.
func TestSpanishDanger(t *testing.T) {
	r := inSpanish(t)
	tiers := map[rules.Urgency]map[string][]string{
		rules.UrgentEmergency: {
			"chest pain": {"dolor de pecho", "me duele mucho el pecho", "tengo dolor en el pecho", "presión en el pecho",
				"ayuda me duele el pecho", "me duele el pecho no"},
			"short of breath":       {"no puedo respirar", "no puedo respirar bien", "me falta el aire", "me cuesta trabajo respirar", "ando sin aire"},
			"coughing blood":        {"toso con sangre", "escupí sangre"},
			"fainting":              {"me desmayé", "perdí el conocimiento"},
			"thoughts of self-harm": {"quiero morirme", "me quiero matar", "ya no quiero vivir"},
		},
		rules.UrgentToday: {
			"sudden pop": {"sentí un tronido", "me tronó el tobillo"},
			"cannot bear weight": {"no puedo apoyar", "no lo puedo apoyar", "no me puedo parar", "casi no puedo caminar",
				"apenas puedo caminar", "no, no puedo caminar", "no aguanto el peso"},
			"swollen or hot calf": {"pantorrilla hinchada", "tengo la pantorrilla hinchada y caliente", "se me hinchó la pantorrilla",
				"mi pierna está hinchada", "pantorilla inchada", "el chamorro me duele y está caliente"},
			"blood clot": {"tengo un coágulo"},
			"bad fall":   {"caída fuerte", "me caí ayer", "me tropecé"},
		},
		rules.UrgentClinic: {
			"numbness":               {"entumecido", "tengo los dedos dormidos", "se me duerme el pie", "no siento el pie"},
			"tingling":               {"hormigueo"},
			"spreading redness":      {"enrojecimiento", "está muy rojo y caliente"},
			"open or draining wound": {"herida abierta", "me sale pus", "está infectada"},
			"color change":           {"cambio de color", "el dedo se puso morado", "dedos azules"},
			"fever":                  {"tengo fiebre", "fievre", "tengo calentura", "¿es normal que tenga fiebre?", "no estoy seguro si tengo fiebre"},
			"swelling":               {"se me hinchó el pie", "hinchados los pies"},
		},
	}
	heard := 0
	for tier, signs := range tiers {
		for name, texts := range signs {
			heard++
			for _, text := range texts {
				for _, s := range []string{text, string(normalize(text)), "T 2. " + text} {
					got := r.Read(s, rules.AskPain)
					if len(got.Flags) != 1 || got.Flags[0] != (rules.RedFlag{Name: name, Tier: tier}) || len(got.Denied) > 0 {
						b, _ := json.Marshal(got)
						t.Errorf("%q: want %s, %s\n got %s", s, name, tier, b)
					}
				}
			}
		}
	}
	if heard != len(r.signs) {
		t.Errorf("%d signs tried, the vocabulary has %d", heard, len(r.signs))
	}
	readSpanish(t, rules.AskPain, []said{
		{"no tengo fiebre", `{"denied":[{"name":"fever","tier":"clinic"}]}`},
		{"sin fiebre ni escalofríos", `{"denied":[{"name":"fever","tier":"clinic"}]}`},
		{"fiebre ya no", `{"denied":[{"name":"fever","tier":"clinic"}]}`},
		{"no tengo dolor de pecho", `{"denied":[{"name":"chest pain","tier":"emergency"}]}`},
		{"no me caí", `{"denied":[{"name":"bad fall","tier":"urgent"}]}`},
		{"no me duele el pecho pero me falta el aire",
			`{"red_flags":[{"name":"short of breath","tier":"emergency"}],"denied":[{"name":"chest pain","tier":"emergency"}]}`},
		{"me reventó la ampolla", `{"skin":true,"unread":true}`},
		{"se me cayó el celular", unread},
	})
}

// A number is never read lower than it is written, whatever stands around it; but
// A, E and Z count something else.
func TestSpanishNeverLower(t *testing.T) {
	r := inSpanish(t)
	for _, around := range []string{"%", "T %", "T%", "D%", "P%", "dolor %", "me duele un %", "% de dolor", "hecho, %", "U %", "N, %", "R %",
		"no pude, %", "me dolió % al caminar", "el talón % hoy", "izq %", "A veces %", "o %", "y %", "% V", "% C", "C %", "V %", "como %",
		"fue un %", "no sé, %", "% creo", "% o menos", "entre 2 y %", "2 a %", "2 o %", "2, %", "casi %", "i %", "L %", "S %", "H %", "W %"} {
		for n, word := range []string{"cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez"} {
			for _, number := range []string{string(rune('0' + n)), word} {
				if n == 10 && number != word {
					number = "10"
				}
				if len(number) > 2 && (around == "T%" || around == "D%" || around == "P%") {
					continue // letters glued to a word
				}
				text := replaceOne(around, number)
				got := r.Read(text, rules.AskPain)
				switch {
				case got.Unread: // asked
				case got.Pain == nil || *got.Pain < n:
					b, _ := json.Marshal(got)
					t.Errorf("%q is read as %s", text, b)
				}
			}
		}
	}
}

func replaceOne(s, with string) string {
	for i := range s {
		if s[i] == '%' {
			return s[:i] + with + s[i+1:]
		}
	}
	return s
}

// The sides may go without a letter; every other code needs one.
func TestSidesWithoutLetters(t *testing.T) {
	v := spanish()
	v.Letters.Left, v.Letters.Right = "", ""
	if _, err := v.Compile(); err != nil {
		t.Error(err)
	}
	v.Letters.Done = ""
	if _, err := v.Compile(); err == nil {
		t.Error("no letter for done, and nothing is said")
	}
}
