package templates

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"
)

// everyPage is all HTML there is, by name.
func everyPage(t *testing.T) map[string]string {
	t.Helper()
	out := pageSamples(t)
	for _, s := range samples(t) {
		out["mail/"+s.name] = s.msg.HTML
	}
	return out
}

// elements parses a page as a browser would, and lists its elements.
func elements(t *testing.T, page string) []*html.Node {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var out []*html.Node
	for n := range doc.Descendants() {
		if n.Type == html.ElementNode {
			out = append(out, n)
		}
	}
	return out
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// plainElements are those that neither run nor fetch anything.
var plainElements = strings.Fields("html head meta title style body div p br h1 h2 h3 ol ul li b span pre a table tbody tr td form input label button")

// No page runs anything or loads anything from elsewhere. A link is the only
// thing that names a site, and a form posts.
func TestPagesAreSelfContained(t *testing.T) {
	outside := regexp.MustCompile(`(?i)url\(|@import|expression\(|https?:`)
	for name, page := range everyPage(t) {
		for _, n := range elements(t, page) {
			if !slices.Contains(plainElements, n.Data) {
				t.Errorf("%s has the element %s", name, n.Data)
			}
			for _, a := range n.Attr {
				link := n.Data == "a" && a.Key == "href"
				if strings.HasPrefix(a.Key, "on") || a.Key == "src" || !link && outside.MatchString(a.Val) {
					t.Errorf("%s: %s has %s=%q", name, n.Data, a.Key, a.Val)
				}
				if link && !strings.HasPrefix(a.Val, "https://") {
					t.Errorf("%s links to %q", name, a.Val)
				}
			}
			if n.Data == "form" && attr(n, "method") != "post" {
				t.Errorf("%s has a form that does not post", name)
			}
			if n.Data == "style" && outside.MatchString(n.FirstChild.Data) {
				t.Errorf("%s has a sheet that loads something", name)
			}
		}
	}
}

// nested are the elements of a page that have to be closed.
var nested = regexp.MustCompile(`<(/?)(html|head|title|style|body|div|p|h\d|ol|ul|li|b|span|pre|a|table|tr|td|form|label|button)\b[^>]*>`)

// A browser forgives what is not closed; some mail readers don't.
func TestPagesAreWellNested(t *testing.T) {
	for name, page := range everyPage(t) {
		var open []string
		for _, m := range nested.FindAllStringSubmatch(page, -1) {
			switch last := len(open) - 1; {
			case m[1] == "":
				open = append(open, m[2])
			case last >= 0 && open[last] == m[2]:
				open = open[:last]
			default:
				t.Fatalf("%s closes %s, open are %v", name, m[2], open)
			}
		}
		if len(open) > 0 {
			t.Errorf("%s leaves %v open", name, open)
		}
	}
}

// Letters are 16 px or more, and what is to be tapped is 44 px or more: WCAG
// 2.2, success criterion 2.5.5.
func TestPagesAreLarge(t *testing.T) {
	px := func(style, key string) int {
		m := regexp.MustCompile(`(?:^|[; ])` + key + `:\s*(\d+)px`).FindStringSubmatch(style)
		if m == nil {
			return 0
		}
		n, _ := strconv.Atoi(m[1])
		return n
	}
	buttons := 0
	for name, page := range everyPage(t) {
		for _, n := range elements(t, page) {
			style := attr(n, "style")
			if size := px(style, "font-size"); size > 0 && size < 16 {
				t.Errorf("%s has letters of %d px", name, size)
			}
			if attr(n, "class") != "btn" {
				continue
			}
			buttons++
			if max(px(style, "line-height"), px(style, "min-height")) < 44 {
				t.Errorf("%s has a button that is too low: %s", name, style)
			}
			if wide := px(style, "width"); wide > 0 && wide < 44 {
				t.Errorf("%s has a button of %d px", name, wide)
			}
		}
	}
	if buttons < 30 {
		t.Errorf("only %d buttons were seen", buttons)
	}
}

// Whatever a patient or a file holds, it stays text.
func TestPagesEscape(t *testing.T) {
	const evil = `"'><script>alert(1)</script><img src=x onerror=y>{{.}}&`
	s := newSet(t)
	c := Clinic{Name: evil, Phone: evil, Hours: evil, AfterHours: evil, Emergency: evil}
	a := AlertData{ID: evil, Name: evil, Quote: evil, Detail: evil, State: evil, File: evil, Today: monday, Commands: []string{evil, "hold"}}
	line := AnswerLine{ID: evil, Name: evil, Did: evil, File: evil, Problem: evil}
	row := []DigestRow{{ID: evil, Name: evil, Step: evil, State: evil, Wear: evil, Days: []DigestDay{{Done: evil}}}}
	row[0].Why.Code = evil
	p := Patient{Name: evil, Proxy: evil, Links: &DayLinks{Done: `javascript:alert(1)`, Some: `https://x.example/"><script>`, Stop: "data:text/html,x"}}
	for name, page := range map[string]string{
		"alerts":   s.Alerts(c, AlertMail{Alerts: []AlertData{a, a, a, a}, Token: evil, Link: evil}).HTML,
		"answered": s.AlertAnswered(c, AlertAnswer{Lines: []AnswerLine{line}, Problem: evil}).HTML,
		"paused":   s.StillPaused(c, p, monday).HTML,
		"daily":    s.Daily(c, p, sampleProgram(), dayOf(oneDue, 0)).HTML,
		"digest":   s.Digest(c, Digest{Look: row, Held: row, Rest: row}).HTML,
		"link": string(s.LinkPage(LinkPage{Clinic: evil, What: "done", State: "ask", Action: "javascript:x", Phone: evil,
			Emergency: evil})),
		"thanks": string(s.LinkPage(LinkPage{What: evil, State: "thanks", Answer: []string{evil}})),
		"page":   string(s.AlertPage(AlertPage{Clinic: c, Items: []AlertPageItem{{1, a, false}}, State: "ask", Action: evil, Lines: []AnswerLine{line}})),
	} {
		for _, n := range elements(t, page) {
			if !slices.Contains(plainElements, n.Data) {
				t.Errorf("%s: the element %s got in", name, n.Data)
			}
			for _, at := range n.Attr {
				if strings.HasPrefix(at.Key, "on") || strings.HasPrefix(at.Val, "javascript:") || strings.HasPrefix(at.Val, "data:") {
					t.Errorf("%s: %s=%q got in", name, at.Key, at.Val)
				}
			}
		}
		if name != "daily" && name != "paused" && !strings.Contains(page, "&lt;script&gt;alert(1)") {
			t.Errorf("%s does not show the words", name)
		}
	}
}
