package templates

import (
	"fmt"
	"math"
	"strings"
)

// drawing is a chart as marks on a plane of units; at full size a unit is a
// CSS pixel. Color never tells alone: marks differ by shape, dash, hatch or
// label, and their classes stand in report.css.
type drawing struct {
	W, H  float64
	Alt   string // what a screen reader says instead
	Class string
	Marks []mark
}

// mark is one element of the SVG.
type mark struct {
	Tag            string // line, rect, path or text
	Class          string
	X, Y, X2, Y2   string
	D, Anchor, Say string
}

// unitsOf writes a length with a tenth of a unit at most.
func unitsOf(v float64) string {
	s := fmt.Sprintf("%.1f", v)
	return strings.TrimSuffix(s, ".0")
}

func (d *drawing) line(class string, x, y, x2, y2 float64) {
	d.Marks = append(d.Marks, mark{Tag: "line", Class: class, X: unitsOf(x), Y: unitsOf(y), X2: unitsOf(x2), Y2: unitsOf(y2)})
}

// rect takes its size in X2 and Y2.
func (d *drawing) rect(class string, x, y, w, h float64) {
	d.Marks = append(d.Marks, mark{Tag: "rect", Class: class, X: unitsOf(x), Y: unitsOf(y), X2: unitsOf(w), Y2: unitsOf(h)})
}

func (d *drawing) text(class, anchor string, x, y float64, say string) {
	d.Marks = append(d.Marks, mark{Tag: "text", Class: class, Anchor: anchor, X: unitsOf(x), Y: unitsOf(y), Say: say})
}

func (d *drawing) path(class, path string) {
	if path != "" {
		d.Marks = append(d.Marks, mark{Tag: "path", Class: class, D: path})
	}
}

// dot is a circle as a path, so that there is one kind of shape.
func (d *drawing) dot(class string, x, y, r float64) {
	d.path(class, fmt.Sprintf("M%s %sa%s %s 0 1 0 %s 0a%s %s 0 1 0 -%s 0z", unitsOf(x-r), unitsOf(y),
		unitsOf(r), unitsOf(r), unitsOf(2*r), unitsOf(r), unitsOf(r), unitsOf(2*r)))
}

// diamond is the mark of a score at or over a line.
func (d *drawing) diamond(class string, x, y, r float64) {
	d.path(class, fmt.Sprintf("M%s %sl%s %sl-%s %sl-%s -%sz", unitsOf(x), unitsOf(y-r),
		unitsOf(r), unitsOf(r), unitsOf(r), unitsOf(r), unitsOf(r), unitsOf(r)))
}

// square is the mark of first-step pain.
func (d *drawing) square(class string, x, y, r float64) { d.rect(class, x-r, y-r, 2*r, 2*r) }

// trace joins points with straight lines; a point that is not a number is a gap.
func trace(points [][2]float64) string {
	var b strings.Builder
	draw := false
	for i, p := range points {
		if math.IsNaN(p[1]) {
			draw = false
			continue
		}
		next := i+1 < len(points) && !math.IsNaN(points[i+1][1])
		switch {
		case draw:
			fmt.Fprintf(&b, "L%s %s", unitsOf(p[0]), unitsOf(p[1]))
		case next: // a point alone is no line
			fmt.Fprintf(&b, "M%s %s", unitsOf(p[0]), unitsOf(p[1]))
		}
		draw = draw || next
	}
	return b.String()
}

// apart moves labels that stand too close down or up, so that each is at least
// gap from the next and all are between top and bottom. They come sorted.
func apart(at []float64, gap, top, bottom float64) []float64 {
	out := append([]float64{}, at...)
	for i := range out {
		out[i] = max(out[i], top)
		if i > 0 {
			out[i] = max(out[i], out[i-1]+gap)
		}
	}
	for i := len(out) - 1; i >= 0; i-- {
		out[i] = min(out[i], bottom)
		if i+1 < len(out) {
			out[i] = min(out[i], out[i+1]-gap)
		}
	}
	return out
}
