package reply

import (
	"strings"
	"sync"
	"testing"

	"stepgate/rules"
)

func TestCompileNamesWhatIsWrong(t *testing.T) {
	for want, spoil := range map[string]func(*Vocabulary){
		`letters: "d" stands for both done and pain`:                   func(v *Vocabulary) { v.Letters.Pain = "d" },
		`letters: "D" stands for both done and skin`:                   func(v *Vocabulary) { v.Letters.Skin = "D" },
		`letters: "d" stands for both done and skin ok`:                func(v *Vocabulary) { v.Letters.SkinOK = "d" },
		`"no mark" stands under both report: skin and report: skin ok`: func(v *Vocabulary) { v.Report.Skin = append(v.Report.Skin, "no mark") },
		`letters: "l" stands for both away and left`:                   func(v *Vocabulary) { v.Letters.Away = "l" },
		`letters: how: "ho" must be one letter`:                        func(v *Vocabulary) { v.Letters.How = "ho" },
		`letters: call: "" must be one letter`:                         func(v *Vocabulary) { v.Letters.Call = "" },
		`"Doné" stands under both report: done and sense: filler`:      func(v *Vocabulary) { v.Sense.Filler = append(v.Sense.Filler, "Doné") },
		`red flags: chest pain: no tier`:                               func(v *Vocabulary) { v.RedFlags[0].Tier = "" },
		`tier "soon" is not emergency, urgent or clinic`:               func(v *Vocabulary) { v.RedFlags[0].Tier = "soon" },
		`red flags: entry 1 has no name`:                               func(v *Vocabulary) { v.RedFlags[0].Name = "" },
		`red flags: short of breath: stands twice`:                     func(v *Vocabulary) { v.RedFlags[0].Name = "short of breath" },
		`red flags: fever: "numb" stands under numbness too`: func(v *Vocabulary) {
			v.RedFlags[len(v.RedFlags)-2].Words = append(v.RedFlags[len(v.RedFlags)-2].Words, "numb")
		},
		`red flags: chest pain: no words`:                   func(v *Vocabulary) { v.RedFlags[0].Words = nil },
		`red flags: chest pain: "calf ..." needs words`:     func(v *Vocabulary) { v.RedFlags[0].Words = []string{"calf ..."} },
		`red flags: empty`:                                  func(v *Vocabulary) { v.RedFlags = nil },
		`numbers: no word for 7`:                            func(v *Vocabulary) { delete(v.Numbers, "seven"); delete(v.Numbers, "sevn") },
		`numbers: "minus" is under 0`:                       func(v *Vocabulary) { v.Numbers["minus"] = -1 },
		`keywords: stop: empty`:                             func(v *Vocabulary) { v.Keywords.Stop = nil },
		`keywords: "stop" stands under both stop and start`: func(v *Vocabulary) { v.Keywords.Start = []string{"stop"} },
		`same as: "--" has no words`:                        func(v *Vocabulary) { v.SameAs["--"] = "x" },
		`negation: not: "not at all" must be one word`:      func(v *Vocabulary) { v.Negation.Not = append(v.Negation.Not, "not at all") },
		`report: pain: empty`:                               func(v *Vocabulary) { v.Report.Pain = nil },
		`report: done: "?!" has no words`:                   func(v *Vocabulary) { v.Report.Done = append(v.Report.Done, "?!") },
		`strong pain: 11 is no score from 0 to 10`:          func(v *Vocabulary) { v.Strong[0].Pain = 11 },
		`strong pain: no words for 8`:                       func(v *Vocabulary) { v.Strong[0].Words, v.Strong[0].Alone = nil, nil },
		`strong pain: "agony" stands under both 8 and 6`:    func(v *Vocabulary) { v.Strong[1].Words = append(v.Strong[1].Words, "agony") },
		`strong pain: "hell ..." needs words`:               func(v *Vocabulary) { v.Strong[0].Words = []string{"hell ..."} },
		`negation: gone: "?!" has no words`:                 func(v *Vocabulary) { v.Negation.Gone = append(v.Negation.Gone, "?!") },
		`language: missing`:                                 func(v *Vocabulary) { v.Language = "" },
	} {
		v, _ := english(t)
		spoil(v)
		r, err := v.Compile()
		if err == nil || r != nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q", err, want)
		}
	}
}

