package templates

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"sync"
	"testing"
	"time"

	"stepgate/rules"
)

func (m *memo[K, V]) len() int { return len(m.new) + len(m.old) }

// plainly is a set that keeps nothing: every text is rendered from its
// templates.
func plainly(t testing.TB) *Set {
	s := newSet(t)
	for _, l := range s.langs {
		l.phrases, l.forms, l.frames, l.names, l.answers, l.whys = nil, nil, nil, nil, nil, nil
	}
	return s
}

func one[T any](rnd *rand.Rand, list ...T) T { return list[rnd.IntN(len(list))] }

// Names that are written as they are, and such as change what is around them
// or can't be written at all.
var oddNames = []string{"Ana", "Bo", "Ana Lucía", "Żółw", "Maximiliana Evangelina Antonia", "", " ", "  Jo  Ann ", "\u200b", "\u200b \u200b",
	"\u0301Ed", "e\u200d\u0301a", "Ed\u0301", "\u4f60", "`Al`", "\x01", "A\x02", "\u00a0Li\u00a0Bo", "[Al]", "{{.}}", "Ed\nSay", "\u0661", "\u1175a"}

func randomClinic(rnd *rand.Rand) Clinic {
	return Clinic{Name: one(rnd, "Harbor Foot Clinic", "Clínica del Pie \u2013 Sur", "A \x01", "Foot\u0301"), Phone: one(rnd, "202-555-0134", "202-555-0135"),
		Hours: one(rnd, "Mon-Fri 9-5", "9\u20135"), AfterHours: one(rnd, "202-555-0136", ""), Emergency: one(rnd, "911", "112"), Accents: rnd.IntN(4) == 0}
}

func randomPatient(rnd *rand.Rand) Patient {
	p := Patient{Name: one(rnd, oddNames...), Language: one(rnd, "en", "es", "xx"), Affected: one(rnd, "left", "right", "both", ""), TextOnly: rnd.IntN(4) > 0}
	if rnd.IntN(4) == 0 {
		p.Proxy = one(rnd, oddNames...)
	}
	return p
}

// randomProgram has few exercises, so that its texts come again.
func randomProgram(rnd *rand.Rand) *rules.Program {
	p := &rules.Program{Exercises: map[string]*rules.Exercise{}, Pain: rules.Lines{Steady: 2 + rnd.IntN(2), ClearDays: 1 + rnd.IntN(2)}}
	for i := range 3 {
		ex := &rules.Exercise{Name: rules.Text{"en": one(rnd, "Toe pull", "Wall calf stretch", "Ψ \x01 pull"), "es": one(rnd, "Estirar", "Mover así")},
			How: text("Sit down. Pull."), Side: one(rnd, rules.SideEach, rules.SideAffected, rules.SideTogether)}
		if rnd.IntN(2) == 0 {
			ex.Forms = map[string]rules.Text{"toes-in": {"en": "toes in", "es": "dedos adentro"}}
		}
		p.Exercises["x"+strconv.Itoa(i)] = ex
	}
	if rnd.IntN(4) > 0 {
		p.Blocks = []rules.Block{{Week: 1}}
	}
	return p
}

func randomDue(rnd *rand.Rand) rules.Due {
	d := rules.Due{Exercise: one(rnd, "x0", "x1", "x2", "gone"), Side: one(rnd, "", rules.SideEach, rules.SideAffected), Sets: 1 + rnd.IntN(2), Reps: one(rnd, 1, 10),
		Hold: one(rnd, 0, 20*time.Second), Sessions: 1 + rnd.IntN(2)}
	if rnd.IntN(3) == 0 {
		d.Form, d.Only = one(rnd, "toes-in", "other"), one(rnd, "", "left", "right")
		d.RM, d.Rest, d.Load = one(rnd, 0, 12), one(rnd, 0, time.Minute), one(rnd, nil, text("a backpack"), text("\x01 sack"))
		d.Tempo = one(rnd, rules.Tempo{}, rules.Tempo{Up: 3, Hold: 2, Down: 3})
	}
	return d
}

