package templates

import "stepgate/rules"

// reason is what the templates of reasons see.
type reason struct {
	rules.Reason
	Reached bool // the score is at or over the line itself
}

// Why says in one fragment of a sentence why the program day or the wear day
// did what it did, for a clinician or an admin. A code this version does not
// know is given as it stands.
func (s *Set) Why(lang string, r rules.Reason) string {
	l, ok := s.in(lang), false
	if r.Score, ok = known(r.Score); !ok {
		return l.why(r)
	}
	return l.whys.get(r, l.why)
}

func (l *language) why(r rules.Reason) string {
	key := "why/" + string(r.Code)
	if l.text.Lookup(key) == nil {
		return string(r.Code)
	}
	return l.line(key, reason{
		Reason:  r,
		Reached: r.Score != nil && *r.Score >= r.Line,
	})
}

// state is what the templates of states see.
type state struct {
	rules.Decision
	Score      *int
	HeldSince  rules.Date
	HeldBy     string
	PauseSince rules.Date
	AwayTo     rules.Date
}

// State says in one short English line where a patient stands: "step 2 of 3,
// day 15, wear 8 h: held since Oct 12, pain 5".
func (s *Set) State(d rules.Decision) string {
	l := s.in(fallback)
	shown := l.shown(d, 0)
	where := l.line("state", state{Decision: d})
	if where == "" {
		return shown
	}
	return where[:len(where)-1] + ": " + shown // the last comma becomes a colon
}

// shown is the state alone: "held since Oct 12, pain 5". A hold or a pause
// began on since, if it is known apart from the decision. A state this version
// does not know is given as it stands.
func (l *language) shown(d rules.Decision, since rules.Date) string {
	v := state{Decision: d}
	switch d.Why.Code {
	case rules.PainHeld, rules.StepBack, rules.BlockAgain:
		v.HeldSince, v.Score = d.Why.Since, d.Why.Score
	case rules.FirstRise: // its score is no daily one
		v.HeldSince = d.Why.Since
	case rules.ClinicHeld:
		v.HeldSince, v.HeldBy = d.Why.Since, d.Why.By
	case rules.Paused:
		v.PauseSince, v.Score = d.Why.Since, d.Why.Score
	case rules.AwayCode:
		v.AwayTo = d.Why.Since
	}
	if since != 0 {
		v.HeldSince, v.PauseSince = since, since
	}
	key := "state/" + string(d.State)
	if l.text.Lookup(key) == nil {
		return string(d.State)
	}
	return l.line(key, v)
}
