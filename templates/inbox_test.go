package templates

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"stepgate/rules"
)

// One alert alone is the mail it always was, with a token and how to answer.
func TestOneAlert(t *testing.T) {
	s := newSet(t)
	for _, x := range alertSamples() {
		alone, m := s.Alert(harbor, x.data), s.Alerts(harbor, AlertMail{Alerts: []AlertData{x.data}, Token: mailToken})
		if m.Subject != alone.Subject+" ["+mailToken+"]" || !strings.HasPrefix(m.Text, wrap(alone.Text)+"\n\nAnswer this mail with") {
			t.Errorf("%s: %s\n%s", x.name, m.Subject, m.Text)
		}
		if bare := s.Alerts(harbor, AlertMail{Alerts: []AlertData{x.data}}); bare.Subject != alone.Subject || bare.Text != wrap(alone.Text) {
			t.Errorf("%s without a token: %s\n%s", x.name, bare.Subject, bare.Text)
		}
	}
	if m := s.Alerts(harbor, AlertMail{Token: mailToken, Link: answerAt}); m != (Message{}) {
		t.Errorf("no alert makes a mail: %+v", m)
	}
}

// Several are numbered in the order given, each with all that it says alone.
func TestSeveralAlerts(t *testing.T) {
	s, all := newSet(t), morning(t)
	m := s.Alerts(harbor, AlertMail{Alerts: all, Token: mailToken, Link: answerAt})
	at := strings.Index(m.Text, "\n\n")
	for i, a := range all {
		alone := s.Alert(harbor, a)
		head := fmt.Sprintf("\n\n%d. %s\n", i+1, headOf(s, a))
		next := strings.Index(m.Text, head+wrap(alone.Text))
		if next < at {
			t.Errorf("alert %d is not whole, or not in its place:\n%s", i+1, m.Text)
		}
		at = max(at, next)
		if !strings.Contains(m.HTML, fmt.Sprintf(">%d. ", i+1)) || !strings.Contains(visible(m.HTML), a.Quote) {
			t.Errorf("alert %d is missing in the HTML", i+1)
		}
	}
	if !strings.HasSuffix(m.Text, "\n"+answerAt) || strings.Count(m.HTML, answerAt) != 1 {
		t.Errorf("the link is not there once, on a line of its own:\n%s", m.Text)
	}
}

func headOf(s *Set, a AlertData) string {
	return s.in("en").line("alerts/head", inboxItem{alert: s.alertOf(harbor, a)})
}

func TestAlertSubjects(t *testing.T) {
	s := newSet(t)
	of := func(ids ...string) (list []AlertData) {
		for _, id := range ids {
			list = append(list, AlertData{ID: id, Name: strings.ToUpper(id), Notice: rules.Notice{Kind: rules.NoticeSilent}})
		}
		return list
	}
	for want, list := range map[string][]AlertData{
		"Stepgate: A (a) no answer to 3 messages":              of("a"),
		"Stepgate: A (a) needs a look":                         of("a", "a"),
		"Stepgate: 3 patients need a look":                     of("a", "b", "c", "a"),
		"Stepgate: 1 patient needs a look, and 1 other alert":  of("a", ""),
		"Stepgate: 2 patients need a look, and 2 other alerts": of("", "a", "b", ""),
		"Stepgate: 2 alerts":                                   of("", ""),
	} {
		for start, again := range map[string]bool{"": false, "Not answered yet: ": true} {
			m := s.Alerts(harbor, AlertMail{Alerts: list, Again: again})
			if m.Subject != start+want {
				t.Errorf("subject %q, want %q", m.Subject, start+want)
			}
			if strings.Contains(m.Text, "went out before") != again || strings.Contains(m.HTML, "went out before") != again {
				t.Errorf("again %v:\n%s", again, m.Text)
			}
		}
	}
}

// Only what makes sense for an alert is offered for it, and what is offered
// is explained.
func TestCommands(t *testing.T) {
	s := newSet(t)
	a := alertNamed(t, "pause", "p-1", "Bo")
	listed := regexp.MustCompile(`(?m)^- ([a-z]+(?: [a-z]+)*(?: 2026-10-19)?): `)
	for want, given := range map[string][]string{
		"seen":         nil,
		"seen release": {"seen", "release"},
		"release wear|hold until 2026-10-19|discharge|confirm": {"discharge", "confirm", "hold", "release wear"},
		"seen|": {"seen", "reboot"},
	} {
		if !strings.Contains(want, "|") {
			want = strings.ReplaceAll(want, " ", "|")
		}
		a.Commands = given
		m := s.Alerts(harbor, AlertMail{Alerts: []AlertData{a}, Token: mailToken})
		var got []string
		for _, found := range listed.FindAllStringSubmatch(m.Text, -1) {
			got = append(got, found[1])
			if !strings.Contains(m.HTML, "<b>"+found[1]+"</b>") {
				t.Errorf("the HTML lacks %q", found[1])
			}
		}
		if strings.Join(got, "|") != strings.TrimSuffix(want, "|") {
			t.Errorf("%q offers %q, want %q:\n%s", given, got, want, m.Text)
		}
	}
	two := s.Alerts(harbor, AlertMail{Alerts: morning(t)[2:4], Token: mailToken})
	for _, want := range []string{"You can answer 1 with: seen, release wear, hold until 2026-10-19, discharge.",
		"You can answer 2 with: seen, confirm, discharge.", `"1 seen", "2 confirm"`, `"all seen"`} {
		if !strings.Contains(strings.ReplaceAll(two.Text, "\n", " "), want) {
			t.Errorf("lacks %s:\n%s", want, two.Text)
		}
	}
	for _, m := range []Message{s.Alerts(harbor, AlertMail{Alerts: morning(t)}), s.Alerts(harbor, AlertMail{Alerts: morning(t), Link: answerAt})} {
		if strings.Contains(m.Text+m.HTML, "nswer this mail") || strings.Contains(m.Text+m.HTML, "You can answer") {
			t.Errorf("without a token an answer is asked for:\n%s", m.Text)
		}
	}
}

