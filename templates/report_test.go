package templates

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"unicode/utf8"

	"golang.org/x/net/html"
)

// reportPages are all pages of reports that are looked at.
func reportPages(t *testing.T) map[string]string {
	t.Helper()
	s := newSet(t)
	out := map[string]string{"clinic": string(s.ClinicReport(clinicSample())),
		"clinic-empty": string(s.ClinicReport(ClinicReport{Clinic: "Harbor Foot Clinic", Made: monday.Time()}))}
	for name, p := range reportSamples() {
		out[name] = string(s.PatientReport(p, ""))
	}
	out["served"] = string(s.PatientReport(longReport(56), "/"))
	return out
}

// The words and marks of two pages and of a note, to be read as a person would.
func TestReportGolden(t *testing.T) {
	s := newSet(t)
	for name, got := range map[string]string{
		"full.html": string(s.PatientReport(longReport(20), "")), "empty.html": string(s.PatientReport(emptyReport(), "")),
		"clinic.html": string(s.ClinicReport(clinicSample())), "note.txt": s.Note(longReport(56)),
	} {
		got = strings.Replace(got, pageStyle(), "", 1)
		got = regexp.MustCompile(`sha256-[^&#']*`).ReplaceAllString(got, "sha256-")
		file := filepath.Join("testdata", "report", name)
		if *update {
			if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatalf("%v; run the test with -update", err)
		}
		if got != string(want) {
			t.Errorf("%s differs; got:\n%s", file, got)
		}
	}
}

// reportElements are those that neither run nor fetch anything.
var reportElements = strings.Fields("html head meta title link style body div p nav header main section footer h1 h2 h3 ol ul li dl dt dd span strong a table thead tbody tr th td " +
	"figure details summary svg defs pattern line rect path text")

// A report is one file: nothing in it runs, nothing is fetched, and the only
// links lead into it or, where it is served, to the other page.
func TestReportsAreSelfContained(t *testing.T) {
	for name, page := range reportPages(t) {
		if m := regexp.MustCompile(`(?i)https?:|//[a-z]|@import|expression\(|javascript:`).FindString(page); m != "" {
			t.Errorf("%s names something outside: %q", name, m)
		}
		ids := map[string]bool{}
		for _, n := range elements(t, page) {
			if !slices.Contains(reportElements, n.Data) {
				t.Errorf("%s has the element %s", name, n.Data)
			}
			for _, a := range n.Attr {
				switch {
				case strings.HasPrefix(a.Key, "on"), a.Key == "src", a.Key == "style":
					t.Errorf("%s: %s has %s=%q", name, n.Data, a.Key, a.Val)
				case a.Key == "href" && n.Data == "link" && a.Val != "data:,":
					t.Errorf("%s fetches %q", name, a.Val)
				case a.Key == "href" && n.Data == "a" && !strings.HasPrefix(a.Val, "#") && (name != "served" || a.Val != "/"):
					t.Errorf("%s links to %q", name, a.Val)
				case a.Key == "id" && ids[a.Val]:
					t.Errorf("%s has the id %s twice", name, a.Val)
				case a.Key == "id":
					ids[a.Val] = true
				}
			}
		}
		for _, n := range elements(t, page) {
			for _, key := range []string{"aria-labelledby", "href"} {
				if id := strings.TrimPrefix(attr(n, key), "#"); n.Data != "link" && id != "" && id != "/" && !ids[id] {
					t.Errorf("%s: %s leads to %q, which is not there", name, key, id)
				}
			}
		}
	}
}

// void are the elements that are never closed.
var void = []string{"meta", "link"}

// Every element that is opened is closed, in order.
func TestReportsAreWellNested(t *testing.T) {
	for name, page := range reportPages(t) {
		var open []string
		z := html.NewTokenizer(strings.NewReader(page))
		for {
			kind := z.Next()
			if kind == html.ErrorToken {
				break
			}
			tag := z.Token()
			switch last := len(open) - 1; {
			case kind == html.StartTagToken && !slices.Contains(void, tag.Data):
				open = append(open, tag.Data)
			case kind == html.EndTagToken && last >= 0 && open[last] == tag.Data:
				open = open[:last]
			case kind == html.EndTagToken:
				t.Fatalf("%s closes %s, open are %v", name, tag.Data, open)
			}
		}
		if len(open) > 0 {
			t.Errorf("%s leaves %v open", name, open)
		}
	}
}

// The policy allows the style sheet that stands in the page, and no other.
func TestReportPolicy(t *testing.T) {
	for name, page := range reportPages(t) {
		for _, n := range elements(t, page) {
			if n.Data != "style" {
				continue
			}
			sum := sha256.Sum256([]byte(n.FirstChild.Data))
			if want := "style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"; !strings.Contains(ReportPolicy(), want) {
				t.Errorf("%s: the policy %q does not allow its sheet, want %q", name, ReportPolicy(), want)
			}
		}
		if !strings.Contains(page[:4096], ReportMark) || !strings.Contains(page, `http-equiv="Content-Security-Policy" content="default-src &#39;none&#39;`) {
			t.Errorf("%s lacks its mark or its policy", name)
		}
	}
}

