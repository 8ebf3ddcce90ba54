package templates

import (
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
	"stepgate/rules/reply"
)

// homeProgram is a program with all that a handout can say.
func homeProgram() *rules.Program {
	p := sampleProgram()
	p.Title, p.Approved = text("Settling in"), &rules.Approval{By: "J. Marlowe DPM", On: monday}
	p.Weeks, p.Reviews, p.FirstStep = 12, []int{5}, rules.DefaultFirstStep()
	dose := func(id string, sets, reps int, on rules.Schedule) rules.Dose {
		return rules.Dose{Do: id, Sets: sets, Reps: reps, Sessions: 1, On: on}
	}
	long := dose("calf-bent", 1, 3, rules.Schedule{})
	long.Hold, long.Sessions, long.Form = 20*time.Second, 2, "toes-in"
	three := rules.Schedule{Kind: rules.DaysAWeek, PerWeek: 3}
	p.Blocks = []rules.Block{
		{Week: 1, Doses: []rules.Dose{long}},
		{Week: 3, Doses: []rules.Dose{long, dose("toe-pull", 1, 10, rules.Schedule{Kind: rules.EveryOtherDay})}},
		{Week: 5, Doses: []rules.Dose{dose("heel-raise", 3, 12, three),
			dose("towel", 2, 10, rules.Schedule{Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Tuesday, time.Saturday}})}},
	}
	p.After = &rules.Maintenance{Doses: []rules.Dose{dose("heel-raise", 2, 10, rules.Schedule{})}, PerWeek: 2, Months: 6}
	return p
}

// handoutOf renders one in English.
func handoutOf(t *testing.T, h Handout) string {
	t.Helper()
	v, err := Vocabulary("en")
	if err != nil {
		t.Fatal(err)
	}
	h.Clinic, h.Vocabulary = harbor, v
	if h.Language == "" {
		h.Language = "en"
	}
	page, err := newSet(t).Handout(h)
	if err != nil {
		t.Fatal(err)
	}
	return page
}