func TestCompileReportsAllAtOnce(t *testing.T) {
	v, _ := english(t)
	v.Letters.Pain = "d"
	v.RedFlags[2].Tier = ""
	_, err := v.Compile()
	if err == nil || strings.Count(err.Error(), "\n") != 1 {
		t.Errorf("want two problems, got %v", err)
	}
}

// spanish is a small vocabulary of another language.
func spanish() *Vocabulary {
	return &Vocabulary{
		Language: "es",
		Letters: Letters{Done: "h", Some: "a", None: "n", Pain: "d", First: "p", Skin: "b", SkinOK: "s", Wear: "u", How: "c",
			Away: "v", Call: "l", Left: "i", Right: "r"},
		Endings: []string{"s"},
		Numbers: map[string]int{"cero": 0, "uno": 1, "dos": 2, "tres": 3, "cuatro": 4, "cinco": 5, "seis": 6,
			"siete": 7, "ocho": 8, "nueve": 9, "diez": 10},
		Report: Report{Done: []string{"hecho"}, None: []string{"hoy no"}, Pain: []string{"dolor", "duele"},
			NoPain: []string{"sin dolor", "no duele"}, Wear: []string{"los usé"}},
		Around: Around{Scale: []string{"de"}, Hours: []string{"horas"}},
		Negation: Negation{No: []string{"sin"}, Not: []string{"no"}, NotBridge: []string{"tengo"},
			Doubt: []string{"quizá"}},
		Sense:    Sense{Filler: []string{"tengo", "el"}},
		Keywords: Keywords{Stop: []string{"stop", "alto"}},
		RedFlags: []Danger{{Name: "entumecimiento", Tier: rules.UrgentClinic, Words: []string{"entumecido"}}},
	}
}

// Another language is only other data: other letters, accents, its own words.
func TestAnotherLanguage(t *testing.T) {
	r, err := spanish().Compile()
	if err != nil {
		t.Fatal(err)
	}
	for text, want := range map[string]func(rules.Reading) bool{
		"H D3":              func(o rules.Reading) bool { return o.Done == rules.DoneAll && *o.Pain == 3 },
		"hecho, dolor tres": func(o rules.Reading) bool { return o.Done == rules.DoneAll && *o.Pain == 3 },
		"4 de 10":           func(o rules.Reading) bool { return *o.Pain == 4 },
		"sin dolor":         func(o rules.Reading) bool { return *o.Pain == 0 },
		"LOS USE 3 horas":   func(o rules.Reading) bool { return *o.Wear == 3 },
		"entumesido":        func(o rules.Reading) bool { return len(o.Flags) == 1 },
		"no tengo entumecido el pie": func(o rules.Reading) bool {
			return len(o.Denied) == 1 && len(o.Flags) == 0
		},
		"Alto": func(o rules.Reading) bool { return o.Stop },
	} {
		if got := r.Read(text, rules.AskPain); !want(got) {
			t.Errorf("%q: %+v", text, got)
		}
	}
}

// A danger sign and a pain are heard wherever they stand in a long mail, and
// reading one takes no more than its share of time.
func TestLongText(t *testing.T) {
	_, r := english(t)
	filler := strings.Repeat("the weather was good today. ", 1500)
	for _, text := range []string{filler + "my chest hurts, pain 9", "chest pain. p9. " + filler, filler[:20000] + " chest pain P9 " + filler} {
		got := r.Read(text, rules.AskPain)
		if !named(got.Flags, "chest pain") || got.Pain == nil || *got.Pain != 9 || !got.Unread {
			t.Errorf("%d characters: %+v", len(text), got)
		}
	}
	for cut := pieceRunes - 12; cut < pieceRunes+2; cut++ {
		text := strings.Repeat("x", cut) + " chest pain p10 " + filler
		if got := r.Read(text, rules.AskPain); !named(got.Flags, "chest pain") || got.Pain == nil || *got.Pain != 10 {
			t.Errorf("seam at %d: %+v", cut, got)
		}
	}
	if got := r.Read("stop texting me "+filler+" pain 7", rules.AskPain); got.Stop || !got.AskStop || *got.Pain != 7 {
		t.Errorf("%+v", got)
	}
}

func TestReaderIsSafeForManyAtOnce(t *testing.T) {
	_, r := english(t)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 50 {
				if got := r.Read("doen, pian 3, no fever", rules.AskPain); got.Pain == nil || *got.Pain != 3 {
					t.Errorf("%+v", got)
				}
			}
		})
	}
	wg.Wait()
}
