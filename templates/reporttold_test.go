package templates

import (
	"strings"
	"testing"

	"stepgate/rules"
)

// One day is one day, in the summary of a page and of a note.
func TestReportOfOneDay(t *testing.T) {
	s := newSet(t)
	p := longReport(1)
	p.Weeks[0].Due, p.Weeks[0].Halves, p.Wear[0].Reported, p.Wear[0].Kept = 1, 2, 1, 1
	note := strings.Join(strings.Fields(s.Note(p)), " ")
	for _, want := range []string{"100% of the 1 day due.", "100% of the 1 day with hours reported.", "This note shows"} {
		if !strings.Contains(note, want) {
			t.Errorf("no %q in\n%s", want, note)
		}
	}
}

// A report of quick time says so, on the page and in the note.
func TestReportOfQuickTime(t *testing.T) {
	s := newSet(t)
	for _, lang := range []string{"en", "es"} {
		p := longReport(20)
		p.Language = lang
		says := s.report(lang).say("quick")
		for _, quick := range []bool{false, true} {
			p.Quick = quick
			page := strings.ReplaceAll(string(s.PatientReport(p, "")), "&#39;", "'")
			note := strings.Join(strings.Fields(s.Note(p)), " ")
			if strings.Contains(page, says) != quick || strings.Contains(note, says) != quick {
				t.Errorf("%s, quick time %v: said on the page %v, in the note %v", lang, quick, strings.Contains(page, says), strings.Contains(note, says))
			}
		}
	}
}

// Wear on the board is what is asked of the full time.
func TestBoardWear(t *testing.T) {
	for want, r := range map[string]BoardRow{"2 h of 8 h": {WearMin: 120, WearFull: 480}, "out": {WearFull: 480}, "": {}} {
		if got := r.WearOf(); got != want {
			t.Errorf("%+v: %q, want %q", r, got, want)
		}
	}
}

// A pause asks for nothing, so no dose is told to be eased; and before the
// first decision there is none to have reported since.
func TestExplainPauseAndFirstDay(t *testing.T) {
	s := newSet(t)
	d := rules.Decision{Date: monday, P: 1, Step: 1, Steps: 3, Eased: true, State: rules.InPaused, Why: rules.Reason{Code: rules.Paused, By: "sudden pop"}}
	first := rules.Decision{Date: monday, P: 1, Step: 1, Steps: 3, State: rules.InActive, Why: rules.Reason{Code: rules.FirstDay}}
	for _, lang := range []string{"en", "es"} {
		eased := d
		eased.State = rules.InEased
		with, without := s.Explain(lang, nil, eased, nil), s.Explain(lang, nil, d, nil)
		if len(without) >= len(with) {
			t.Errorf("%s: paused %q, eased %q", lang, without, with)
		}
		if text := s.Explain(lang, nil, first, nil); strings.Contains(text, s.in(lang).line("explain/none", nil)) {
			t.Errorf("%s: %q", lang, text)
		}
	}
}
