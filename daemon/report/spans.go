package report

import (
	"slices"

	"stepgate/daemon/outcomes"
	"stepgate/rules"
	"stepgate/templates"
)

// kindOf names a cause as the page does. What is not here means that no message
// could go out.
var kindOf = map[outcomes.Cause]string{
	outcomes.CausePain: "pain", outcomes.CausePause: "pause", outcomes.CauseClinic: "clinic", outcomes.CauseAway: "away",
	outcomes.CauseWaiting: "waiting", outcomes.CauseCap: "cap", outcomes.CauseReview: "review", outcomes.CauseSilent: "silent",
}

// mostScores is how many scores behind one hold are told.
const mostScores = 3

// spans explains every time in which the plan did not go on.
func spans(r *story, c outcomes.Course) []templates.ReportSpan {
	out := []templates.ReportSpan{}
	dates := make([]rules.Date, len(c.Steps))
	for i, s := range c.Steps {
		dates[i] = s.Date
	}
	for _, s := range c.Spans {
		kind := kindOf[s.Cause]
		if kind == "" {
			kind = "off"
		}
		x := templates.ReportSpan{Kind: kind, From: s.From, To: s.To, Open: s.Open, Days: s.Dates,
			Scores: []templates.ReportSaid{}, Why: rules.Reason{Code: s.Code}}
		if dec := r.decided[s.From]; dec != nil {
			x.Why = dec.Why
		}
		if dec := r.decided[s.To]; dec != nil && (kind == "silent" || kind == "off") {
			x.Why = dec.Why // a silence grows: its last date knows most
		}
		at, _ := slices.BinarySearch(dates, s.From)
		before := rules.Date(0)
		if at > 0 {
			before = dates[at-1]
		}
		r.because(&x, before)
		if next, _ := slices.BinarySearch(dates, s.To+1); next < len(dates) {
			x.Next.Code = s.Code
			if dec := r.decided[dates[next]]; dec != nil {
				x.Next = dec.Why
			}
			r.ended(&x, dates[next])
		}
		out = append(out, x)
	}
	return out
}

// because says what was reported and which line it reached. The decisions in
// the span name the scores; the worst line of them counts.
func (r *story) because(x *templates.ReportSpan, before rules.Date) {
	x.Line = map[string]string{"pain": "hold", "pause": "pause", "clinic": "entry", "cap": "entry", "away": "away", "off": "off", "silent": "silent",
		"waiting": "advance", "review": "review"}[x.Kind]
	worst := -1
	for d := x.From; d <= x.To; d++ {
		dec := r.decided[d]
		if dec == nil {
			continue
		}
		why := dec.Why
		switch why.Code {
		case rules.StepBack, rules.BlockAgain, rules.PainHeld, rules.FirstRise, rules.Paused:
			if d != x.From && (why.Score == nil || why.Line == 0 || x.Kind == "pause") {
				continue // a score that reached no line, or the pause that is told already
			}
		default:
			if d != x.From {
				continue
			}
		}
		if why.Score != nil && len(x.Scores) < mostScores {
			x.Scores = append(x.Scores, templates.ReportSaid{Score: *why.Score, On: r.dayOf(*why.Score, why.Code, d)})
		}
		if why.Score != nil && *why.Score > worst {
			worst = *why.Score
			x.LineAt = why.Line
			switch why.Code {
			case rules.StepBack, rules.BlockAgain:
				x.Kind, x.Line = "back", "back"
			case rules.FirstRise:
				x.Line, x.LineAt = "first", 0
			}
		}
	}
	switch x.Why.Code {
	case rules.Paused:
		if x.Why.Score == nil && x.Why.By != "" && x.Why.By != "pain" {
			x.Word, x.Line = x.Why.By, "word"
		}
	case rules.StepBack, rules.BlockAgain:
		if x.Why.Score == nil { // a pause that was released the same day
			x.Kind, x.Line = "back", "word"
		}
	case rules.ClinicHeld, rules.Capped:
		x.By = x.Why.By
	case rules.Review:
		x.LineAt = x.Why.Need
	}
	if x.Line == "hold" && len(x.Scores) == 0 {
		x.Line = "after" // it began with a pause, and stands after the release
	}
	x.Quote = r.quote(x, before)
}

// dayOf is the day to which a score belongs that was settled on d, whenever it
// came: charts and tables have it there too.
func (r *story) dayOf(score int, code rules.Code, d rules.Date) rules.Date {
	for i := len(r.reports) - 1; i >= 0; i-- {
		n := r.reports[i].read.Pain
		if code == rules.FirstRise {
			n = r.reports[i].read.FirstStep
		}
		if h := r.reports[i]; h.day < d && n != nil && *n == score {
			return h.day
		}
	}
	return 0
}

// quote is the patient's own text behind a hold: one of the day before it that
// names the danger word or the score.
func (r *story) quote(x *templates.ReportSpan, before rules.Date) string {
	if x.Word == "" && len(x.Scores) == 0 && x.Line != "word" {
		return ""
	}
	for _, h := range r.reports {
		if h.day != before {
			continue
		}
		switch {
		case len(h.read.Flags) > 0 && x.Line == "word":
			return h.text
		case len(x.Scores) == 0:
		case h.read.Pain != nil && *h.read.Pain == x.Scores[0].Score, h.read.FirstStep != nil && *h.read.FirstStep == x.Scores[0].Score:
			return h.text
		}
	}
	return ""
}

// endOpen closes a last span that a release has ended since: no date is decided
// yet that shows it.
func (r *story) endOpen(out *templates.PatientReport, st rules.State) {
	n := len(out.Spans)
	if n == 0 {
		return
	}
	x := &out.Spans[n-1]
	if x.Open && (x.Kind == "pause" && st.Pause == nil || x.Kind == "clinic" && st.Held == nil) {
		x.Open, x.Next = false, out.Why
		r.ended(x, rules.DateOf(out.Made))
	}
}

// ended says what ended a span, by the reason of the next decided date and the
// entries read until then.
func (r *story) ended(x *templates.ReportSpan, next rules.Date) {
	entry := func(kinds ...rules.EntryKind) *written {
		for i := range r.entries {
			if n := &r.entries[i]; slices.Contains(kinds, n.Kind) && n.read >= x.From && n.read <= next {
				return n
			}
		}
		return nil
	}
	by := func(what string, n *written) {
		x.Ended = what
		if n != nil {
			x.EndBy, x.EndOn = n.By, n.On
		}
	}
	goesOn := slices.Contains([]rules.Code{rules.Tick, rules.Waiting, rules.TableEnd, rules.Review, rules.Capped, rules.FirstDay}, x.Next.Code)
	switch code := x.Next.Code; {
	case code == rules.Discharged:
		x.Ended = "discharged"
	case code == rules.Finished:
		x.Ended = "finished"
	case code == rules.Paused:
		x.Ended = "paused"
	case x.Kind == "pause" || x.Kind == "clinic":
		by("release", entry(rules.EntryRelease))
	case (x.Kind == "pain" || x.Kind == "back") && goesOn:
		x.Ended = "clear"
	case x.Kind == "away":
		x.Ended = "back"
	case x.Kind == "waiting" && code == rules.Tick:
		x.Ended = "met"
	case x.Kind == "review":
		by("review", entry(rules.EntryReview))
	case x.Kind == "silent":
		x.Ended = "heard"
	case x.Kind == "off":
		x.Ended = "again"
	default:
		x.Ended = "other"
	}
}
