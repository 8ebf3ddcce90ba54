package templates

import (
	"fmt"
	"html"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// The GSM 7-bit default alphabet and extension, 3GPP TS 23.038, written out
// here again: a slip in the package's own table must not hide itself.
var gsmChar = regexp.MustCompile(`^[\n\r !"#$%&'()*+,\-./0-9:;<=>?@A-Za-z_` +
	`\x{00a1}\x{00a3}-\x{00a5}\x{00a7}\x{00bf}\x{00c4}-\x{00c7}\x{00c9}\x{00d1}\x{00d6}\x{00d8}\x{00dc}\x{00df}` +
	`\x{00e0}\x{00e4}-\x{00e6}\x{00e8}\x{00e9}\x{00ec}\x{00f1}\x{00f2}\x{00f6}\x{00f8}\x{00f9}\x{00fc}` +
	`\x{0393}\x{0394}\x{0398}\x{039b}\x{039e}\x{03a0}\x{03a3}\x{03a6}\x{03a8}\x{03a9}]$`)

const gsmTwo = "\f^{}\\[~]|\u20ac"

// smsSize counts septets, and names the first character outside the alphabet.
func smsSize(s string) (n int, bad string) {
	for _, r := range s {
		switch {
		case gsmChar.MatchString(string(r)):
			n++
		case strings.ContainsRune(gsmTwo, r):
			n += 2
		case bad == "":
			bad = fmt.Sprintf("%q", r)
		}
	}
	return n, bad
}

// Both tables hold the same 137 characters; the count is that of two
// independent implementations (npm sms-segments-calculator, Perl
// Encode::GSM0338), less the escape character itself.
func TestAlphabet(t *testing.T) {
	n := 0
	for r := range rune(0x2100) {
		want := 0
		if gsmChar.MatchString(string(r)) {
			want = 1
		} else if strings.ContainsRune(gsmTwo, r) {
			want = 2
		}
		if septets(r) != want {
			t.Errorf("septets(%q) = %d, want %d", r, septets(r), want)
		}
		if want > 0 {
			n++
		}
	}
	if n != 137 || septets('\U0001f622') != 0 {
		t.Errorf("the alphabet holds %d characters; want 137", n)
	}
}

func TestTextsFitTheirSegments(t *testing.T) {
	for _, s := range samples(t) {
		if s.team {
			continue
		}
		n, bad := smsSize(s.msg.Text)
		if bad != "" {
			t.Errorf("%s: %s is outside the alphabet", s.name, bad)
		}
		if n <= 160 && s.max == 1 {
			continue
		}
		if got := (n + 152) / 153; got > s.max {
			t.Errorf("%s takes %d septets, %d segments, want at most %d:\n%s", s.name, n, got, s.max, s.msg.Text)
		}
	}
}

// Jargon, shorthand and diagnoses that no patient's text may hold.
var forbidden = regexp.MustCompile(`(?i)\b(reps?|sets?|dos(e|es|ed|age)|scores?|sessions?|tempo|hold line|steady|BT|b\.i\.d|bid|qd|diagnos\w*|fasciitis|tendin\w*|tendon|neuropath\w*|diabet\w*|orthos[ei]s|orthotics?|compliance|non-?compliant|waiting)\b|\bRM\b|\d ?[x*] ?\d|\b\d+(s|sec|min|h|hrs?)\b`)

var (
	markup = regexp.MustCompile(`(?s)<style>.*?</style>|</?(p|li|h\d|br|div|title)[^>]*>`)
	inline = regexp.MustCompile(`<[^>]*>`)
)

// visible is what a reader sees of a page.
func visible(page string) string {
	return html.UnescapeString(inline.ReplaceAllString(markup.ReplaceAllString(page, " "), ""))
}

func TestNoForbiddenWords(t *testing.T) {
	for _, bad := range []string{"3 x 10", "3x10", "10s hold", "8RM 3 sets", "your score", "BT"} {
		if !forbidden.MatchString(bad) {
			t.Errorf("the check itself misses %q", bad)
		}
	}
	for _, s := range samples(t) {
		if s.team {
			continue
		}
		if w := forbidden.FindString(s.msg.Text); w != "" {
			t.Errorf("%s says %q:\n%s", s.name, w, s.msg.Text)
		}
		if w := forbidden.FindString(visible(s.msg.HTML)); w != "" {
			t.Errorf("the mail of %s says %q", s.name, w)
		}
	}
}

// A daily text starts with its date and ends with a question or an answer to
// send.
func TestDailyBeginsAndEnds(t *testing.T) {
	for _, s := range samples(t) {
		if !strings.HasPrefix(s.name, "daily-") {
			continue
		}
		if !strings.HasPrefix(s.msg.Text, "Mon Oct 5") {
			t.Errorf("%s does not start with its date: %s", s.name, s.msg.Text)
		}
		lines := strings.Split(s.msg.Text, "\n")
		last, asked := lines[len(lines)-1], strings.Count(s.msg.Text, "0-10")
		if s.name == "daily-closing" {
			if asked > 0 || strings.Contains(s.msg.Text, "Reply") {
				t.Errorf("the closing text asks for something: %s", s.msg.Text)
			}
		} else if !strings.Contains(last, "0-10") || asked != 1 {
			t.Errorf("%s does not end with its only question: %s", s.name, s.msg.Text)
		}
		if s.msg.Subject != "Your plan for Mon Oct 5" {
			t.Errorf("%s has the subject %q", s.name, s.msg.Subject)
		}
	}
}

// Nobody reads these at once: the texts that somebody in trouble may get say
// so, with all the numbers.
func TestTroubleTextsGiveTheNumbers(t *testing.T) {
	s := newSet(t)
	msgs := map[string]Message{
		"first": s.Daily(harbor, ana, sampleProgram(), rules.Decision{Date: monday, First: true, Doses: oneDue, Ask: rules.AskPain}),
	}
	for _, p := range []rules.Part{rules.SayEmergency, rules.SayUrgent, rules.SayClinic, rules.SayPause,
		rules.SayStillPaused, rules.SayCall, rules.SayHelp} {
		msgs[string(p)] = s.Answer(harbor, ana, sampleProgram(), AnswerData{Parts: []rules.Part{p}, Score: score(8)})
	}
	for name, m := range msgs {
		for _, want := range []string{"Nobody reads your replies at once", harbor.Phone, harbor.Hours, harbor.AfterHours, harbor.Emergency} {
			if !strings.Contains(m.Text, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, m.Text)
			}
			if !strings.Contains(visible(m.HTML), want) {
				t.Errorf("the mail of %s lacks %q", name, want)
			}
		}
	}
	for _, want := range []string{harbor.Name, "STOP", "HELP"} {
		if !strings.Contains(msgs["first"].Text, want) {
			t.Errorf("the first text lacks %q", want)
		}
	}
}