// Whatever a name, a text or a file holds stays text.
func TestReportsEscape(t *testing.T) {
	s := newSet(t)
	p := longReport(20)
	fillText(reflect.ValueOf(&p).Elem())
	p.Language = "en"
	for i := range p.Spans { // these choose words and are no text
		p.Spans[i].Kind, p.Spans[i].Line, p.Spans[i].Ended = "pause", "word", "release"
	}
	for i := range p.Talk {
		p.Talk[i].Kind, p.Talk[i].Fate = "in", "expired"
	}
	p.Cautions, p.First.By = nil, nil
	c := clinicSample()
	fillText(reflect.ValueOf(&c).Elem())
	for name, page := range map[string]string{"patient": string(s.PatientReport(p, "/")), "clinic": string(s.ClinicReport(c))} {
		if !strings.Contains(page, "alert(1)") {
			t.Errorf("%s: nothing hostile was written", name)
		}
		for _, n := range elements(t, page) {
			if !slices.Contains(reportElements, n.Data) {
				t.Errorf("%s: the element %s got in", name, n.Data)
			}
			for _, a := range n.Attr {
				if strings.HasPrefix(a.Key, "on") {
					t.Errorf("%s: the attribute %s got in", name, a.Key)
				}
			}
		}
	}
}

// fillText puts hostile words into every text of a value.
func fillText(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			fillText(v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			fillText(v.Index(i))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			fillText(v.Elem())
		}
	case reflect.String:
		v.SetString(evilText)
	}
}

// What each page has to say, honest where there is little to say.
func TestReportsSay(t *testing.T) {
	pages := reportPages(t)
	text := func(name string) string {
		var b strings.Builder
		doc, err := html.Parse(strings.NewReader(strings.Replace(pages[name], pageStyle(), "", 1)))
		if err != nil {
			t.Fatal(err)
		}
		for n := range doc.Descendants() {
			if n.Type == html.TextNode {
				b.WriteString(n.Data)
			}
		}
		return strings.Join(strings.Fields(b.String()), " ")
	}
	for name, want := range map[string][]string{
		"empty":        {"Nothing is decided yet.", "No daily pain score has come in yet.", "The exercises have not begun.", "No exercise has been due yet.", "No alert was raised.", "never held"},
		"one-day":      {"Day 1, step 1 of 4: held"},
		"silent":       {"No answer has come in yet.", "No answer about the first steps"},
		"no-wear":      {"This program has no wear-in.", "discharged"},
		"wear-only":    {"of the wear-in: held"},
		"finished":     {"These lines are this patient's own, set by J. Marlowe DPM", "The change that counts was not reached by week 6: 7 on Nov 16, from 7.", "No answer near week 12.", "A bar is 2 weeks, from the week under it."},
		"full":         {"step back 6", "The change that counts was reached by week 6", "released by J. Marlowe DPM on Oct 16", `"P5 after the stairs"`, "Pain 2001;94:149-58", "no diagnosis", "nobody has answered it yet", "for information"},
		"year":         {"each mark is a week", "A bar is 4 weeks"},
		"clinic":       {"Call first", "40 of 3000 patients enrolled need a look.", "38 more who need a look are not listed", "2000 more who need no look are not listed", "900 of 1500 improved, 60% (interval 57.5 to 62.5%)", "1 of 4 improved: too few to say more", "too few to say", "per 100 patient-days"},
		"clinic-empty": {"Nobody is enrolled.", "Nobody: no pause", "No day is over for anybody yet.", "No day on any step is over yet."},
	} {
		got := text(name)
		for _, w := range want {
			if !strings.Contains(strings.ToLower(got), strings.ToLower(w)) {
				t.Errorf("%s does not say %q:\n%s", name, w, got)
			}
		}
	}
	if strings.Contains(text("full"), "programs/x.yaml") {
		t.Error("a patient's page names a place in the clinic's files")
	}
}

// The colors of the sheet, light and dark: text at 4.5 to 1 and more, what
// carries a chart at 3 to 1 and more (WCAG 2.2, 1.4.3 and 1.4.11).
func TestReportColors(t *testing.T) {
	rules := regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(pageStyle(), -1)
	if len(rules) != 3 {
		t.Fatalf("%d sets of colors, want light, dark and paper", len(rules))
	}
	for i, m := range rules[:2] {
		c := map[string]string{}
		for _, v := range regexp.MustCompile(`--(\w+): (#\w{6})`).FindAllStringSubmatch(m[1], -1) {
			c[v[1]] = v[2]
		}
		for _, pair := range []struct {
			text, on string
			least    float64
		}{{"ink", "paper", 7}, {"soft", "paper", 4.5}, {"accent", "paper", 4.5}, {"soft", "ground", 4.5}, {"limit", "paper", 3}, {"hatch", "paper", 3}} {
			if got := contrast(c[pair.text], c[pair.on]); got < pair.least {
				t.Errorf("set %d: %s on %s is %.2f to 1, want %.1f", i, pair.text, pair.on, got, pair.least)
			}
		}
	}
}

