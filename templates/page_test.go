package templates

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"stepgate/rules"
)

// hrefs are the links of a page, in order.
func hrefs(t *testing.T, page string) (out []string) {
	t.Helper()
	for _, n := range elements(t, page) {
		if n.Data == "a" {
			out = append(out, attr(n, "href"))
		}
	}
	return out
}

// A day's mail has the buttons its question wants, and no others.
func TestDayLinks(t *testing.T) {
	s := newSet(t)
	three := []string{linked(false).Done, linked(false).Some, linked(false).None}
	eleven, stop := slices.Clone(linked(false).Pain[:]), []string{linked(false).Stop}
	for name, c := range map[string]struct {
		dec   rules.Decision
		first bool
		want  [][]string
		label string
	}{
		"exercises":       {dayOf(oneDue, 0), false, [][]string{three, eleven, stop}, "Worst foot or leg pain today:"},
		"first steps":     {dayOf(oneDue, 0, firstSteps), true, [][]string{three, eleven, stop}, "Pain of your first steps this morning:"},
		"another pain":    {dayOf(oneDue, 0, firstSteps), false, [][]string{three, stop}, ""},
		"another pain 2":  {dayOf(oneDue, 0), true, [][]string{three, stop}, ""},
		"held":            {dayOf(oneDue, 0, held), false, [][]string{three, eleven, stop}, "Pain now:"},
		"rest":            {dayOf(oneDue, 0, rest(rules.PainHeld)), false, [][]string{eleven, stop}, "Pain now:"},
		"nothing due":     {dayOf(nil, 3600e9), false, [][]string{eleven, stop}, "Worst foot or leg pain today:"},
		"nothing asked":   {dayOf(oneDue, 0, func(d *rules.Decision) { d.Ask = rules.AskNothing }), false, [][]string{three, stop}, ""},
		"a long silence":  {dayOf(oneDue, 0, weekly), false, [][]string{eleven, stop}, "Worst foot or leg pain today:"},
		"the closing one": {dayOf(oneDue, 0, closing), false, [][]string{stop}, ""},
	} {
		m := s.Daily(harbor, withLinks(c.first), sampleProgram(), c.dec)
		if got, want := hrefs(t, m.HTML), slices.Concat(c.want...); !slices.Equal(got, want) {
			t.Errorf("%s links to\n%q, want\n%q", name, got, want)
		}
		for _, label := range []string{"Worst foot or leg pain today:", "Pain of your first steps this morning:", "Pain now:"} {
			if strings.Contains(visible(m.HTML), label) != (label == c.label) {
				t.Errorf("%s: the label %q, want %q", name, label, c.label)
			}
		}
		bare := s.Daily(harbor, ana, sampleProgram(), c.dec)
		if bare.Text != m.Text || len(hrefs(t, bare.HTML)) > 0 || strings.Contains(bare.HTML, "tap here") {
			t.Errorf("%s: links change the text, or are there without being given", name)
		}
	}
	p := withLinks(false)
	p.Links.Some, p.Links.Pain[3], p.Links.Stop = "", "", ""
	if got := hrefs(t, s.Daily(harbor, p, sampleProgram(), dayOf(oneDue, 0)).HTML); len(got) != 12 || slices.Contains(got, "") {
		t.Errorf("links that are not there: %q", got)
	}
}

// controls are the named fields of a page, with what they send.
func controls(t *testing.T, page string) (forms int, fields []string) {
	t.Helper()
	for _, n := range elements(t, page) {
		switch n.Data {
		case "form":
			forms++
		case "input":
			fields = append(fields, attr(n, "name")+"="+attr(n, "value"))
		}
	}
	return forms, fields
}