// Pain is named as a reason only where the decision says it is, and a rest
// day lists nothing whatever else the decision holds.
func TestPainIsNotMadeUpAndRestIsRest(t *testing.T) {
	s := newSet(t)
	because := regexp.MustCompile(`until the pain|sharp pain|Rest day|less than before`)
	for _, code := range codes {
		d := rules.Decision{Date: monday, Why: rules.Reason{Code: code}, Doses: oneDue, Ask: rules.AskPain}
		m := s.Daily(harbor, ana, sampleProgram(), d)
		if got, want := because.MatchString(m.Text), code == rules.PainHeld || code == rules.FirstRise; got != want {
			t.Errorf("%s: names pain as the reason: %v, want %v:\n%s", code, got, want, m.Text)
		}
		d.Rest = true
		m = s.Daily(harbor, ana, sampleProgram(), d)
		if strings.Contains(m.Text, "calf") || strings.Contains(m.HTML, "calf") {
			t.Errorf("%s: a rest day lists an exercise:\n%s", code, m.Text)
		}
	}
}

// A wrong person learns no name, nothing of a plan and not which clinic it is.
func TestWrongPersonIsNeutral(t *testing.T) {
	s := newSet(t)
	for _, said := range [][]rules.Part{{rules.SayWrong}, {rules.SayEmergency, rules.SayWrong}, {rules.SayClinic, rules.SayWrong},
		{rules.SayStranger}, {rules.SayUrgent, rules.SayStranger}} {
		m := s.Answer(harbor, ana, sampleProgram(), AnswerData{Parts: said, Score: score(2), Ask: rules.AskPain})
		for _, bad := range []string{"Ana", "Harbor", "Foot", "exercise", "pain", "insert"} {
			if strings.Contains(m.Text+m.Subject, bad) || strings.Contains(m.HTML, bad) {
				t.Errorf("the answer %q says %q:\n%s", said, bad, m.Text)
			}
		}
	}
}

