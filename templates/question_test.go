package templates

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"stepgate/rules"
)

var (
	sentences = regexp.MustCompile(`[^.!?\n]+[.!?]?`)
	// A question of how much, what or which takes no yes.
	open = regexp.MustCompile(`(?i)\b(how|what|which)\b`)
	// "Need help? Call ..." is a condition: what to do stands right behind it.
	condition = regexp.MustCompile(`^(\S+ ){0,5}\S+\?$`)
	todo      = regexp.MustCompile(`^(Add|Call|Stop|Send|Keep)\b`)
	// What asks for a yes.
	yesNo = regexp.MustCompile(`(?i)^(is|are|am|was|were|do|does|did|can|could|will|would|should|have|has|had|may|ok|right)\b`)
)

// closed names the first question that a bare YES, or a carrier's stop word,
// would answer.
func closed(text string) string {
	all := sentences.FindAllString(text, -1)
	for i, s := range all {
		s = strings.TrimSpace(s)
		if !strings.HasSuffix(s, "?") || open.MatchString(s) && !yesNo.MatchString(s) {
			continue
		}
		next := ""
		if i+1 < len(all) {
			next = strings.TrimSpace(all[i+1])
		}
		if yesNo.MatchString(s) || !condition.MatchString(s) || !todo.MatchString(next) {
			return s
		}
	}
	return ""
}

// The carrier takes a bare YES for a wish to rejoin, and STOP, END, CANCEL and
// QUIT for the opposite (its published default list): no text asks what one of
// them would answer, and none of them answers anything.
func TestNoQuestionTakesAYes(t *testing.T) {
	for _, bad := range []string{"Is that because of pain? Send 0 to 10.", "Stop the plan?", "Did it hurt? Add B.", "Shall we go on, or end?"} {
		if closed(bad) == "" {
			t.Errorf("the check itself misses %q", bad)
		}
	}
	for _, s := range samples(t) {
		if q := closed(s.msg.Text); !s.team && q != "" {
			t.Errorf("%s asks %q", s.name, q)
		}
	}
	v, err := Vocabulary("en")
	if err != nil {
		t.Fatal(err)
	}
	r, err := v.Compile()
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []rules.Question{rules.AskNothing, rules.AskPain, rules.AskPainNow, rules.AskFirstStep} {
		for _, word := range []string{"YES", "Yes.", "yes", "yes please"} {
			if got := r.Read(word, q); !got.Unread || got.Report() || got.Start || got.Stop {
				t.Errorf("%q after %q is %+v", word, q, got)
			}
		}
		for _, word := range []string{"STOP", "END", "CANCEL", "QUIT"} {
			if got := r.Read(word, q); !got.Stop || got.Report() {
				t.Errorf("%q after %q is %+v", word, q, got)
			}
		}
	}
}

// HELP says who writes, whom to call and how to stop (the trade association's
// rule); the first text says the same.
func TestHelpSaysWhoAndHowToStop(t *testing.T) {
	s := newSet(t)
	for name, m := range map[string]Message{
		"help":    s.Answer(harbor, ana, nil, AnswerData{Parts: []rules.Part{rules.SayHelp}}),
		"first":   s.Daily(harbor, ana, sampleProgram(), rules.Decision{Date: monday, First: true, Doses: oneDue, Ask: rules.AskPain}),
		"started": s.Answer(harbor, ana, nil, AnswerData{Parts: []rules.Part{rules.SayStarted}}),
	} {
		for _, want := range []string{harbor.Name, "STOP", harbor.Phone} {
			if name == "started" && want == harbor.Phone {
				continue // it says HELP
			}
			if !strings.Contains(m.Text, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, m.Text)
			}
		}
	}
	stopped := s.Answer(harbor, ana, nil, AnswerData{Parts: []rules.Part{rules.SayStopped}}).Text
	if !strings.HasPrefix(stopped, harbor.Name) || !strings.Contains(stopped, "no more texts") || !strings.Contains(stopped, "START") {
		t.Error(stopped)
	}
}

// The English templates hold no character that a text would have to lose or
// that would make it UCS-2, before anything is folded.
func TestEnglishTemplatesArePlain(t *testing.T) {
	files, err := filepath.Glob("en/*")
	if err != nil || len(files) < 6 {
		t.Fatalf("%v, %v", files, err)
	}
	for _, f := range files {
		if filepath.Base(f) == replyFile { // what patients write
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(b), "\n") {
			if _, bad := smsSize(strings.ReplaceAll(line, "\t", "")); bad != "" {
				t.Errorf("%s:%d holds %s", f, i+1, bad)
			}
		}
	}
}