// plainWords are the words of a handout, a line for each block.
func plainWords(page string) string {
	_, page, _ = strings.Cut(page, "</style>")
	page = regexp.MustCompile(`</(p|h\d|li|dt|dd|th|td|div|b><span)>`).ReplaceAllString(page, "\n")
	var lines []string
	for line := range strings.Lines(visible(page)) {
		if line = strings.Join(strings.Fields(line), " "); line != "" {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

func wantLines(t *testing.T, page string, want, not []string) {
	t.Helper()
	words := plainWords(page)
	for _, w := range want {
		if !strings.Contains(words, w) {
			t.Errorf("it does not say %q:\n%s", w, words)
		}
	}
	for _, n := range not {
		if strings.Contains(words, n) {
			t.Errorf("it says %q", n)
		}
	}
}

// The program as it is written, for nobody in particular.
func TestHandout(t *testing.T) {
	wantLines(t, handoutOf(t, Handout{Program: homeProgram()}), []string{
		"Harbor Foot Clinic\nSettling in\nYour plan to take home\n",
		"Call us\n202-555-0134\nOpen\nMon-Fri 9-5\nAfter hours\n202-555-0135\nEmergency\n911",
		"What your clinician told you comes first.",
		"Weeks 1 to 2\nWall calf stretch, back knee bent (toes turned in). 2 times a day, 3 times each leg, hold 20 seconds. Every day.",
		"Seated toe pull. 10 times, treated leg. Every other day from day 1 on.",
		"Weeks 5 to 12\nBefore week 5 you come in for a visit.",
		"Heel raise on a step. 3 rounds of 12 each leg. 3 days a week.",
		"Towel curl. 2 rounds of 10, both legs at once. Tue, Sat.",
		"After week 12, for 6 months\nHeel raise on a step. 2 rounds of 10 each leg. 2 days a week.",
		"Which side: treated leg.", "Easier: Use both legs.", "You need: step, rail.", "Take care: Pull slowly.",
		"This way: toes turned in.", "Day 1 1 hour\nDay 2 2 hours", "Day 8 and on 8 hours",
		"0 to 3\nKeep going.", "4 to 5\nNo more exercises that day. Your plan waits until you have 2 days with pain 3 or less.",
		"6 to 7\n", "8 to 10\nStop.", "D 2\nAll done. My worst pain was 2.", "F 3\n", "If it goes up by 2 or more",
		"Call 911 now\nChest pain\n", "Get urgent care today\nSudden pop\n", "Call us today\nNumbness\n", "Pain of 8 or more",
		"Approved by J. Marlowe DPM on Oct 5, 2026.",
	}, []string{"Draft", "firm support", "You start here", "Band turn-out", "Send K."})
}

// The command that writes it knows its own files by the mark.
func TestHandoutMark(t *testing.T) {
	if page := handoutOf(t, Handout{Program: homeProgram()}); !strings.Contains(page[:4096], ReportMark) {
		t.Error("the mark of a report is not near its top")
	}
}

// What nobody approved says so in words, at its head and at its foot, and on
// every printed page.
func TestHandoutDraft(t *testing.T) {
	p := homeProgram()
	p.Approved = nil
	page := handoutOf(t, Handout{Program: p})
	if n := strings.Count(plainWords(page), "No clinician has approved this plan."); n != 2 {
		t.Errorf("it says %d times that it is a draft, want 2", n)
	}
	if !strings.Contains(page, `@top-center { content: "Draft"`) {
		t.Error("a printed page does not say that it is a draft")
	}
	wantLines(t, page, nil, []string{"Approved by"})
}

// One patient's: their side, tailoring, cautions, lines and cap, and nothing
// that the texts would not ask of them.
func TestHandoutForAPatient(t *testing.T) {
	e := &rules.Enrollment{Affected: "left", Dispensed: monday, Start: monday, FromDay: 15,
		Cautions:  rules.Cautions{ReducedSensation: true, Balance: true},
		Lines:     &rules.Lines{Steady: 1, Hold: 3, StepBack: 5, Pause: 7, ClearDays: 3},
		Tailoring: []rules.Tailor{{Exercise: "towel", LeaveOut: true}, {Exercise: "calf-bent", Form: "toes-in", Side: "right"}, {Exercise: "heel-raise", Sets: 1}},
	}
	h := Handout{Program: homeProgram(), Enrollment: e, Name: "Ana"}
	wantLines(t, handoutOf(t, h), []string{
		"Your plan to take home, Ana", "(right leg: toes turned in)", "10 times, left leg.", "Hold a firm support.",
		"Heel raise on a step. 12 times each leg. 3 days a week: Mon, Wed, Fri.", "Weeks 3 to 4 You start here.",
		"Days 1 to 7 1 hour\nDays 8 to 14 2 hours", "Day 50 and on 8 hours", "Skin fine? Send K.", "only after you tell us",
		"Leave them out until your clinic says so.", "0 to 1\nKeep going.", "2\nKeep going for now.", "counts as 3.",
		"3 to 4\n", "3 days with pain 1 or less", "5 to 6\n", "7 to 10\n", "Pain of 7 or more",
	}, []string{"Towel curl", "3 rounds", "treated leg", "We will tell you when"})

	e.Entries = []rules.Entry{{Kind: rules.EntryCap, On: monday, Step: 1}, {Kind: rules.EntryCap, On: monday + 1, Step: 2}}
	wantLines(t, handoutOf(t, h), []string{"Weeks 3 to 4", "You stay at this step"}, []string{"Weeks 5", "After week 12", "Heel raise"})
	e.Entries = append(e.Entries, rules.Entry{Kind: rules.EntryCap, On: monday + 2})
	wantLines(t, handoutOf(t, h), []string{"Weeks 5 to 12", "After week 12"}, []string{"You stay at this step"})
}

// The wear-in alone speaks of no exercises.
func TestHandoutWearOnly(t *testing.T) {
	p := homeProgram()
	p.Blocks, p.After, p.FirstStep = nil, nil, rules.FirstStep{}
	wantLines(t, handoutOf(t, Handout{Program: p}), []string{"4 to 7\nYour wear time stays as it is", "8 to 10\nStop. Call us."},
		[]string{"Week by week", "How to do it", "No more exercises", "D 2", "H 2", "F 3"})
}

// Every example of an answer is read as what it says it is.
func TestHandoutExamplesAreRead(t *testing.T) {
	s := newSet(t)
	for _, lang := range s.Languages() {
		v, err := Vocabulary(lang)
		if err != nil {
			t.Fatal(err)
		}
		reader, err := v.Compile()
		if err != nil {
			t.Fatal(err)
		}
		view := s.in(lang).handout(Handout{Language: lang, Program: homeProgram(), Vocabulary: v})
		n, hours := func(n int) *int { return &n }, 4.0
		want := []rules.Reading{
			{Done: rules.DoneAll, Pain: n(2)}, {Done: rules.DoneSome, Pain: n(3)}, {Done: rules.DoneNone}, {Pain: n(5)},
			{FirstStep: n(3)}, {Wear: &hours}, {Skin: true}, {SkinOK: true}, {How: n(2)}, {Away: n(5)}, {Call: true}, {Stop: true},
		}
		if len(view.Answers) != len(want) {
			t.Fatalf("%s: %d answers, want %d", lang, len(view.Answers), len(want))
		}
		for i, a := range view.Answers {
			if got := reader.Read(a.Send, rules.AskPain); fmt.Sprintf("%+v", shown(got)) != fmt.Sprintf("%+v", shown(want[i])) {
				t.Errorf("%s: %q (%s) is read as %+v, want %+v", lang, a.Send, a.Means, shown(got), shown(want[i]))
			}
		}
	}
}

// shown is a reading that prints its numbers.
func shown(r rules.Reading) (out []string) {
	for key, p := range map[string]*int{"pain": r.Pain, "first": r.FirstStep, "how": r.How, "away": r.Away} {
		if p != nil {
			out = append(out, fmt.Sprint(key, *p))
		}
	}
	if r.Wear != nil {
		out = append(out, fmt.Sprint("wear", *r.Wear))
	}
	slices.Sort(out)
	r.Pain, r.FirstStep, r.How, r.Away, r.Wear = nil, nil, nil, nil, nil
	return append(out, fmt.Sprintf("%+v", r))
}

// What stands fixed in the handout is as easy to read as a text. Only whole
// sentences count: the many short lines of its lists would hide a hard one.
// What a clinician writes into a program is theirs.
func TestReadingLevelOfHandouts(t *testing.T) {
	worst, which := -99.0, ""
	check := func(name, page string) {
		var prose []string
		for line := range strings.Lines(plainWords(page)) {
			if len(strings.Fields(line)) > 5 && strings.ContainsAny(line, ".?") {
				prose = append(prose, line)
			}
		}
		if len(prose) < 8 {
			t.Fatalf("the handout of %s has %d lines of prose", name, len(prose))
		}
		g := grade(count(syllables, strings.Join(prose, "")))
		if g > 6 {
			t.Errorf("the handout of %s is of grade %.1f:\n%s", name, g, prose)
		}
		if g > worst {
			worst, which = g, name
		}
	}
	bare := homeProgram()
	for _, x := range bare.Exercises {
		*x = rules.Exercise{ID: x.ID, Side: x.Side, Name: text("Leg lift")}
	}
	check("everything", handoutOf(t, Handout{Program: bare}))
	check("a patient", handoutOf(t, Handout{Program: bare, Name: "Ana", Enrollment: &rules.Enrollment{Affected: "left", Start: monday,
		FromDay: 15, Cautions: rules.Cautions{ReducedSensation: true, Balance: true}, Entries: []rules.Entry{{Kind: rules.EntryCap, Step: 2}}}}))
	draft := *bare
	draft.Approved, draft.Pain.Steady = nil, 2
	check("a draft", handoutOf(t, Handout{Program: &draft}))
	bare.Blocks = nil
	check("wear-in", handoutOf(t, Handout{Program: bare}))
	t.Logf("the hardest handout is %s, grade %.1f", which, worst)
}

// Each sentence that stands fixed in the handout is short: the whole page
// hides a hard one.
func TestReadingLevelOfHandoutLines(t *testing.T) {
	src, err := fs.ReadFile(embedded, "en/handout.tmpl")
	if err != nil {
		t.Fatal(err)
	}
	words := regexp.MustCompile(`(?s)\{\{/\*.*?\*/\}\}`).ReplaceAllString(string(src), "")
	words = regexp.MustCompile(`\{\{(define|end|if|else|range|with)[^}]*\}\}`).ReplaceAllString(words, " ")
	words = regexp.MustCompile(`\{\{[^}]*\}\}`).ReplaceAllString(words, "2")
	for line := range strings.Lines(words) {
		for _, s := range sentenceEnd.Split(line, -1) {
			if n := len(strings.Fields(s)); n > 20 {
				t.Errorf("a sentence of %d words: %s", n, s)
			}
		}
	}
}

// Whatever a file holds, it stays text.
func TestHandoutEscapes(t *testing.T) {
	const evil = `"'></style></title><script>alert(1)</script><img src=x onerror=y>{{.}}&`
	p := homeProgram()
	p.Title, p.Approved = text(evil), nil
	for _, x := range p.Exercises {
		x.Name, x.How, x.Easier, x.Care, x.Why = text(evil), text(evil), text(evil), text(evil), text(evil)
		x.Needs, x.Forms = []string{evil}, map[string]rules.Text{"toes-in": text(evil)}
	}
	page, err := newSet(t).Handout(Handout{Clinic: Clinic{Name: evil, Phone: evil, Hours: evil, AfterHours: evil, Emergency: evil}, Program: p, Name: evil,
		Vocabulary: &reply.Vocabulary{RedFlags: []reply.Danger{{Name: evil, Tier: rules.UrgentClinic}}}})
	if err != nil {
		t.Fatal(err)
	}
	plain := append(strings.Fields("section header main footer dl dt dd thead th"), plainElements...)
	for _, n := range elements(t, page) {
		if !slices.Contains(plain, n.Data) {
			t.Errorf("the element %s got in", n.Data)
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "src" || a.Key == "href" {
				t.Errorf("%s has %s=%q", n.Data, a.Key, a.Val)
			}
		}
		if n.Data == "style" && regexp.MustCompile(`(?i)url\(|@import|https?:`).MatchString(n.FirstChild.Data) {
			t.Error("the sheet loads something")
		}
	}
	if strings.Count(page, "&lt;script&gt;alert(1)") < 10 {
		t.Error("it does not show the words")
	}
}
