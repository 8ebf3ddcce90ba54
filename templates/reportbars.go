package templates

import (
	"fmt"
	"math"
	"strconv"
)

// bar is one week of something kept, or several: part of of, and of the days
// asked where that is another number.
type bar struct {
	week     int // the first of them
	part, of float64
	asked    int
	reported bool // under it: of and asked; else of alone
}

func (b bar) under() string {
	if b.reported {
		return fmt.Sprintf("%d/%d", int(b.of), b.asked)
	}
	return strconv.Itoa(int(b.of))
}

// barSlot is the room for a bar among n, in units.
func (w reportWords) barSlot(n int) float64 { return (narrowChart - w.margin()) / float64(max(n, 4)) }

// together joins neighboring weeks until there is room for the figures of all.
// per is how many weeks a bar is.
func (w reportWords) together(weeks []bar) (out []bar, per int) {
	for per = 1; ; per *= 2 {
		out = out[:0]
		wide := 0
		for i, b := range weeks {
			if i%per == 0 {
				out = append(out, b)
			} else {
				to := &out[len(out)-1]
				to.part, to.of, to.asked = to.part+b.part, to.of+b.of, to.asked+b.asked
			}
			wide = max(wide, len(out[len(out)-1].under()), len("100"))
		}
		if len(out) <= 1 || float64(wide)*6.4+2 <= w.barSlot(len(out)) {
			return out, per
		}
	}
}

// barChart draws a bar for each, the percentage over it and the numbers it is
// made of under it. A bar of nothing is a dash.
func (w reportWords) barChart(bars []bar, alt string) drawing {
	const top, tall = 20.0, 72.0
	left := w.margin()
	d := drawing{W: narrowChart, H: top + tall + 42, Class: "bars", Alt: alt}
	base := top + tall
	slot := w.barSlot(len(bars))
	for _, h := range []float64{0.5, 1} {
		d.line("grid", left, base-tall*h, narrowChart, base-tall*h)
	}
	d.text("tick", "end", left-4, base-tall+4, "100")
	d.text("tick", "end", left-4, base-tall/2+4, "50")
	d.text("tick", "end", left-4, base+4, "0 %")
	d.line("axis", left, base, narrowChart, base)
	d.text("tick", "start", 0, base+32, w.say("pain/week"))
	for i, b := range bars {
		x := left + (float64(i)+0.5)*slot
		d.text("tick strong", "middle", x, base+32, strconv.Itoa(b.week))
		d.text("tick", "middle", x, base+15, b.under())
		if b.of == 0 {
			d.text("tick", "middle", x, base-4, "–")
			continue
		}
		h := tall * b.part / b.of
		wide := min(slot*0.62, 26)
		if h > 0 {
			d.rect("bar", x-wide/2, base-h, wide, h)
		}
		d.text("figure", "middle", x, base-h-5, strconv.Itoa(percent(b.part, b.of)))
	}
	return d
}

// percent is part of of in whole per cent; 100 only where it is all.
func percent(part, of float64) int {
	if of == 0 {
		return 0
	}
	n := int(math.Round(100 * part / of))
	if n == 100 && part < of {
		return 99
	}
	return n
}

// exerciseBars are the weeks of the exercises.
func exerciseBars(weeks []ReportWeek) []bar {
	var bars []bar
	for _, k := range weeks {
		if k.Week > 0 {
			bars = append(bars, bar{week: k.Week, part: float64(k.Halves) / 2, of: float64(k.Due)})
		}
	}
	return bars
}

// wearBars are the weeks of the wear-in.
func wearBars(weeks []ReportWearWeek) []bar {
	var bars []bar
	for _, k := range weeks {
		bars = append(bars, bar{week: k.Week, part: float64(k.Kept), of: float64(k.Reported), asked: k.Asked, reported: true})
	}
	return bars
}

// firstChart draws the answers about the first steps, with what they are
// compared with and the change that counts.
func (w reportWords) firstChart(p *PatientReport, width float64) drawing {
	const top, tall = 14.0, 96.0
	f := p.First
	first, last := f.Answers[0], f.Answers[len(f.Answers)-1]
	t := w.timeline(min(p.Days[0].Date, first.Date), max(p.AsOf, last.Date), width)
	y := func(score float64) float64 { return top + tall - score/10*tall }
	d := drawing{W: width, H: top + tall + 34, Class: "first"}
	d.Alt = w.say("first/alt", "n", len(f.Answers), "from", first.Score, "to", last.Score)
	d.text("tick", "start", 0, y(10)+4, w.say("pain/worst"))
	d.text("tick", "start", 0, y(0)+4, w.say("pain/least"))
	d.line("grid", t.left, y(10), t.right, y(10))
	t.axis(w, &d, top+tall+12)
	var at []float64
	var words []string
	if f.Base != nil {
		key := "first/base"
		if f.Usual {
			key += " usual"
		}
		d.line("limit base", t.left, y(float64(*f.Base)), t.right, y(float64(*f.Base)))
		at, words = append(at, y(float64(*f.Base))), append(words, w.say(key, "n", *f.Base))
	}
	if f.Goal != nil {
		d.line("limit goal", t.left, y(float64(*f.Goal)), t.right, y(float64(*f.Goal)))
		at, words = append(at, y(float64(*f.Goal))), append(words, w.say("first/goal", "n", *f.Goal))
	}
	t.labels(&d, at, words, top, top+tall)
	var points [][2]float64
	for _, a := range f.Answers {
		points = append(points, [2]float64{t.x(a.Date), y(float64(a.Score))})
	}
	d.path("trace", trace(points))
	gap := (t.right - t.left) / float64(len(f.Answers))
	for _, a := range f.Answers {
		x, at := t.x(a.Date), y(float64(a.Score))
		d.square("mark", x, at, min(3.6, max(gap/3, 1.6)))
		if gap >= 16 && a.Score < 10 {
			d.text("figure", "middle", x, at-8, strconv.Itoa(a.Score))
		} else if gap >= 16 {
			d.text("figure", "middle", x, at+16, strconv.Itoa(a.Score))
		}
	}
	return d
}
