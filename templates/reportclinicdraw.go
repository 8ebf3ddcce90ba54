package templates

import (
	"math"
	"strconv"
)

// weekAxis is the axis of a clinic's chart: per cent upward, weeks to the
// right, and under each week how many patients it is of.
type weekAxis struct {
	n                     int
	left, top, tall, slot float64
}

func newWeekAxis(n int) weekAxis {
	a := weekAxis{n: max(n, 4), left: 34, top: 14, tall: 96}
	a.slot = (narrowChart - a.left - 6) / float64(a.n)
	return a
}

func (a weekAxis) x(i int) float64       { return a.left + (float64(i)+0.5)*a.slot }
func (a weekAxis) y(per float64) float64 { return a.top + a.tall - a.tall*per/100 }

// draw begins a chart with its axis. counts are the patients of each week.
func (a weekAxis) draw(d *drawing, weeks, counts []int) {
	d.W, d.H = narrowChart, a.top+a.tall+44
	for _, per := range []float64{50, 100} {
		d.line("grid", a.left, a.y(per), narrowChart, a.y(per))
		d.text("tick", "end", a.left-4, a.y(per)+4, strconv.Itoa(int(per)))
	}
	d.text("tick", "end", a.left-4, a.y(0)+4, "0 %")
	d.line("axis", a.left, a.y(0), narrowChart, a.y(0))
	d.text("tick", "start", 0, a.y(0)+20, "n")
	d.text("tick", "start", 0, a.y(0)+36, "week")
	digits := 1
	for _, n := range counts {
		digits = max(digits, len(strconv.Itoa(n)))
	}
	every := int(math.Ceil(float64(max(digits, 2)) * 7.5 / a.slot))
	for i := range weeks {
		if i%every == 0 {
			d.text("tick", "middle", a.x(i), a.y(0)+20, strconv.Itoa(counts[i]))
			d.text("tick strong", "middle", a.x(i), a.y(0)+36, strconv.Itoa(weeks[i]))
		}
	}
}

// spreadChart draws the median with the middle half of the patients around it.
func (w reportWords) spreadChart(weeks []ClinicWeek, alt string) *drawing {
	a := newWeekAxis(len(weeks))
	d := &drawing{Class: "spread", Alt: alt}
	var numbers, counts []int
	var median [][2]float64
	for _, k := range weeks {
		numbers, counts = append(numbers, k.Week), append(counts, k.N)
	}
	a.draw(d, numbers, counts)
	for i := 0; i < len(weeks); i++ {
		end := i
		for end < len(weeks) && weeks[end].N > 0 {
			end++
		}
		if end > i+1 {
			d.path("between", bandPath(weeks[i:end], i, a))
		}
		if end == i+1 {
			d.line("range", a.x(i), a.y(weeks[i].Low), a.x(i), a.y(weeks[i].High))
		}
		i = max(i, end)
	}
	for i, k := range weeks {
		y := math.NaN()
		if k.N > 0 {
			y = a.y(k.Median)
		}
		median = append(median, [2]float64{a.x(i), y})
	}
	d.path("middle", trace(median))
	for i, k := range weeks {
		if k.N > 0 {
			d.dot("under", a.x(i), a.y(k.Median), min(3.2, max(a.slot/3, 1.5)))
		}
	}
	return d
}

// bandPath goes along the upper quartiles and back along the lower ones.
func bandPath(weeks []ClinicWeek, from int, a weekAxis) string {
	path := ""
	for i, k := range weeks {
		path += map[bool]string{true: "M", false: "L"}[i == 0] + unitsOf(a.x(from+i)) + " " + unitsOf(a.y(k.High))
	}
	for i := len(weeks) - 1; i >= 0; i-- {
		path += "L" + unitsOf(a.x(from+i)) + " " + unitsOf(a.y(weeks[i].Low))
	}
	return path + "z"
}

// answersChart draws the part of those who could still have answered that did.
func (w reportWords) answersChart(weeks []ClinicAnswers) *drawing {
	a := newWeekAxis(len(weeks))
	d := &drawing{Class: "answers", Alt: "Line chart of patients still answering by week. The figures are in the table below it."}
	var numbers, counts []int
	var line [][2]float64
	for i, k := range weeks {
		numbers, counts = append(numbers, k.Week), append(counts, k.Could)
		y := math.NaN()
		if k.Could > 0 {
			y = a.y(100 * float64(k.Answering) / float64(k.Could))
		}
		line = append(line, [2]float64{a.x(i), y})
	}
	a.draw(d, numbers, counts)
	d.path("middle", trace(line))
	for _, p := range line {
		if !math.IsNaN(p[1]) {
			d.square("mark", p[0], p[1], min(3, max(a.slot/3, 1.5)))
		}
	}
	return d
}

// Whisker draws a rate with its interval on a scale that ends at top; one of
// too few is not drawn.
func (r ClinicHurt) Whisker(top float64) drawing {
	d := drawing{W: 160, H: 18, Class: "whisker", Alt: "Interval on a scale from 0 to " + unitsOf(top)}
	d.line("grid", 0, 9, 160, 9)
	d.line("axis", 0.5, 3, 0.5, 15)
	if r.Rate == nil || r.TooFew {
		return d
	}
	x := func(v float64) float64 { return min(v, top)/top*154 + 3 }
	d.line("range", x(r.Rate.Low), 9, x(r.Rate.High), 9)
	for _, v := range []float64{r.Rate.Low, r.Rate.High} {
		d.line("range", x(v), 5, x(v), 13)
	}
	d.dot("under", x(r.Rate.Per100), 9, 4)
	return d
}
