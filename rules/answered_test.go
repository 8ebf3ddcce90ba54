package rules_test

import (
	"testing"

	"stepgate/rules"
)

// Once the first-step number is there, the question is answered: the next number
// of that date is a daily score. Other answers leave it open.
func TestFirstStepAnswered(t *testing.T) {
	p, e := asking(plan(1, 3)), enrolled()
	asked, dec := rules.Decide(p, &e, rules.State{}, monday, rules.Facts{})
	if dec.Ask != rules.AskFirstStep || asked.Asked != rules.AskFirstStep {
		t.Fatalf("the first date asks %q", dec.Ask)
	}
	for _, c := range []struct {
		name string
		from rules.Question
		r    rules.Reading
		want rules.Question
	}{
		{"the number", rules.AskFirstStep, rules.Reading{FirstStep: score(3)}, rules.AskPain},
		{"the number and what was done", rules.AskFirstStep, rules.Reading{FirstStep: score(0), Done: rules.DoneAll}, rules.AskPain},
		{"what was done alone", rules.AskFirstStep, rules.Reading{Done: rules.DoneAll}, rules.AskFirstStep},
		{"a daily score", rules.AskFirstStep, rules.Reading{Pain: score(2)}, rules.AskFirstStep},
		{"nothing that was understood", rules.AskFirstStep, rules.Reading{Unread: true}, rules.AskFirstStep},
		{"a first-step number nobody asked for", rules.AskPainNow, rules.Reading{FirstStep: score(3)}, rules.AskPainNow},
	} {
		s := asked
		s.Asked = c.from
		if got, _ := rules.Hear(p, &e, s, c.r, monday, false); got.Asked != c.want {
			t.Errorf("%s: asked %q after it, want %q", c.name, got.Asked, c.want)
		}
	}
	answered, _ := rules.Hear(p, &e, asked, rules.Reading{FirstStep: score(3)}, monday, false)
	if s := rules.Untaken(answered, monday); s.StepAsk != asked.StepAsk {
		t.Error("what was answered is asked again")
	}
	if _, dec = rules.Decide(p, &e, answered, monday+1, rules.Facts{}); dec.Ask != rules.AskPain {
		t.Errorf("the next date asks %q", dec.Ask)
	}
}