// Only a page that asks has a form, it says what it sends, and what makes no
// sense is not asked.
func TestLinkPages(t *testing.T) {
	s := newSet(t)
	says := map[string]string{"done": "you did all of the exercises", "some": "you did part of the exercises", "none": "you did no exercises",
		"pain": "Your worst foot or leg pain: 7 of 10", "first step": "Pain of your first steps this morning: 7 of 10", "stop": "no more mails"}
	for _, state := range []string{"ask", "thanks", "expired", "used", "bad", "", "other"} {
		for _, what := range append([]string{"", "other"}, asked...) {
			for _, n := range []*int{score(7), nil, score(11), score(-1)} {
				p := LinkPage{What: what, Score: n, State: state, Action: "/a/x", Answer: []string{"Noted."}, Phone: harbor.Phone, Emergency: harbor.Emergency}
				page := string(s.LinkPage(p))
				sound := says[what] != "" && (n != nil && *n == 7 || what != "pain" && what != "first step")
				forms, fields := controls(t, page)
				if (forms == 1) != (state == "ask" && sound) || forms > 1 || len(fields) > 0 {
					t.Errorf("%s %s %v: %d forms, fields %q", state, what, n, forms, fields)
				}
				if forms == 1 && (!strings.Contains(visible(page), says[what]) || !strings.Contains(page, `action="/a/x"`)) {
					t.Errorf("%s does not say what it sends:\n%s", what, page)
				}
				nothing := strings.Contains(page, "Nothing was sent")
				if thanks := state == "thanks"; nothing != (!thanks && forms == 0) || thanks != strings.Contains(page, "Noted.") {
					t.Errorf("%s %s: %s", state, what, page)
				}
				if !strings.Contains(visible(page), "Call "+harbor.Phone+". Emergency: 911.") {
					t.Errorf("%s %s does not say whom to call", state, what)
				}
			}
		}
	}
}

// What a link's page says is as easy to read as a text, and so are the mails
// with all that stands in their HTML alone.
func TestReadingLevelOfPages(t *testing.T) {
	block := regexp.MustCompile(`</(p|h\d|li|button|title)>|<br>`)
	worst, which := -99.0, ""
	check := func(name, page string) {
		_, page, _ = strings.Cut(page, "</style>")
		g := grade(count(syllables, visible(block.ReplaceAllString(page, "\n"))))
		if g > 6 {
			t.Errorf("%s is of grade %.1f:\n%s", name, g, visible(page))
		}
		if g > worst {
			worst, which = g, name
		}
	}
	for name, page := range pageSamples(t) {
		if strings.HasPrefix(name, "link-") {
			check(name, page)
		}
	}
	for _, s := range samples(t) {
		if !s.team {
			check("mail/"+s.name, s.msg.HTML)
		}
	}
	t.Logf("the hardest page is %s, grade %.1f", which, worst)
}

// A clinician's form offers the commands of its alert. Nothing is chosen
// beforehand where there is a choice, and a date belongs to a hold.
func TestAlertPage(t *testing.T) {
	s := newSet(t)
	var items []AlertPageItem
	for i, a := range morning(t) {
		items = append(items, AlertPageItem{Number: i + 1, AlertData: a, Done: i == 1})
	}
	page := string(s.AlertPage(AlertPage{Clinic: harbor, Items: items, Action: "/c/x", State: "ask"}))
	forms, fields := controls(t, page)
	want := []string{"number=1", "do=seen", "do=release", "do=discharge",
		"number=3", "do=seen", "do=release wear", "do=hold", "until=", "do=discharge",
		"number=4", "do=seen", "do=confirm", "do=discharge", "number=5", "do=seen"}
	if forms != 4 || !slices.Equal(fields, want) {
		t.Errorf("%d forms, fields %q", forms, fields)
	}
	if strings.Count(page, " checked") != 1 || !strings.Contains(page, `value="seen" required checked`) {
		t.Error("something is chosen beforehand where there is a choice")
	}
	if !strings.Contains(page, `min="`+fmt.Sprint(monday)+`"`) || strings.Count(page, "Answered already.") != 1 {
		t.Error("no first date for a hold, or no word of what is answered")
	}
	for _, state := range []string{"expired", "bad", "", "other"} {
		page := string(s.AlertPage(AlertPage{Clinic: harbor, Items: items, Action: "/c/x", State: state,
			Lines: []AnswerLine{{ID: "p-014", Name: "Ana", Did: "seen"}}}))
		forms, fields := controls(t, page)
		if forms+len(fields) > 0 || strings.Contains(page, "Ana") || strings.Contains(page, "p-0") || !strings.Contains(page, "Nothing was done.") {
			t.Errorf("%q tells something of a patient:\n%s", state, page)
		}
	}
	done := string(s.AlertPage(AlertPage{Clinic: harbor, State: "done", Lines: []AnswerLine{{ID: "p-014", Name: "Ana", Did: "seen"}}}))
	if !strings.Contains(done, "Ana (p-014): noted as seen") {
		t.Error(done)
	}
}