// For an SMS there is one line of one segment, however many there are.
func TestBriefAlerts(t *testing.T) {
	s := newSet(t)
	var all []AlertData
	for i := range 60 {
		all = append(all, AlertData{ID: fmt.Sprintf("p-%02d", i+1), Name: "Ana", On: monday, Brief: true, Quote: "it hurts",
			Notice: rules.Notice{Kind: []rules.NoticeKind{rules.NoticePause, rules.NoticeSkin}[i%2], Score: score(8)}})
	}
	if m, alone := s.Alerts(harbor, AlertMail{Alerts: all[:1], Token: mailToken}), s.Alert(harbor, all[0]); m != alone {
		t.Errorf("%+v, want %+v", m, alone)
	}
	if m := s.Alerts(harbor, AlertMail{Alerts: all[:2]}); m.Text != "Stepgate, Oct 5: p-01 pause; p-02 skin. Look at the caseload." {
		t.Error(m.Text)
	}
	for n := 1; n <= len(all); n++ {
		m := s.Alerts(harbor, AlertMail{Alerts: all[:n], Again: true, Token: mailToken, Link: answerAt})
		named := strings.Count(m.Text, "p-")
		if rest := fmt.Sprintf(" and %d more.", n-named); named < min(n, 6) || (named < n) != strings.Contains(m.Text, rest) {
			t.Errorf("%d alerts: %s", n, m.Text)
		}
		if took, bad := smsSize(m.Text); took > 160 || bad != "" || strings.Contains(m.Text, "\n") || m.HTML != "" || m.Subject != "" {
			t.Errorf("%d alerts take %d septets (%s): %s", n, took, bad, m.Text)
		}
		if strings.Contains(m.Text, "Ana") || strings.Contains(m.Text, "hurts") || !strings.HasPrefix(m.Text, "Stepgate, Oct 5, not answered yet: ") {
			t.Error(m.Text)
		}
	}
}

// The clinician's mails are no wider than 72 columns; only a word that is
// wider itself goes over.
func TestTextPartsAreNarrow(t *testing.T) {
	seen := 0
	for _, x := range inboxSamples(t, newSet(t)) {
		if !x.team {
			continue
		}
		for line := range strings.SplitSeq(x.msg.Text, "\n") {
			seen++
			if utf8.RuneCountInString(line) > 72 && strings.Contains(line, " ") {
				t.Errorf("%s: %q", x.name, line)
			}
		}
	}
	if seen < 100 {
		t.Errorf("only %d lines were seen", seen)
	}
	long := strings.Repeat("x", 80)
	if got, want := wrap("a  b\n\n"+strings.Repeat("1234567 ", 10)+long+" c"), "a b\n\n"+strings.TrimSpace(strings.Repeat("1234567 ", 9))+"\n1234567\n"+long+"\nc"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestAlertAnswered(t *testing.T) {
	s := newSet(t)
	done := AnswerLine{ID: "p-1", Name: "Bo", Did: "release", File: "enrollments.yaml", Line: 12}
	bad := AnswerLine{ID: "p-2", Did: "release", Problem: "it is not paused"}
	seen := AnswerLine{ID: "p-3", Did: "seen"}
	for _, c := range []struct {
		a             AlertAnswer
		subject, text string
	}{
		{AlertAnswer{Lines: []AnswerLine{seen}}, "your answer is done", "p-3: noted as seen; the plan is unchanged."},
		{AlertAnswer{Lines: []AnswerLine{done, bad}}, "part of your answer is done",
			"Bo (p-1): released; the pause ends. Written to enrollments.yaml:12.\n\np-2: nothing was done: it is not paused.\n\nWas this not you? "},
		{AlertAnswer{Lines: []AnswerLine{bad}}, "your answer changed nothing", "p-2: nothing was done: it is not paused."},
		{AlertAnswer{Problem: "this token is too old"}, "your answer changed nothing", "Nothing was done: this token is too old."},
		{AlertAnswer{}, "your answer changed nothing", "Nothing was done."},
	} {
		m := s.AlertAnswered(harbor, c.a)
		if m.Subject != "Stepgate: "+c.subject || !strings.HasPrefix(m.Text, c.text) || !strings.HasSuffix(c.text, "? ") && m.Text != c.text {
			t.Errorf("%s\n%s", m.Subject, m.Text)
		}
		for line := range strings.SplitSeq(strings.ReplaceAll(c.text, "\n\n", "\n"), "\n") {
			if !strings.Contains(visible(m.HTML), line) {
				t.Errorf("the HTML lacks %q", line)
			}
		}
	}
	var said []string
	for _, did := range append([]string{"hold until"}, commands...) {
		text := s.AlertAnswered(harbor, AlertAnswer{Lines: []AnswerLine{{ID: "x", Did: did, Until: monday}}}).Text
		if strings.Contains(text, "Oct 5") != (did == "hold until") || slices.Contains(said, text) {
			t.Errorf("%s: %s", did, text)
		}
		said = append(said, text)
	}
}
