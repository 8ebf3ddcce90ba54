package templates

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"unicode/utf8"

	"stepgate/rules"
)

// The widths a chart is drawn at: for a page or paper, and for a phone.
const (
	wideChart   = 720.0
	narrowChart = 320.0
)

// timeline places dates along a chart, in whole weeks since the first one.
type timeline struct {
	first       rules.Date
	weeks       int
	left, right float64
}

// timeline covers the dates from first to last, at least two weeks, so that a
// single day does not fill the chart. The charts of a page share their gutters,
// so that their weeks stand under each other.
func (w reportWords) timeline(first, last rules.Date, width float64) timeline {
	return timeline{first: first, weeks: max(2, int(last-first)/7+1), left: w.margin(), right: width - w.gutter()}
}

// margin is the room for the words at the left of an axis.
func (w reportWords) margin() float64 {
	longest := 0
	for _, key := range []string{"pain/worst", "pain/least", "pain/week"} {
		longest = max(longest, utf8.RuneCountInString(w.say(key)))
	}
	return 10 + 6*float64(longest)
}

// gutter is the room for the labels at the right end of lines.
func (w reportWords) gutter() float64 {
	const most = 10 // stands for every score
	longest := 0
	for _, key := range []string{"pain/line pause", "pain/line back", "pain/line hold", "pain/line steady", "first/base", "first/base usual", "first/goal", "step/served", "step/allowed"} {
		longest = max(longest, utf8.RuneCountInString(w.say(key, "n", most)))
	}
	return 12 + 6.4*float64(longest)
}

func (t timeline) day() float64 { return (t.right - t.left) / float64(t.weeks*7) }

// x is the middle of a date.
func (t timeline) x(d rules.Date) float64 { return t.edge(d) + t.day()/2 }

// edge is where a date begins.
func (t timeline) edge(d rules.Date) float64 {
	return min(max(t.left+float64(d-t.first)*t.day(), t.left), t.right)
}

// axis draws the weeks under a chart: a tick each, and numbers with room.
func (t timeline) axis(w reportWords, d *drawing, y float64) {
	d.line("axis", t.left, y, t.right, y)
	every := 1
	for _, every = range []int{1, 2, 4, 8, 13, 26, 52} {
		if t.day()*7*float64(every) >= 22 {
			break
		}
	}
	for i := range t.weeks {
		x := t.left + float64(i)*t.day()*7
		if t.day()*7 >= 6 || i%every == 0 {
			d.line("axis", x, y, x, y+4)
		}
		if i%every == 0 {
			d.text("tick", "middle", x+t.day()*3.5, y+16, strconv.Itoa(i+1))
		}
	}
	d.line("axis", t.right, y, t.right, y+4)
	d.text("tick", "start", 0, y+16, w.say("pain/week"))
}

// labels writes words at the right end of lines, kept apart.
func (t timeline) labels(d *drawing, at []float64, words []string, top, bottom float64) {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case at[a] < at[b]:
			return -1
		case at[a] > at[b]:
			return 1
		}
		return 0
	})
	sorted := make([]float64, len(at))
	for i, k := range order {
		sorted[i] = at[k]
	}
	for i, y := range apart(sorted, 13, top, bottom) {
		d.text("label", "start", t.right+8, y+4, words[order[i]])
	}
}

// painChart draws the daily scores with the lines and the times that the plan
// did not go on.
func (w reportWords) painChart(p *PatientReport, width float64) drawing {
	const top, tall = 22.0, 150.0
	t := w.timeline(p.Days[0].Date, p.AsOf, width)
	y := func(score float64) float64 { return top + tall - score/10*tall }
	d := drawing{W: width, H: top + tall + 34, Class: "pain"}
	scores := allScores(p.Days)
	d.Alt = w.say("pain/alt", "n", len(scores), "low", number(lowest(scores)), "high", number(highest(scores)))
	w.bands(p, t, &d, top, tall)
	d.text("tick", "start", 0, y(10)+4, w.say("pain/worst"))
	d.text("tick", "start", 0, y(0)+4, w.say("pain/least"))
	lines := []struct {
		key string
		at  int
	}{{"pause", p.Lines.Pause}, {"back", p.Lines.StepBack}, {"hold", p.Lines.Hold}, {"steady", p.Lines.Steady}}
	var at []float64
	var words []string
	for _, l := range lines {
		d.line("limit "+l.key, t.left, y(float64(l.at)), t.right, y(float64(l.at)))
		at, words = append(at, y(float64(l.at))), append(words, w.say("pain/line "+l.key, "n", l.at))
	}
	t.labels(&d, at, words, top, top+tall-4)
	t.axis(w, &d, top+tall+12)
	if crowded(t) {
		w.painWeeks(p, t, &d, y)
		return d
	}
	var points [][2]float64
	var before rules.Date
	for _, day := range p.Days {
		unanswered := day.Asked && !day.Answered
		if unanswered {
			points = append(points, [2]float64{0, math.NaN()})
		}
		if day.Score != nil {
			// A day on which another number was asked for is no gap.
			if day.Date > before+2 {
				points = append(points, [2]float64{0, math.NaN()})
			}
			points, before = append(points, [2]float64{t.x(day.Date), y(float64(*day.Score))}), day.Date
		}
		if unanswered {
			d.line("unanswered", t.x(day.Date), top+tall+3, t.x(day.Date), top+tall+9)
		}
	}
	d.path("trace", trace(points))
	r := min(max(t.day()*0.42, 1.8), 3.4)
	for _, day := range p.Days {
		switch {
		case day.Score == nil:
		case *day.Score >= p.Lines.Hold:
			d.diamond("over", t.x(day.Date), y(float64(*day.Score)), r+1.8)
		default:
			d.dot("under", t.x(day.Date), y(float64(*day.Score)), r)
		}
	}
	return d
}