func TestAnswersKeepTheOrderOfUrgency(t *testing.T) {
	s := newSet(t)
	m := s.Answer(harbor, ana, sampleProgram(), AnswerData{Score: score(9), Parts: []rules.Part{
		rules.SayPassedOn, rules.SayPause, rules.SayClinic, rules.SayEmergency, rules.SayPause}})
	if !strings.HasPrefix(m.Text, "Call 911 now.") || strings.Contains(m.Text, "call your clinic today") {
		t.Errorf("the most urgent text is not first and alone:\n%s", m.Text)
	}
	if n := strings.Count(m.Text, "9 noted"); n != 1 {
		t.Errorf("the pain is echoed %d times:\n%s", n, m.Text)
	}
	if n := strings.Count(m.Text, harbor.Phone); n != 1 {
		t.Errorf("the number is given %d times:\n%s", n, m.Text)
	}
	if m.Subject != "Please read this now" {
		t.Errorf("subject %q", m.Subject)
	}
}

// A line of the patient's own goes before the program's.
func TestOwnLines(t *testing.T) {
	own := rules.Lines{Steady: 2, Hold: 5, StepBack: 7, Pause: 9, ClearDays: 1}
	m := newSet(t).Answer(harbor, ana, sampleProgram(), AnswerData{Parts: []rules.Part{rules.SayHold}, Score: score(5), Lines: own})
	if !strings.Contains(m.Text, "1 day with pain 2 or less") {
		t.Error(m.Text)
	}
}

func TestNamesAreEscapedAndFolded(t *testing.T) {
	s := newSet(t)
	prog := sampleProgram()
	prog.Exercises["calf-straight"].Name = text("Calf <i>stretch</i> \u2013 \u201cslow\u201d")
	d := rules.Decision{Date: monday, Doses: oneDue, Ask: rules.AskPain}
	m := s.Daily(harbor, Patient{Name: "<b>Zo\u00eb</b>"}, prog, d)
	if strings.Contains(m.HTML, "<b>Zo") || strings.Contains(m.HTML, "<i>") || !strings.Contains(m.HTML, "&lt;b&gt;Zo\u00eb&lt;/b&gt;") {
		t.Errorf("the mail does not escape:\n%s", m.HTML)
	}
	if _, bad := smsSize(m.Text); bad != "" || !strings.Contains(m.Text, `<i>stretch</i> - "slow"`) {
		t.Errorf("not folded (%s):\n%s", bad, m.Text)
	}
	short := rules.Decision{Date: monday, Wear: time.Hour, WearNow: true, Ask: rules.AskPain}
	for name, want := range map[string]string{"Zo\u00eb": "Mon Oct 5. Hi Zoe.\n", "\u041e\u043b\u044f": "Mon Oct 5\n", "": "Mon Oct 5\n", "Łukasz": "Mon Oct 5. Hi Lukasz.\n"} {
		if m := s.Daily(harbor, Patient{Name: name, TextOnly: true}, prog, short); !strings.HasPrefix(m.Text, want) {
			t.Errorf("name %q: %q, want prefix %q", name, m.Text, want)
		}
	}
	a := s.Alert(harbor, AlertData{ID: "p-1", Name: "<b>", Quote: "<script>x</script>", Notice: rules.Notice{Kind: rules.NoticeUnread}})
	if strings.Contains(a.HTML, "<script>") || strings.Contains(a.HTML, "<b> (") {
		t.Errorf("the alert does not escape:\n%s", a.HTML)
	}
}

// Whoever gets the texts for a patient is greeted, and told whom they are for
// even where the greeting is left out to save a segment.
func TestProxy(t *testing.T) {
	s := newSet(t)
	short := rules.Decision{Date: monday, Wear: time.Hour, WearNow: true, Ask: rules.AskPain}
	long := rules.Decision{Date: monday, Doses: threeDue, Wear: time.Hour, WearNow: true, Ask: rules.AskPain}
	for _, c := range []struct {
		name, proxy string
		dec         rules.Decision
		want        string
	}{
		{"Ana", "Jo", short, "Mon Oct 5. Hi Jo. For Ana:\n"},
		{"Ana", "Jo", long, "Mon Oct 5. For Ana:\n"},
		{"Zo\u00eb", "Łuk", short, "Mon Oct 5. Hi Luk. For Zoe:\n"},
		{"Ana", "\u041e\u043b\u044f", short, "Mon Oct 5. For Ana:\n"},
		{"\u041e\u043b\u044f", "Jo", short, "Mon Oct 5. Hi Jo.\n"},
	} {
		p := Patient{Name: c.name, Proxy: c.proxy}
		m := s.Daily(harbor, p, sampleProgram(), c.dec)
		p.TextOnly = true
		if text := s.Daily(harbor, p, sampleProgram(), c.dec).Text; !strings.HasPrefix(text, c.want) {
			t.Errorf("%s for %s: %q, want prefix %q", c.proxy, c.name, text, c.want)
		}
		if want := "Hi " + c.proxy + ". For " + c.name + ":"; !strings.Contains(m.HTML, want) {
			t.Errorf("the mail lacks %q", want)
		}
	}
	first := s.Daily(harbor, byProxy, sampleProgram(), rules.Decision{Date: monday, First: true, Doses: threeDue, Ask: rules.AskPain})
	if !strings.Contains(first.Text, " for Ana.") {
		t.Errorf("the first text does not say whom it is for: %s", first.Text)
	}
}

