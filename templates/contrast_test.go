package templates

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// luminance is the relative luminance of a color written #rrggbb: WCAG 2.2,
// definition of relative luminance.
func luminance(color string) float64 {
	v, err := strconv.ParseUint(strings.TrimPrefix(color, "#"), 16, 32)
	if err != nil || len(color) != 7 {
		panic(fmt.Sprintf("color %q", color))
	}
	part := func(shift int) float64 {
		c := float64(v>>shift&0xff) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}

// contrast is the contrast ratio of two colors: WCAG 2.2, definition of
// contrast ratio.
func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Black on white is 21:1 (same definition); #767676 on white is the known gray
// that just meets 4.5:1 (from memory).
func TestContrastFormula(t *testing.T) {
	if c := contrast("#000000", "#ffffff"); math.Abs(c-21) > 1e-9 {
		t.Errorf("black on white: %v, want 21", c)
	}
	if just, under := contrast("#767676", "#ffffff"), contrast("#777777", "#ffffff"); just < 4.5 || under >= 4.5 {
		t.Errorf("#767676 %v, #777777 %v; want on either side of 4.5", just, under)
	}
}

var (
	darkRule  = regexp.MustCompile(`\.(\w+) \{([^}]*)\}`)
	textColor = regexp.MustCompile(`(?:^|[; ])color: ?(#[0-9a-f]{6})`)
	backColor = regexp.MustCompile(`background-color: ?(#[0-9a-f]{6})`)
)

// colors are what is seen of an element.
type colors struct{ text, back string }

func (c colors) with(style string) colors {
	if m := textColor.FindStringSubmatch(style); m != nil {
		c.text = m[1]
	}
	if m := backColor.FindStringSubmatch(style); m != nil {
		c.back = m[1]
	}
	return c
}

// weakest walks a page in its light or its dark colors and gives the lowest
// contrast of any words in it, with those words.
func weakest(n *html.Node, c colors, dark map[string]string, low *float64, words *string) {
	if n.Type == html.ElementNode {
		if n.Data == "style" || n.Data == "title" {
			return
		}
		if bg := attr(n, "bgcolor"); bg != "" {
			c.back = bg
		}
		c = c.with(attr(n, "style"))
		if dark != nil {
			c = c.with(dark[attr(n, "class")])
		}
	}
	if n.Type == html.TextNode && strings.TrimSpace(n.Data) != "" {
		if got := contrast(c.text, c.back); got < *low {
			*low, *words = got, n.Data
		}
	}
	for child := range n.ChildNodes() {
		weakest(child, c, dark, low, words)
	}
}

// Every word of every page stands out from what is behind it, in light and in
// dark colors: WCAG 2.2, success criterion 1.4.3, 4.5:1.
func TestContrast(t *testing.T) {
	least := map[string]float64{"light": 99, "dark": 99}
	for name, page := range everyPage(t) {
		doc, err := html.Parse(strings.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		dark := map[string]string{}
		for _, m := range darkRule.FindAllStringSubmatch(page, -1) {
			dark[m[1]] = m[2]
		}
		if len(dark) < 8 {
			t.Fatalf("%s has %d dark rules", name, len(dark))
		}
		for mode, sheet := range map[string]map[string]string{"light": nil, "dark": dark} {
			low, words := 99.0, ""
			weakest(doc, colors{"#000000", "#ffffff"}, sheet, &low, &words)
			if low < 4.5 {
				t.Errorf("%s in %s colors: %.2f:1 at %q", name, mode, low, words)
			}
			least[mode] = min(least[mode], low)
		}
	}
	t.Logf("the weakest words: %.1f:1 in light colors, %.1f:1 in dark ones", least["light"], least["dark"])
}
