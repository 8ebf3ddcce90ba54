package config

import (
	"fmt"
	"time"

	"stepgate/rules"
)

// mark remembers where a rule stands, if the file itself writes it.
func mark(p *rules.Program, key string, at rules.Pos) {
	if at.File != "" {
		p.Where[key] = at
	}
}

// painLines reads the pain lines and checks that they rise.
func (l *loader) painLines(p *rules.Program, s painShape) rules.Lines {
	var out rules.Lines
	lines := []struct {
		v    Value
		into *int
		key  string
	}{
		{s.Steady, &out.Steady, "steady"}, {s.Hold, &out.Hold, "hold"},
		{s.StepBack, &out.StepBack, "step back"}, {s.Pause, &out.Pause, "pause"},
	}
	mark(p, "pain", s.At.Pos)
	all := true
	for _, x := range lines {
		score, ok := l.whole(x.v, 0, 10)
		*x.into = score
		all = all && ok
		mark(p, "pain."+x.key, x.v.At)
	}
	out.ClearDays, _ = l.whole(s.ClearDays, 1, 14)
	mark(p, "pain.clear days", s.ClearDays.At)
	if !all {
		return out
	}
	for i := 1; i < len(lines); i++ {
		low, high := lines[i-1], lines[i]
		bad := *low.into > *high.into || low.key == "steady" && *low.into == *high.into
		if !bad {
			continue
		}
		at := high.v.At
		if !high.v.written() {
			at = low.v.At
		}
		l.wrong(at, fmt.Sprintf("the pain lines are out of order: %s %d, %s %d", low.key, *low.into, high.key, *high.into),
			"let them rise: steady under hold, hold up to step back, step back up to pause")
	}
	return out
}

// advance reads what must hold before the next block.
func (l *loader) advance(p *rules.Program, s advanceShape) rules.Advance {
	out := rules.DefaultAdvance() // stands in for a value that is wrong, so that the other checks can go on
	mark(p, "advance", s.At.Pos)
	mark(p, "advance.done", s.Done.At)
	mark(p, "advance.of last", s.OfLast.At)
	mark(p, "advance.scores", s.Scores.At)
	if done, ok := l.percent(s.Done); ok {
		out.Done = done
	}
	last, ok := l.days(s.OfLast, 1, rules.MaxWindow)
	if ok {
		out.Last = last
	}
	scores, okScores := l.whole(s.Scores, 0, rules.MaxWindow)
	if okScores {
		out.Scores = scores
	}
	if ok && okScores && scores > last {
		at := s.Scores.At
		if !s.Scores.written() {
			at = s.OfLast.At
		}
		l.wrong(at, fmt.Sprintf("advance asks for %d scores in %s", scores, plural(last, "day")), "ask for at most one score a day")
	}
	return out
}

// wear reads the wear-in schedule.
func (l *loader) wear(p *rules.Program, s *wearShape) *rules.Wear {
	const day = 24 * time.Hour
	w := &rules.Wear{Every: 1, At: s.At.Pos}
	mark(p, "wear", s.At.Pos)
	var okFirst, okFull bool
	if l.need(s.At, "first", "write how long the devices are worn on the first day, like 1h") {
		w.First, okFirst = l.wearTime(s.First, time.Minute, day)
	}
	if l.need(s.At, "full", "write the longest time to wear them, like 8h") {
		w.Full, okFull = l.wearTime(s.Full, time.Minute, day)
	}
	w.Add, _ = l.wearTime(s.Add, time.Minute, day)
	if every, ok := l.days(s.Every, 1, 28); ok {
		w.Every = every
	}
	switch {
	case !okFirst || !okFull:
	case w.First > w.Full:
		l.wrong(s.First.At, "the wear-in begins with "+spoken(w.First)+", over its full time of "+spoken(w.Full), "write a first that is at most the full")
	case w.First < w.Full:
		l.need(s.At, "add", "write how much longer they are worn each time, like 1h")
	}
	return w
}

// wearTime reads a time of whole minutes.
func (l *loader) wearTime(v Value, low, high time.Duration) (time.Duration, bool) {
	d, ok := l.span(v, low, high, "1h or 30 min")
	if ok && d%time.Minute != 0 {
		l.wrong(v.At, v.Key+" is no number of whole minutes", "write it in hours and minutes, like 1h 30m")
		return 0, false
	}
	return d, ok
}
