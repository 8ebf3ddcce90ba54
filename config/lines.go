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

// painLine is one of the four pain lines, as it is being read.
type painLine struct {
	key  string
	v    Value // not written: the score comes from elsewhere
	into *int
}

// painLines reads the pain lines and checks that they rise.
func (l *loader) painLines(p *rules.Program, s painShape) rules.Lines {
	mark(p, "pain", s.At.Pos)
	mark(p, "pain.clear days", s.ClearDays.At)
	for _, x := range linesOf(s, &rules.Lines{}) {
		mark(p, "pain."+x.key, x.v.At)
	}
	var out rules.Lines
	l.lines(s, &out, "")
	return out
}

// linesOf pairs what is written with the lines it sets.
func linesOf(s painShape, into *rules.Lines) []painLine {
	return []painLine{
		{"steady", s.Steady, &into.Steady}, {"hold", s.Hold, &into.Hold},
		{"step back", s.StepBack, &into.StepBack}, {"pause", s.Pause, &into.Pause},
	}
}

// lines reads the lines that are given into those that stand already, and
// checks that they rise. other says whose the lines are that are not written.
func (l *loader) lines(s painShape, into *rules.Lines, other string) bool {
	all := linesOf(s, into)
	good := !s.At.Bad
	read := func(v Value, low, high int, into *int) {
		if v.Key == "" {
			return // not given at all
		}
		n, ok := l.whole(v, low, high)
		if good = good && ok; ok {
			*into = n
		}
	}
	for _, x := range all {
		read(x.v, 0, 10, x.into)
	}
	read(s.ClearDays, 1, 14, &into.ClearDays)
	if !good {
		return false
	}
	say := func(x painLine) string {
		text := fmt.Sprintf("%s %d", x.key, *x.into)
		if !x.v.written() {
			text += other
		}
		return text
	}
	for i := 1; i < len(all); i++ {
		low, high := all[i-1], all[i]
		bad := *low.into > *high.into || low.key == "steady" && *low.into == *high.into
		if !bad || !low.v.written() && !high.v.written() {
			continue
		}
		at := high.v.At
		if !high.v.written() {
			at = low.v.At
		}
		l.wrong(at, "the pain lines are out of order: "+say(low)+", "+say(high),
			"let them rise: steady under hold, hold up to step back, step back up to pause")
		good = false
	}
	return good
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

// duringHold is what the wear day can do during a pain hold, the default first.
var duringHold = []string{"waits", "goes on"}

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
	if during, ok := l.choice(s.DuringHold, duringHold...); ok {
		w.GoesOn = during == duringHold[1]
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
