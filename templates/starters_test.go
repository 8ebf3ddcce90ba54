package templates

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/rules"
)

// starterPeople are the enrollments a starter is tried with, and the most
// segments that their texts may take: the first one, and any other.
var starterPeople = []struct {
	name, lines string
	first, most int
}{
	{"plain", "", 3, 2},
	{"both feet", "    affected: both\n", 3, 2},
	{"not steady", "    cautions: [balance]\n", 3, 3},
	{"diabetes, not steady", "    cautions: [diabetes, balance]\n", 4, 3},
	{"by proxy", "    proxy: {name: Jo, relation: daughter}\n", 3, 3},
}

func starterNames(t *testing.T) []string {
	t.Helper()
	files, err := fs.Glob(Starters(), "*")
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, f := range files {
		list = append(list, strings.TrimSuffix(f, ".yaml"))
	}
	want := "arch-strength calf-achilles falls-foot-ankle heel-pain wear-in"
	if got := strings.Join(list, " "); got != want {
		t.Fatalf("the starters are %s, want %s", got, want)
	}
	return list
}

// loadStarter reads a starter as a clinician's own program. Nothing but that
// nobody has approved it may be wrong.
func loadStarter(t *testing.T, name, lines string) (*rules.Program, *config.Enrollment) {
	t.Helper()
	text, err := fs.ReadFile(Starters(), name+".yaml")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(text), "# A starting point for a clinician to look through, change and approve.") || strings.Contains(string(text), "\napproved:") {
		t.Errorf("%s does not say that it is a starting point, or is approved", name)
	}
	if !strings.Contains(lines, "affected:") {
		lines += "    affected: left\n"
	}
	dir := t.TempDir()
	for file, s := range map[string]string{
		"programs/" + name + ".yaml": string(text),
		"stepgate.yaml": `clinic: {name: Harbor Foot Clinic, phone: 202-555-0134, hours: Mon-Fri 9-5, after hours: 202-555-0135,
  emergency: "911", zone: America/New_York}
alerts: {spool: clinician}
`,
		"enrollments.yaml": fmt.Sprintf(`enrollments:
  - id: p-01
    name: Ana
    program: %s
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    spool: ana
    time: "09:00"
%s`, name, lines),
	} {
		path := filepath.Join(dir, filepath.FromSlash(file))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(s), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	c, problems := config.Load(dir, func(string) string { return "" })
	if c == nil || len(problems) != 1 || !problems[0].Warning || !strings.Contains(problems[0].What, "not approved") {
		t.Fatalf("check has more to say of %s than that nobody approved it:\n%v", name, problems)
	}
	return c.Programs[name], c.Enrollments.At(0)
}

// starterDays are the decisions of a perfect patient, or of one who reports the
// same pain on the same days.
func starterDays(p *rules.Program, e *rules.Enrollment, pain func(day int) int) []rules.Decision {
	days := 14
	if n := len(p.Blocks); n > 0 {
		days = p.Blocks[n-1].FirstDay() + 13
	}
	var s rules.State
	var list []rules.Decision
	for day := 1; day <= days; day++ {
		date := e.Start + rules.Date(day) - 1
		var d rules.Decision
		s, d = rules.Decide(p, e, s, date, rules.Facts{})
		list = append(list, d)
		s, _ = rules.Hear(p, e, s, rules.Reading{Done: rules.DoneAll, Pain: score(pain(day)), SkinOK: true}, date, false)
	}
	return list
}

