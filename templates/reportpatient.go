package templates

import (
	"crypto/sha256"
	"encoding/base64"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"sync"

	"stepgate/rules"
)

// pages are the HTML of the reports; their style sheet is one for all.
var pages = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("pages").ParseFS(reportFiles, "pages/parts.html", "pages/patient.html", "pages/clinic.html"))
})

// pageStyle is the style sheet of the report pages.
var pageStyle = sync.OnceValue(func() string {
	b, err := reportFiles.ReadFile("pages/report.css")
	if err != nil {
		panic(err) // embedded
	}
	return string(b)
})

// ReportMark stands near the top of every page, to know one by.
const ReportMark = `<meta name="generator" content="stepgate report">`

// ReportPolicy is the content security policy of the report pages: nothing but
// their own style sheet, and the empty icon that keeps a browser from asking
// for one.
func ReportPolicy() string {
	sum := sha256.Sum256([]byte(pageStyle()))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; img-src data:; base-uri 'none'; form-action 'none'"
}

// sheet is what every report page has.
type sheet struct {
	reportWords
	Lang, Title, Policy string
	Style               template.CSS
	Back                string // where the caseload is; empty: nowhere, as in a file
}

// Say gives the words of a key to the page.
func (s sheet) Say(key string, fill ...any) string { return s.say(key, fill...) }

// Short, Long and Number write dates and scores.
func (s sheet) Short(d rules.Date) string { return s.words.shortDate(d) }
func (s sheet) Long(d rules.Date) string  { return s.long(d) }
func (s sheet) Number(n *int) string      { return number(n) }

// long is a date with its year.
func (w reportWords) long(d rules.Date) string {
	year, _, _ := d.Civil()
	return w.words.date(d) + " " + strconv.Itoa(year)
}

func (s *Set) sheet(lang, back string) sheet {
	w := s.report(lang)
	return sheet{reportWords: w, Lang: w.code, Policy: ReportPolicy(), Style: template.CSS(pageStyle()), Back: back}
}

// patientPage is what the template of a patient's report sees.
type patientPage struct {
	sheet
	*PatientReport
	MadeBy    string
	Facts     []headFact
	Shown     string // the state in words
	Quiet     bool   // the state needs nobody
	WhyText   string
	Summary   []string
	Pain      []drawing // wide and narrow
	Weekly    bool
	OwnLines  string
	StepChart []drawing
	Exercise  *drawing
	WearChart *drawing
	PerBar    [2]int
	FirstPain []drawing
	FirstSays []string
	Holds     []holdRow
	HoldsOff  int // rows left out on paper
	AlertRows []alertRow
	AlertsOff int
	Sayings   []sayingRow
	SayingsOf int
}

// headFact is a name and what it is.
type headFact struct {
	Name, Is string
	Long     bool // may take more room
}

// Rows that are printed, so that a report keeps to two pages; and sayings that
// a page holds.
const (
	holdsOnPaper  = 5
	alertsOnPaper = 3
	mostSayings   = 2000
)

// PatientReport renders the page. back leads to the caseload where there is
// one to lead to; a file has none.
func (s *Set) PatientReport(p PatientReport, back string) []byte {
	v := patientPage{sheet: s.sheet(p.Language, back), PatientReport: &p}
	v.Title = v.say("title", "name", p.Name)
	v.MadeBy = v.say("made by", "clinic", p.Clinic.Name, "date", v.long(rules.DateOf(p.Made)), "time", p.Made.Format("15:04"))
	if p.Quick {
		v.MadeBy += " " + v.say("quick")
	}
	v.Shown = v.shown(rules.Decision{State: p.State, Why: p.Why}, 0)
	v.Quiet = p.State == rules.InActive || p.State == rules.InMaintenance || p.State == rules.InFinished
	v.WhyText = s.plainWhy(v.reportWords, p.Why)
	v.Facts, v.Summary = v.facts(&p), v.summary(&p)
	if p.LinesBy != "" {
		v.OwnLines = v.say("pain/own lines", "by", p.LinesBy, "date", v.long(p.LinesOn))
	}
	v.charts(&p)
	for _, by := range p.First.By {
		v.FirstSays = append(v.FirstSays, v.improved(p.First, by))
	}
	v.Holds = s.holdRows(v.reportWords, &p)
	v.HoldsOff = max(0, len(v.Holds)-holdsOnPaper)
	v.AlertRows = s.alertRows(v.reportWords, &p)
	v.AlertsOff = max(0, len(v.AlertRows)-alertsOnPaper)
	v.Sayings, v.SayingsOf = v.sayings(&p), len(p.Talk)
	return renderPage("patient", v)
}

func renderPage(name string, v any) []byte {
	var b strings.Builder
	if err := pages().ExecuteTemplate(&b, name, v); err != nil {
		panic("render " + name + ": " + err.Error()) // a mistake in this package
	}
	return []byte(b.String())
}

// plainWhy is a reason without the place in the clinic's files.
func (s *Set) plainWhy(w reportWords, r rules.Reason) string {
	if r.Code == "" || r.Code == rules.Tick && r.Rule == "" {
		return ""
	}
	r.At = rules.Pos{}
	return s.Why(w.code, r)
}

func (v *patientPage) charts(p *PatientReport) {
	if len(p.Days) == 0 {
		return
	}
	v.Weekly = crowded(v.timeline(p.Days[0].Date, p.AsOf, wideChart))
	if len(allScores(p.Days)) > 0 {
		v.Pain = []drawing{v.painChart(p, wideChart), v.painChart(p, narrowChart)}
	}
	if slices.ContainsFunc(p.Days, func(d ReportDay) bool { return d.Step > 0 }) {
		v.StepChart = []drawing{v.stepChart(p, wideChart), v.stepChart(p, narrowChart)}
	}
	if bars, per := v.together(exerciseBars(p.Weeks)); slices.ContainsFunc(bars, func(b bar) bool { return b.of > 0 }) {
		d := v.barChart(bars, v.say("keep/alt exercise"))
		v.Exercise, v.PerBar[0] = &d, per
	}
	if bars, per := v.together(wearBars(p.Wear)); slices.ContainsFunc(bars, func(b bar) bool { return b.of > 0 }) {
		d := v.barChart(bars, v.say("keep/alt wear"))
		v.WearChart, v.PerBar[1] = &d, per
	}
	if len(p.First.Answers) > 0 {
		v.FirstPain = []drawing{v.firstChart(p, wideChart), v.firstChart(p, narrowChart)}
	}
}

// improved says whether the change that counts was reached by a week.
func (w reportWords) improved(f ReportFirst, by ReportImproved) string {
	fill := []any{"week", by.Week, "to", number(by.Score), "date", w.words.shortDate(by.Date), "from", number(f.Base)}
	return w.say("first/"+by.Is, fill...)
}
