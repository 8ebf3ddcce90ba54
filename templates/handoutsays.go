package templates

import (
	"strings"

	"stepgate/rules"
	"stepgate/rules/reply"
)

// handoutAnswer is something a patient can send.
type handoutAnswer struct{ Send, Means string }

// handoutAnswers lists what can be answered on the program, with an example
// each, in the letters of the language. What the program does not ask for is
// left out.
func (l *language) handoutAnswers(v handout) []handoutAnswer {
	var list []handoutAnswer
	add := func(where bool, key, letter, more string) {
		if where {
			list = append(list, handoutAnswer{strings.TrimSpace(letter + " " + more), l.line("handout/answer/"+key, v)})
		}
	}
	x, wear := v.Letters, len(v.Wear) > 0
	add(v.HasExercises, "done", x.Done, "2")
	add(v.HasExercises, "some", x.Some, "3")
	add(v.HasExercises, "none", x.None, "")
	add(true, "pain", x.Pain, "5")
	add(v.FirstStep.Every > 0, "first step", x.First, "3")
	add(wear, "wear", x.Wear, "4")
	add(wear, "skin", x.Skin, "")
	add(wear, "skin ok", x.SkinOK, "")
	add(v.HasExercises, "how", x.How, "2")
	add(true, "away", x.Away, "5")
	add(true, "call", x.Call, "")
	add(true, "stop", "STOP", "")
	return list
}

// shownLetters are the letters as a patient sees them, in capitals.
func shownLetters(x reply.Letters) reply.Letters {
	for _, f := range []*string{&x.Done, &x.Some, &x.None, &x.Pain, &x.First, &x.Skin, &x.SkinOK, &x.Wear, &x.How, &x.Away,
		&x.Call, &x.Left, &x.Right} {
		*f = strings.ToUpper(*f)
	}
	return x
}

// handoutBand is what a range of pain scores means. Kind is "go", "ask",
// "hold", "back" or "stop".
type handoutBand struct {
	From, To  int
	Kind      string
	Lines     rules.Lines
	Exercises bool // or the wear-in alone
}

// handoutBands are the scores 0 to 10 by the lines that count for the patient.
// A band that no score falls in is left out.
func handoutBands(p *rules.Program, e *rules.Enrollment) []handoutBand {
	lines := e.Pain(p)
	if lines == (rules.Lines{}) {
		return nil
	}
	back := lines.StepBack
	if len(p.Blocks) == 0 { // there is no step to go back to
		back = lines.Pause
	}
	var list []handoutBand
	for _, b := range []handoutBand{
		{From: 0, To: lines.Steady, Kind: "go"},
		{From: lines.Steady + 1, To: lines.Hold - 1, Kind: "ask"},
		{From: lines.Hold, To: back - 1, Kind: "hold"},
		{From: back, To: lines.Pause - 1, Kind: "back"},
		{From: lines.Pause, To: 10, Kind: "stop"},
	} {
		if b.From > b.To {
			continue
		}
		b.Lines, b.Exercises = lines, len(p.Blocks) > 0
		list = append(list, b)
	}
	return list
}

// handoutSigns are the danger signs of one tier, the most urgent first.
type handoutSigns struct {
	Tier  rules.Urgency
	Signs []string
}

// handoutSigns lists the danger signs that the texts look for, in the words of
// the language.
func (l *language) handoutSigns(v *reply.Vocabulary) []handoutSigns {
	if v == nil {
		return nil
	}
	var list []handoutSigns
	for _, tier := range []rules.Urgency{rules.UrgentEmergency, rules.UrgentToday, rules.UrgentClinic} {
		s := handoutSigns{Tier: tier}
		for _, flag := range v.RedFlags {
			if flag.Tier == tier {
				s.Signs = append(s.Signs, capital(l.words.danger(flag.Name)))
			}
		}
		list = append(list, s)
	}
	return list
}