// Every daily text of every starter fits two segments, three where the first or
// a caution adds lines, and reads at grade 6 or under. So it does on days of
// less, after pain.
func TestStarterTexts(t *testing.T) {
	s := newSet(t)
	pains := map[string]func(int) int{
		"perfect": func(int) int { return 1 },
		"a bad day in each fortnight": func(day int) int {
			if day%14 == 9 {
				return 6
			}
			return 1
		},
	}
	for _, name := range starterNames(t) {
		for _, who := range starterPeople {
			prog, e := loadStarter(t, name, who.lines)
			p := Patient{Name: e.Name, Language: "en", Affected: e.Affected}
			if e.Proxy != nil {
				p.Proxy = e.Proxy.Name
			}
			for how, pain := range pains {
				sent := 0
				for _, d := range starterDays(prog, &e.Enrollment, pain) {
					if len(d.Doses) > 3 {
						t.Errorf("%s, %s: %d exercises on day %d", name, who.name, len(d.Doses), d.Day)
					}
					if !d.Send {
						continue
					}
					sent++
					text := s.Daily(harbor, p, prog, d).Text
					most := who.most
					switch {
					case d.First:
						most = who.first
					case d.Ask == rules.AskFirstStep && len(d.Doses) == 3:
						most = 3 // the longer question, on one day in 14
					}
					if n, bad := smsSize(text); bad != "" || segments(n) > most {
						t.Errorf("%s, %s, %s, day %d: %d segments, want at most %d; %q is not GSM-7:\n%s", name, who.name, how, d.Day, segments(n), most, bad, text)
					}
					if g := grade(count(syllables, text)); g > 6 {
						t.Errorf("%s, %s, %s, day %d: grade %.1f, want at most 6:\n%s", name, who.name, how, d.Day, g, text)
					}
				}
				if sent < 8 {
					t.Errorf("%s, %s, %s: only %d texts", name, who.name, how, sent)
				}
			}
		}
	}
}

// What a starter says of an exercise is whole, and the answers to H and to each
// H n read at grade 6 or under, in the alphabet of a text.
func TestStarterHowTo(t *testing.T) {
	s := newSet(t)
	for _, name := range starterNames(t) {
		prog, e := loadStarter(t, name, "")
		for id, ex := range prog.Exercises {
			for what, text := range map[string]rules.Text{"how": ex.How, "easier": ex.Easier, "care": ex.Care, "why": ex.Why} {
				if said := text.In("en"); said == "" {
					t.Errorf("%s: %s has no %s", name, id, what)
				} else if g := grade(count(syllables, said)); g > 6 {
					t.Errorf("%s: %s of %s is of grade %.1f, want at most 6: %s", name, what, id, g, said)
				}
			}
		}
		seen := map[string]bool{}
		for _, d := range starterDays(prog, &e.Enrollment, func(int) int { return 1 }) {
			for n := range len(d.Doses) + 1 {
				text := s.Answer(harbor, Patient{Name: "Ana", Language: "en", Affected: "left"}, prog,
					AnswerData{Parts: []rules.Part{rules.SayHow}, Due: d.Doses, How: n}).Text
				if len(d.Doses) == 0 || seen[text] {
					continue
				}
				seen[text] = true
				size, bad := smsSize(text)
				if bad != "" || segments(size) > 4 { // as many as a how-to takes at most in these tests
					t.Errorf("%s, H %d: %d segments, want at most 4; %q is not GSM-7:\n%s", name, n, segments(size), bad, text)
				}
				if g := grade(count(syllables, text)); g > 6 {
					t.Errorf("%s, H %d: grade %.1f, want at most 6:\n%s", name, n, g, text)
				}
			}
		}
		if len(prog.Exercises) > 0 && len(seen) < len(prog.Exercises) {
			t.Errorf("%s: only %d different how-tos", name, len(seen))
		}
	}
}

// Calf and Achilles loading as published: pain up to 5 is allowed if it has
// settled by the next morning. The morning after, the text asks; the plan goes
// back only where the pain has not settled, or was over 5. (An answer over
// steady counts as at the hold line, which is the step-back line here.)
func TestStarterMorningQuestion(t *testing.T) {
	prog, e := loadStarter(t, "calf-achilles", "")
	for _, c := range []struct {
		evening, morning int
		why              rules.Code
	}{{5, 2, rules.Tick}, {5, 4, rules.BlockAgain}, {6, 2, rules.BlockAgain}} {
		days := starterDays(prog, &e.Enrollment, func(day int) int {
			switch day {
			case 5:
				return c.evening
			case 6:
				return c.morning
			}
			return 1
		})
		if got := days[5].Ask; got != rules.AskPainNow {
			t.Errorf("%d in the evening: the morning asks %q", c.evening, got)
		}
		at := 6 // day 7, after the morning's answer
		if c.evening > 5 {
			at = 5
		}
		if got := days[at].Why.Code; got != c.why {
			t.Errorf("%d in the evening, %d in the morning: day %d is %q, want %q", c.evening, c.morning, at+1, got, c.why)
		}
	}
}
