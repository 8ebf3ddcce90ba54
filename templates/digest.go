package templates

import (
	"strconv"
	"strings"

	"stepgate/rules"
)

// Digest is the clinician's overview of the caseload.
type Digest struct {
	Language                         string // of the clinician; empty: English
	From, To                         rules.Date
	Look, Held, Silent, Review, Rest []DigestRow // Rest has a line each
}

// DigestRow is one patient of a digest.
type DigestRow struct {
	ID, Name  string
	Step      string // such as "step 2 of 5"; empty: left out
	State     rules.InState
	Why       rules.Reason // no code: left out
	Since     rules.Date   // the section's own: held, silent or due since
	Days      []DigestDay  // the last seven, oldest first
	Done, Due int          // dates with exercises: done, and due at all
	Wear      string       // such as "3 h"; empty: left out
}

// DigestDay is one date of a row.
type DigestDay struct {
	Date  rules.Date
	Score *int   // the worst; nil: none
	Done  string // "", "all", "some" or "none"
}

// charts is how many patients of a digest get a chart in the HTML. Mail
// readers cut off what comes after 102 KB (common practice); a digest of as
// many people stays under 100.
const charts = 60

// digest is what the digest templates see.
type digest struct {
	Lang, Title, Clinic        string
	From, To                   rules.Date
	Look, Held, Silent, Review int
	Nobody                     bool // nobody but the rest
	Charts                     bool // there are some
	Sections                   []digestSection
	Rest                       []string
}

type digestSection struct {
	Title string
	Rows  []digestRow
}

// digestRow is a row in words.
type digestRow struct {
	DigestRow
	Kind, Who, Shown     string
	Standing, Week, Text string // its sentences; Text: why
	Worst                *int
	Cells                []digestCell
}

// digestCell is a date of the chart. Its class names the color.
type digestCell struct {
	DigestDay
	Class string
}

// Digest renders the overview. Whoever needs a look comes first; where nobody
// needs anything, one line says so.
func (s *Set) Digest(c Clinic, d Digest) Message {
	l := s.in(d.Language)
	v := digest{Lang: l.code, Clinic: c.Name, From: d.From, To: d.To,
		Look: len(d.Look), Held: len(d.Held), Silent: len(d.Silent), Review: len(d.Review)}
	v.Nobody = v.Look+v.Held+v.Silent+v.Review == 0
	left := charts
	for _, x := range []struct {
		kind string
		rows []DigestRow
	}{{"look", d.Look}, {"held", d.Held}, {"silent", d.Silent}, {"review", d.Review}} {
		if len(x.rows) == 0 {
			continue
		}
		section := digestSection{Title: l.line("digest/"+x.kind, nil)}
		for _, r := range x.rows {
			row := s.digestRow(l, x.kind, r)
			if left == 0 {
				row.Cells = nil
			} else if len(row.Cells) > 0 {
				left, v.Charts = left-1, true
			}
			section.Rows = append(section.Rows, row)
		}
		v.Sections = append(v.Sections, section)
	}
	for _, r := range d.Rest {
		v.Rest = append(v.Rest, l.line("digest/brief", s.digestRow(l, "rest", r)))
	}
	v.Title = l.line("subject/digest", v)
	return Message{Subject: v.Title, Text: wrap(l.digestText(v)), HTML: l.html("mail/digest", v)}
}

// digestText is the plain text: a paragraph for each patient of a section.
func (l *language) digestText(v digest) string {
	parts := []string{l.line("digest/week", v)}
	for _, sec := range v.Sections {
		title := sec.Title + ":"
		for _, r := range sec.Rows {
			parts = append(parts, strings.TrimSpace(title+"\n"+l.lines("digest/row", r)))
			title = ""
		}
	}
	if len(v.Rest) > 0 {
		parts = append(parts, l.line("digest/rest", nil)+":\n- "+strings.Join(v.Rest, "\n- "))
	}
	return strings.Join(parts, "\n\n")
}

func (s *Set) digestRow(l *language, kind string, r DigestRow) digestRow {
	v := digestRow{DigestRow: r, Kind: kind, Who: who(r.ID, r.Name)}
	since := r.Since
	if kind == "silent" || kind == "review" {
		since = 0 // of the silence or the review, not of the state
	}
	v.Shown = l.shown(rules.Decision{State: r.State, Why: r.Why}, since)
	for _, d := range r.Days {
		v.Cells = append(v.Cells, digestCell{d, shade(d.Score)})
		if d.Score != nil && (v.Worst == nil || *d.Score > *v.Worst) {
			v.Worst = d.Score
		}
	}
	if kind != "rest" && r.Why.Code != "" && r.Why.Code != rules.Tick { // a day that went on explains nothing
		v.Text = s.Why(l.code, r.Why)
	}
	v.Standing, v.Week = l.line("digest/standing", v), l.line("digest/done", v)
	return v
}

// shade is the class of a score's color, by the published bands: 0 to 3 keep
// going, 4 and 5 modify, 6 to 10 stop. The patient's own lines may differ, so
// the number stands beside the color.
func shade(score *int) string {
	switch {
	case score == nil:
		return ""
	case *score <= 3:
		return "s0"
	case *score <= 5:
		return "s1"
	}
	return "s2"
}

// LastDay is the last date of the chart.
func (r digestRow) LastDay() rules.Date { return r.Days[len(r.Days)-1].Date }

// Scores is the chart of the text part: a number for each date, or a dash.
func (r digestRow) Scores() string {
	var out []string
	for _, d := range r.Days {
		if d.Score == nil {
			out = append(out, "-")
		} else {
			out = append(out, strconv.Itoa(*d.Score))
		}
	}
	return strings.Join(out, " ")
}