// Every language that has words for reports has them all, with the same
// fillings; and each text the code asks for is there.
func TestReportWords(t *testing.T) {
	all, err := readReports(reportFiles)
	if err != nil {
		t.Fatal(err)
	}
	for lang := range all {
		for _, key := range missingPhrases(all, lang) {
			t.Errorf("%s lacks %s", lang, key)
		}
	}
	for _, lang := range newSet(t).Languages() {
		if all[lang] == nil {
			t.Errorf("%s has no %s", lang, reportFile)
		}
	}
	broken := maps.Clone(all)
	broken["xx"] = maps.Clone(all["en"])
	delete(broken["xx"], "title")
	broken["xx"]["made by"] = phrase{"{clinic}", "{clinic}"}
	broken["xx"]["extra"] = phrase{"x", "x"}
	want := []string{"report/made by with its fillings", "report/title", "a use for report/extra"}
	if got := missingPhrases(broken, "xx"); !slices.Equal(got, want) {
		t.Errorf("missing %q, want %q", got, want)
	}
	if _, err := readReports(fstest.MapFS{"xx/report.yaml": {Data: []byte("title: [1, 2]\n")}}); err == nil {
		t.Error("a broken file is accepted")
	}
	if s := newSet(t); !s.Reports("en") || s.Reports("xx") {
		t.Error("which languages reports are in is not known")
	}
}

// The note is plain text in 78 columns.
func TestNote(t *testing.T) {
	s := newSet(t)
	for name, p := range reportSamples() {
		note := s.Note(p)
		for line := range strings.Lines(note) {
			if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > noteWidth {
				t.Errorf("%s: %d columns: %q", name, n, line)
			}
		}
		if i := strings.IndexFunc(note, func(r rune) bool { return r > 126 || r < 32 && r != '\n' }); i >= 0 {
			t.Errorf("%s is not plain: %q", name, note[i:min(len(note), i+20)])
		}
	}
}

// A report keeps all its facts as JSON.
func TestReportJSON(t *testing.T) {
	p := longReport(30)
	b, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var back PatientReport
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	s := newSet(t)
	if !bytes.Equal(s.PatientReport(p, ""), s.PatientReport(back, "")) {
		t.Error("the page of what came back from JSON is another one")
	}
}

// Marks stay inside their chart, however long the course and whatever the lines.
func TestChartsKeepTheirBounds(t *testing.T) {
	w := newSet(t).report("en")
	number := regexp.MustCompile(`-?\d+(\.\d+)?`)
	for _, days := range []int{1, 2, 15, 56, 84, 364, 1000} {
		p := longReport(days)
		p.Lines = ReportLines{Steady: 0, Hold: 10, StepBack: 10, Pause: 10, Clear: 2}
		for _, width := range []float64{wideChart, narrowChart} {
			for _, d := range []drawing{w.painChart(&p, width), w.stepChart(&p, width), w.firstChart(&p, width)} {
				for _, m := range d.Marks {
					for _, v := range []string{m.X, m.Y, m.X2, m.Y2, m.D} {
						for _, n := range number.FindAllString(v, -1) {
							var f float64
							if _, err := fmt.Sscan(n, &f); err != nil || f > d.W+1 || f < -d.W {
								t.Fatalf("%d days, %s: %s %s of %s is off the chart", days, d.Class, m.Tag, n, m.Class)
							}
						}
					}
				}
			}
		}
	}
}

// Labels that would lie on each other are moved apart, and stay inside.
func TestApart(t *testing.T) {
	for _, at := range [][]float64{{10, 10, 10, 10}, {0, 100, 100, 100}, {50, 51, 52, 99}, {}} {
		got := apart(at, 13, 5, 95)
		for i, y := range got {
			if y < 5 || y > 95 || i > 0 && y-got[i-1] < 12.99 {
				t.Errorf("apart(%v) = %v", at, got)
			}
		}
	}
}

// Only all of it is 100 per cent.
func TestPercent(t *testing.T) {
	for _, c := range []struct {
		part, of float64
		want     int
	}{{0, 0, 0}, {7, 7, 100}, {999.5, 1000, 99}, {1, 3, 33}, {3.5, 7, 50}} {
		if got := percent(c.part, c.of); got != c.want {
			t.Errorf("percent(%v, %v) = %d, want %d", c.part, c.of, got, c.want)
		}
	}
}
