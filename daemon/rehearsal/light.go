package rehearsal

import (
	"slices"

	"stepgate/daemon"
	"stepgate/rules"
)

// light lives one patient's days with the rules, the reader and the words, and
// without the service's clock, journal and outbox: some thousand times faster,
// for crowds. What it decides and sends is what the service would; a test
// holds the two together.
type light struct {
	plan  *Plan
	texts *texts

	e        rules.Enrollment
	s        rules.State
	optedOut bool
	told     rules.Date // the pause that the patient was reminded of
}

// newLight begins a patient's life on the plan. The entries of the enrollment
// are read as they fall due.
func newLight(plan *Plan, texts *texts) *light {
	l := &light{plan: plan, texts: texts, e: plan.Enrollment.Enrollment}
	l.s.Rev = 1 // as the journal enrolls
	return l
}

// enter writes a clinician's entry on date d; rules.Pending finds it.
func (l *light) enter(n rules.Entry, d rules.Date) {
	l.e.Entries = append(slices.Clone(l.e.Entries), n)
	l.pending(d)
}

func (l *light) pending(d rules.Date) {
	for _, n := range rules.Pending(&l.e, l.s, d) {
		if n.Kind != rules.EntryReport {
			l.s = rules.Enter(l.s, n, d)
			continue
		}
		st, h := rules.EnterReport(l.plan.Program, &l.e, l.s, n, l.texts.read(n.Said, rules.AskNothing), d, l.optedOut)
		l.s, l.optedOut = st, l.optedOut || h.OptOut
	}
}

// morning decides date d and sends its message. It is false where the date is
// not decided, and gives the segments of the message, 0 where there is none.
func (l *light) morning(d rules.Date) (rules.Decision, int, bool) {
	l.pending(d)
	if !rules.Decidable(&l.e, l.s, d) {
		return rules.Decision{}, 0, false
	}
	st, dec := rules.Decide(l.plan.Program, &l.e, l.s, d, rules.Facts{OptedOut: l.optedOut})
	l.s = st
	if daemon.StillPaused(l.plan.Clinic, st, d) && l.told != st.Pause.Since {
		l.told = st.Pause.Since
		return dec, l.texts.stillPaused(d), true
	}
	if !dec.Send {
		return dec, 0, true
	}
	return dec, l.texts.daily(dec), true
}

// hear takes a text of the patient's, and gives what followed and the segments
// of the answer, 0 where none goes out.
func (l *light) hear(text string, d rules.Date) (rules.Hearing, int) {
	r := l.texts.read(text, l.s.Asked)
	was := l.optedOut
	st, h := rules.Hear(l.plan.Program, &l.e, l.s, r, d, was)
	if h.Ask != rules.AskNothing {
		st.Asked = h.Ask
	}
	l.s = st
	if h.OptOut || h.OptIn {
		l.optedOut = h.OptOut
	}
	if len(h.Parts) == 0 || was && !h.OptOut && !h.OptIn {
		return h, 0
	}
	return h, l.texts.answer(&l.e, st, h, r)
}