func randomDecision(rnd *rand.Rand) rules.Decision {
	rare := func() bool { return rnd.IntN(8) == 0 }
	code := func() rules.Code {
		return one(rnd, append([]rules.Code{rules.Tick, rules.Tick, rules.Tick}, codes...)...)
	}
	d := rules.Decision{Date: monday + rules.Date(rnd.IntN(3)), First: rnd.IntN(3) == 0, Weekly: rare(), Closing: rare(), Rest: rare(), Eased: rare(),
		Skin: rare(), Support: rare(), WearOut: rare(), WearNow: rnd.IntN(2) == 0, Wear: one(rnd, 0, time.Hour, 90*time.Minute),
		State: one(rnd, rules.InActive, rules.InMaintenance, rules.InHeld),
		Ask:   one(rnd, rules.AskPain, rules.AskPain, rules.AskPain, rules.AskPainNow, rules.AskFirstStep, rules.AskNothing)}
	d.Why.Code, d.WearWhy.Code = code(), code()
	for range one(rnd, 0, 1, 1, 2, 3, 5) {
		d.Doses = append(d.Doses, randomDue(rnd))
	}
	if len(d.Doses) == 1 && rnd.IntN(3) == 0 { // two that are alike
		d.Doses = append(d.Doses, d.Doses[0])
	}
	return d
}

func randomAnswer(rnd *rand.Rand) AnswerData {
	number := func() *int { return one(rnd, nil, score(rnd.IntN(11)), score(rnd.IntN(30)-10)) }
	d := AnswerData{Score: number(), FirstStep: number(), Away: one(rnd, 0, monday), How: rnd.IntN(3), Left: rnd.IntN(3), Support: rnd.IntN(8) == 0,
		WearStopped: rnd.IntN(8) == 0, Ask: one(rnd, rules.AskNothing, rules.AskPain, rules.AskPainNow), Due: randomDecision(rnd).Doses}
	if rnd.IntN(8) == 0 {
		hours := float64(rnd.IntN(3))
		d.Wear = &hours
	}
	if rnd.IntN(4) == 0 {
		d.Lines = rules.Lines{Steady: 1, ClearDays: 3}
	}
	for range 1 + rnd.IntN(3)*rnd.IntN(3) {
		d.Parts = append(d.Parts, one(rnd, parts...))
	}
	return d
}

// What is kept of texts changes no character of any, whoever asks when.
func TestKeptTextsAreWhatTheTemplatesSay(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	quick, plain := newSet(t), plainly(t)
	rnd := rand.New(rand.NewPCG(seed, 1))
	clinics, programs, days := make([]Clinic, 8), make([]*rules.Program, 6), make([]rules.Decision, 300)
	for i := range clinics {
		clinics[i] = randomClinic(rnd)
	}
	for i := range programs {
		programs[i] = randomProgram(rnd)
	}
	for i := range days {
		days[i] = randomDecision(rnd)
	}
	var asking sync.WaitGroup
	for w := range uint64(4) {
		asking.Go(func() {
			rnd := rand.New(rand.NewPCG(seed, 2+w))
			for range 1500 {
				c, p, prog, d, a := one(rnd, clinics...), randomPatient(rnd), one(rnd, programs...), one(rnd, days...), randomAnswer(rnd)
				if got, want := quick.Daily(c, p, prog, d), plain.Daily(c, p, prog, d); got != want {
					t.Errorf("%+v %+v %+v\n%q\nwant\n%q", c, p, d, got, want)
				}
				if got, want := quick.Answer(c, p, prog, a), plain.Answer(c, p, prog, a); got != want {
					t.Errorf("%+v %+v %+v\n%q\nwant\n%q", c, p, a, got, want)
				}
				why := rules.Reason{Code: one(rnd, codes...), Score: a.Score, Line: rnd.IntN(9), Since: d.Date, Have: rnd.IntN(3), Need: 2, By: p.Name}
				if got, want := quick.Why(p.Language, why), plain.Why(p.Language, why); got != want {
					t.Errorf("%+v\n%q\nwant\n%q", why, got, want)
				}
			}
		})
	}
	asking.Wait()
	for code, l := range quick.langs {
		if l.frames.len() < 100 || l.answers.len() < 100 || l.whys.len() < 100 {
			t.Errorf("%s keeps %d daily texts, %d answers, %d reasons", code, l.frames.len(), l.answers.len(), l.whys.len())
		}
	}
}