// crowded tells whether days lie too close for a mark each.
func crowded(t timeline) bool { return t.day() < 2.4 }

// painWeeks draws a bar for each week, from its lowest to its highest score,
// with a mark at the median.
func (w reportWords) painWeeks(p *PatientReport, t timeline, d *drawing, y func(float64) float64) {
	byWeek := make([][]ReportDay, t.weeks)
	for _, day := range p.Days {
		i := int(day.Date-t.first) / 7
		byWeek[i] = append(byWeek[i], day)
	}
	r := min(max(t.day()*2.2, 1.6), 3.2)
	for i, days := range byWeek {
		x := t.left + (float64(i)+0.5)*t.day()*7
		scores := allScores(days)
		if len(scores) == 0 {
			if slices.ContainsFunc(days, func(d ReportDay) bool { return d.Asked && !d.Answered }) {
				d.line("unanswered", x, y(0)+3, x, y(0)+9)
			}
			continue
		}
		slices.Sort(scores)
		d.line("range", x, y(float64(scores[0])), x, y(float64(scores[len(scores)-1])))
		mid := float64(scores[(len(scores)-1)/2]+scores[len(scores)/2]) / 2
		if scores[len(scores)-1] >= p.Lines.Hold {
			d.diamond("over", x, y(float64(scores[len(scores)-1])), r+0.8)
		}
		d.dot("under", x, y(mid), r)
	}
}

// bands hatches the times of holds and pauses, with the number of their row in
// the table where there is room.
func (w reportWords) bands(p *PatientReport, t timeline, d *drawing, top, tall float64) {
	last := -100.0
	for i, s := range p.Spans {
		class, word := bandOf(s.Kind), ""
		switch class {
		case "":
			continue
		case "held":
			word = w.say("pain/key hold")
		case "paused":
			word = w.say("pain/key pause")
		}
		x := t.edge(s.From)
		wide := max(t.edge(s.To+1)-x, 1)
		d.rect("band "+class, x, top, wide, tall)
		n := strconv.Itoa(i + 1)
		if word != "" && wide >= float64(len(n)+1+len(word))*6.4 {
			n += " " + word
		}
		half := float64(len(n)) * 3.4
		if middle := x + wide/2; middle-half > last+3 {
			d.text("note", "middle", middle, top-7, n)
			last = middle + half
		}
	}
}

// stepChart draws the step asked for against what the calendar alone allows.
func (w reportWords) stepChart(p *PatientReport, width float64) drawing {
	t := w.timeline(p.Days[0].Date, p.AsOf, width)
	steps := max(p.Steps, 1)
	for _, day := range p.Days {
		steps = max(steps, day.Step, day.Allowed)
	}
	row := min(22.0, 120/float64(steps))
	top, tall := 12.0, row*float64(steps)
	y := func(step int) float64 { return top + tall - (float64(step)-0.5)*row }
	d := drawing{W: width, H: top + tall + 24, Class: "steps"}
	every := int(math.Ceil(14 / row))
	for step := 1; step <= steps; step++ {
		d.line("grid", t.left, y(step), t.right, y(step))
		if (step-1)%every == 0 {
			d.text("tick", "end", t.left-6, y(step)+4, strconv.Itoa(step))
		}
	}
	d.text("tick", "start", 0, top-2, w.say("head/step"))
	t.axis(w, &d, top+tall+4)
	d.path("allowed", stairs(p.Days, t, func(day ReportDay) int { return day.Allowed }, y))
	d.path("served", stairs(p.Days, t, func(day ReportDay) int { return day.Step }, y))
	last := p.Days[len(p.Days)-1]
	d.Alt = w.say("step/alt", "day", last.Day, "step", last.Step, "allowed", last.Allowed)
	if last.Step > 0 && last.Allowed > 0 && last.Step != last.Allowed {
		t.labels(&d, []float64{y(last.Step), y(last.Allowed)}, []string{w.say("step/served"), w.say("step/allowed")}, top, top+tall)
	}
	return d
}

// stairs is a line that keeps its height over each date.
func stairs(days []ReportDay, t timeline, step func(ReportDay) int, y func(int) float64) string {
	path, before := "", 0
	for i, day := range days {
		n := step(day)
		end := t.edge(day.Date + 1)
		if i+1 < len(days) {
			end = t.edge(days[i+1].Date)
		}
		switch {
		case n == 0:
		case n != before && before != 0:
			path += fmt.Sprintf("V%s", unitsOf(y(n)))
		case before == 0:
			path += fmt.Sprintf("M%s %s", unitsOf(t.edge(day.Date)), unitsOf(y(n)))
		}
		if n != 0 && (i+1 == len(days) || step(days[i+1]) != n) {
			path += fmt.Sprintf("H%s", unitsOf(end))
		}
		before = n
	}
	return path
}

func allScores(days []ReportDay) []int {
	var out []int
	for _, d := range days {
		if d.Score != nil {
			out = append(out, *d.Score)
		}
	}
	return out
}

func lowest(list []int) *int {
	if len(list) == 0 {
		return nil
	}
	n := slices.Min(list)
	return &n
}

func highest(list []int) *int {
	if len(list) == 0 {
		return nil
	}
	n := slices.Max(list)
	return &n
}