// A reminder goes out the day before, is dated then and asks for nothing.
func TestVisit(t *testing.T) {
	p := ana
	p.TextOnly = true
	m := newSet(t).Visit(harbor, p, rules.NewDate(2026, time.November, 1))
	if !strings.HasPrefix(m.Text, "Sat Oct 31. Hi Ana.\n") || !strings.Contains(m.Text, "tomorrow, Sun Nov 1.") {
		t.Error(m.Text)
	}
	if m.HTML != "" || m.Subject != "" || strings.ContainsAny(m.Text, "?") {
		t.Errorf("%+v", m)
	}
}

// After a long silence one question is asked and nothing is to be done; the
// last text asks for nothing, whatever else the decision holds.
func TestWeeklyAndClosing(t *testing.T) {
	s := newSet(t)
	for _, code := range codes {
		d := rules.Decision{Date: monday, Doses: threeDue, Why: rules.Reason{Code: code}, WearWhy: rules.Reason{Code: code},
			Wear: time.Hour, WearNow: true, Skin: true, Support: true, Ask: rules.AskPain}
		weekly, closing := d, d
		weekly.Weekly, closing.Closing = true, true
		for name, m := range map[string]Message{"weekly": s.Daily(harbor, ana, sampleProgram(), weekly), "closing": s.Daily(harbor, ana, sampleProgram(), closing)} {
			for _, bad := range []string{"calf", "heel", "Heel", "insert", "skin", "support", "break", "Reply D"} {
				if strings.Contains(m.Text, bad) || strings.Contains(visible(m.HTML), bad) {
					t.Errorf("%s after %s says %q:\n%s", name, code, bad, m.Text)
				}
			}
			if asks := strings.Contains(m.Text, "0-10"); asks != (name == "weekly") {
				t.Errorf("%s after %s: asks %v:\n%s", name, code, asks, m.Text)
			}
		}
	}
}

// Numbers stay on one line of a page, and are escaped like everything else.
func TestKeepNumbers(t *testing.T) {
	got := string(keepNumbers(`<i> 0-10, call +44 7700 900134 & "wait"`))
	want := `&lt;i&gt; <span style="white-space:nowrap;">0-10</span>, call <span style="white-space:nowrap;">+44 7700 900134</span> &amp; &#34;wait&#34;`
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

func TestTextOnly(t *testing.T) {
	s := newSet(t)
	p := ana
	p.TextOnly = true
	d := rules.Decision{Date: monday, Doses: oneDue, Ask: rules.AskPain}
	full, only := s.Daily(harbor, ana, sampleProgram(), d), s.Daily(harbor, p, sampleProgram(), d)
	if only.HTML != "" || only.Subject != "" || only.Text != full.Text || full.HTML == "" {
		t.Errorf("text only: %+v", only)
	}
}

func BenchmarkDailyText(b *testing.B) {
	s, p, prog := newSet(b), ana, sampleProgram()
	p.TextOnly = true
	d := rules.Decision{Date: monday, Doses: twoDue, Wear: time.Hour, WearNow: true, Ask: rules.AskPain}
	b.ReportAllocs()
	for b.Loop() {
		s.Daily(harbor, p, prog, d)
	}
}

func BenchmarkDailyMail(b *testing.B) {
	s, prog := newSet(b), sampleProgram()
	d := rules.Decision{Date: monday, Doses: twoDue, Wear: time.Hour, WearNow: true, Ask: rules.AskPain}
	b.ReportAllocs()
	for b.Loop() {
		s.Daily(harbor, ana, prog, d)
	}
}