// A text that was rendered once is not rendered for another name, and not for
// another patient's program that says the same.
func TestATextIsRenderedOnce(t *testing.T) {
	s := newSet(t)
	l := s.in("en")
	day := rules.Decision{Date: monday, Doses: oneDue, Ask: rules.AskPain}
	for i := range 50 {
		p := Patient{Name: fmt.Sprintf("Ana %02d", i), Language: "en", Affected: "left", TextOnly: true}
		s.Daily(harbor, p, sampleProgram(), day)
	}
	if n := l.frames.len(); n == 0 || n > 3 {
		t.Errorf("%d texts are kept of one", n)
	}
	// The words of a clinic that has changed them are its new ones.
	prog := sampleProgram()
	prog.Exercises["calf-straight"].Name = text("Calf stretch at a wall")
	quick, plain := s.Daily(harbor, ana, prog, day), plainly(t).Daily(harbor, ana, prog, day)
	if quick != plain {
		t.Errorf("%q\nwant\n%q", quick.Text, plain.Text)
	}
}

// Names that would change what is around them, or that it would change, are not
// put into a text that is kept.
func TestNamesThatFit(t *testing.T) {
	for name, want := range map[string]bool{"": true, "Ana": true, "Ana Lu": true, "Żółw": true, "\u0301Ed": false, " Ana": false, "Ana ": false,
		"Ana  Lu": false, "Ana\nLu": false, "A\x01": false, "e\u0301": false, "it\u2019s": false} {
		if got := (hand{accents: true}).fits(name); got != want {
			t.Errorf("%q fits: %v", name, got)
		}
	}
	if (hand{}).fits("Żółw") {
		t.Error("what the alphabet lacks fits")
	}
}

// A memo holds so much and no more, and what is asked for often stays.
func TestMemoIsBounded(t *testing.T) {
	var m memo[int, int]
	worked := 0
	double := func(k int) int { worked++; return 2 * k }
	for i := range 10 * memoMost {
		if m.get(i, double) != 2*i || m.get(-1, double) != -2 {
			t.Fatalf("wrong at %d", i)
		}
		if n := m.len(); n > 2*memoMost {
			t.Fatalf("%d are kept", n)
		}
	}
	if worked != 10*memoMost+1 {
		t.Errorf("worked %d times for %d keys", worked, 10*memoMost+1)
	}
}

// A morning's texts, answers and reasons, beside the same from the templates.
func BenchmarkKept(b *testing.B) {
	day := rules.Decision{Date: monday, Doses: twoDue, Ask: rules.AskPain, Why: rules.Reason{Code: rules.Tick}}
	reply := AnswerData{Parts: []rules.Part{rules.SayScore}, Score: score(2), Lines: rules.DefaultLines()}
	prog, p := sampleProgram(), ana
	p.TextOnly = true
	for name, s := range map[string]*Set{"kept": newSet(b), "plain": plainly(b)} {
		for what, render := range map[string]func(){
			"day":    func() { s.Daily(harbor, p, prog, day) },
			"answer": func() { s.Answer(harbor, p, prog, reply) },
			"why":    func() { s.Why("en", day.Why) },
		} {
			b.Run(what+"/"+name, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					render()
				}
			})
		}
	}
}
