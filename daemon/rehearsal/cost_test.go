package rehearsal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"stepgate/config"
	"stepgate/daemon/page"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/rules/reply"
)

// TestCostsBoundLives: whatever program is lived in whatever way, no text is
// of more segments than was said before; of the first text only where nothing
// was heard earlier.
func TestCostsBoundLives(t *testing.T) {
	c := clinic(t, "stories")
	reader := readerFor(t).reader
	rapid.Check(t, func(t *rapid.T) { costsBound(t, c, reader) })
}

func costsBound(t *rapid.T, c *config.Clinic, reader *reply.Reader) {
	program := randomProgram(t)
	program.FirstStep.Every = rapid.SampledFrom([]int{0, 7}).Draw(t, "first steps")
	if n := len(program.Blocks); n > 0 && program.Weeks > 0 && rapid.Bool().Draw(t, "maintenance") {
		program.After = &rules.Maintenance{Doses: program.Blocks[n-1].Doses, PerWeek: 3, Months: 1}
	}
	for _, x := range program.Exercises { // texts near and over a segment
		x.Name = rules.Text{"en": strings.Repeat("long ", rapid.IntRange(1, 20).Draw(t, "long")) + x.ID}
		x.How = rules.Text{"en": strings.Repeat("Do it. ", rapid.IntRange(1, 40).Draw(t, "how"))}
	}
	q := *c
	q.Programs = map[string]*rules.Program{program.ID: program}
	costs, _ := Costs(words(), &q)
	most := map[string]int{}
	for _, x := range costs {
		most[x.Kind] = x.Segments
	}
	plan, err := NewPlan(&q, Wanted{Program: program.ID, Start: march + rules.Date(rapid.IntRange(0, 30).Draw(t, "start")), Weeks: 9})
	if err != nil {
		t.Fatal(err)
	}
	l := newLight(plan, newTexts(words(), plan, reader))
	replies := map[int][]config.Reply{}
	for _, r := range randomReplies(t, plan) {
		replies[r.Day] = append(replies[r.Day], r)
	}
	hold := func(kind string, segments int) {
		if segments > most[kind] {
			t.Fatalf("%s text of %d segments, said to be %d at most:\n%s", kind, segments, most[kind], l.texts.last)
		}
	}
	heard := false
	for n := 1; n <= plan.Days; n++ {
		d := plan.date(n)
		for _, m := range moments(plan, n, replies[n]) {
			switch {
			case m.reply == nil:
				dec, segments, _ := l.morning(d)
				if kind := map[bool]string{true: FirstText, false: DailyText}[dec.First]; kind == DailyText || !heard {
					hold(kind, segments)
				}
			case m.reply.Entry != nil:
				l.enter(entry(plan, m.reply), d)
			default:
				_, segments := l.hear(m.reply.Text, d)
				heard = true
				hold(AnswerText, segments)
			}
		}
	}
}

// byText is the small clinic with one exercise and one patient reached by text, changed.
func byText(t *testing.T, change func(c *config.Clinic, e *config.Enrollment, p *rules.Program)) *config.Clinic {
	t.Helper()
	c := clinic(t, "clinic")
	p := c.Programs["settling-in"]
	p.Blocks[0].Doses = p.Blocks[0].Doses[1:] // the toe pull alone
	p.Blocks = p.Blocks[:1]
	all := slices.Collect(c.Enrollments.All())
	rosa := all[1]
	rosa.Address = config.Address{Channel: "sms", To: "+12125550142"}
	change(c, rosa, p)
	c.Enrollments = config.NewRoll(all)
	return c
}

// TestCostWarnings has what is worth a look: where, and in which words. Accents
// that are dropped and punctuation that is made plain are not.
func TestCostWarnings(t *testing.T) {
	type change = func(*config.Clinic, *config.Enrollment, *rules.Program)
	const file = "programs/settling-in.yaml"
	for _, x := range []struct {
		name   string
		change change
		want   []string
	}{
		{"nothing", func(*config.Clinic, *config.Enrollment, *rules.Program) {}, nil},
		{"smart punctuation", func(c *config.Clinic, e *config.Enrollment, p *rules.Program) {
			c.Hours = "Mon\u2013Fri\u00a09\u20265"
			p.Exercises["toe-pull"].Name = rules.Text{"en": "\u201cToe\u201d pull \u2014 slow"}
		}, nil},
		{"an accent", func(_ *config.Clinic, e *config.Enrollment, p *rules.Program) {
			e.Name = "Zo\u00eb"
			p.Exercises["toe-pull"].How = rules.Text{"en": "T\u00eate."}
		}, nil},
		{"a name", func(_ *config.Clinic, e *config.Enrollment, _ *rules.Program) { e.Name = "\u041e\u043b\u044f" },
			[]string{"enrollments.yaml:2:5: the name of rosa-01: a text can't carry \u041e (U+041E), \u043b (U+043B), \u044f (U+044F), so"}},
		{"many letters", func(_ *config.Clinic, e *config.Enrollment, _ *rules.Program) {
			e.Name = "\u041e\u043b\u044f\u0434\u0438"
		},
			[]string{"enrollments.yaml:2:5: the name of rosa-01: a text can't carry \u041e (U+041E), \u043b (U+043B), \u044f (U+044F), and 2 more, so"}},
		{"a proxy", func(_ *config.Clinic, e *config.Enrollment, _ *rules.Program) {
			e.Proxy = &config.Proxy{Name: "\u041e"}
		},
			[]string{"enrollments.yaml:2:5: the proxy's name of rosa-01: a text can't carry \u041e (U+041E)"}},
		{"exercise", func(_ *config.Clinic, _ *config.Enrollment, p *rules.Program) {
			p.Exercises["toe-pull"].Name = rules.Text{"en": "Toe pull \U0001f9b6"}
			p.Exercises["toe-pull"].Care = rules.Text{"en": "Slowly \u2192 gently."}
		}, []string{file + ":17:3: care of toe-pull: a text can't carry \u2192 (U+2192)", file + ":17:3: name of toe-pull: a text can't carry \U0001f9b6 (U+1F9B6)"}},
		{"the clinic", func(c *config.Clinic, _ *config.Enrollment, _ *rules.Program) { c.Name, c.Hours = "\u8db3", "9\u21925" },
			[]string{"stepgate.yaml: the clinic's hours: a text can't carry \u2192 (U+2192)", "stepgate.yaml: the clinic's name: a text can't carry \u8db3 (U+8DB3)"}},
		{"long how-to", func(_ *config.Clinic, _ *config.Enrollment, p *rules.Program) {
			p.Exercises["toe-pull"].How = rules.Text{"en": strings.Repeat("Pull. ", 70)}
		}, []string{file + ":17:3: the how-to of toe-pull can take 5 segments in en (6"}},
		{"long name", func(_ *config.Clinic, _ *config.Enrollment, p *rules.Program) {
			p.Exercises["toe-pull"].Name = rules.Text{"en": strings.Repeat("Turn ", 20)}
		}, []string{file + ":17:3: the daily text of step 1 can take 3 segments in en (3", file + ":17:3: the first text of step 1 can take 4 segments in en (5"}},
		{"long hours", func(c *config.Clinic, _ *config.Enrollment, _ *rules.Program) {
			c.Hours = strings.Repeat("Mon-Fri 8-5 ", 12)
		},
			[]string{"stepgate.yaml: an answer can take 4 segments in en (5", file + ":17:3: the first text of step 1 can take 4 segments in en (5"}},
	} {
		t.Run(x.name, func(t *testing.T) {
			c := byText(t, x.change)
			_, problems := Costs(words(), c)
			var got []string
			for _, p := range problems {
				if !p.Warning {
					t.Errorf("no warning: %s", p)
				}
				got = append(got, strings.Replace(p.String(), "warning: ", "", 1))
			}
			slices.Sort(got)
			want := slices.Sorted(slices.Values(x.want))
			if !slices.EqualFunc(got, want, strings.HasPrefix) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
			c.Enrollments = c.Enrollments.Changed(func(e *config.Enrollment) { e.Address.Channel = "email" })
			if _, problems := Costs(words(), c); len(problems) > 0 {
				t.Errorf("warns where nobody is reached by text: %v", problems)
			}
		})
	}
}

// TestLetters: a character that would go out as itself makes a text UCS-2, one
// with a plainer one in its place does not, one without is a question mark.
func TestLetters(t *testing.T) {
	c := byText(t, func(_ *config.Clinic, e *config.Enrollment, p *rules.Program) {
		e.Name = "Zo\u00ebline"
		p.Exercises["toe-pull"].How = rules.Text{"en": "T\u00eate \u2192 talon."}
	})
	m := measure(words(), c, readersOf(c)[0], march, new(sync.Map))
	for r, want := range map[rune]string{'\u00ea': "e", '\u2192': "?", '\u041e': "?", 'a': "a", '\u00e9': "\u00e9", '\ufe0f': ""} {
		if got := m.sent(r); got != want {
			t.Errorf("%q goes out as %q, want %q", r, got, want)
		}
	}
	costs := m.costs()
	if got, want := costs[1].Outside, []Letter{{"\u00eb", "U+00EB", "e"}}; !slices.Equal(got, want) {
		t.Errorf("outside of the daily text: %v, want %v", got, want)
	}
	if got, want := costs[2].Kind+fmt.Sprint(m.outside(m.how["toe-pull"])), "answer[{\u00ea U+00EA e} {\u2192 U+2192 ?}]"; got != want {
		t.Errorf("outside of the how-to: %s, want %s", got, want)
	}
	m.letters['\u00ea'] = "\u00ea" // as in a language whose words keep it
	got := m.unfit(ownWords{rules.Pos{File: "programs/x.yaml", Line: 7, Column: 3}, "name of x", "f\u00eate"})
	if want := "programs/x.yaml:7:3: warning: name of x: \u00ea (U+00EA) would make a text UCS-2, of 70 characters"; !strings.HasPrefix(got.Error(), want) {
		t.Errorf("%v\nwant %s", got, want)
	}
}

// TestCosts: each text is counted as it stands there, and who reads it shows.
func TestCosts(t *testing.T) {
	c := clinic(t, "clinic")
	costs, _ := Costs(words(), c)
	var got []string
	for _, x := range costs {
		n := notify.Segments(x.Text)
		if n.Segments != x.Segments || n.Units != x.Units || n.Encoding != x.Encoding || x.Outside == nil {
			t.Errorf("%+v is counted as %+v", x, n)
		}
		got = append(got, fmt.Sprint(x.Program, " ", x.Language, " ", x.Kind))
	}
	if want := []string{"settling-in en first", "settling-in en daily", "settling-in en answer"}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if !strings.Contains(costs[0].Text, "toe pull: 5 times") || !strings.Contains(costs[1].Text, "against a band") {
		t.Errorf("the first text is of the first step, the daily of the largest:\n%s\n%s", costs[0].Text, costs[1].Text)
	}
	before := costs[1].Units
	all := slices.Collect(c.Enrollments.All())
	e := all[1]
	e.Cautions = rules.Cautions{Balance: true, ReducedSensation: true}
	e.Proxy = &config.Proxy{Name: "Maximiliana"}
	e.FromDay = 29
	c.Enrollments = config.NewRoll(all)
	costs, _ = Costs(words(), c)
	for _, want := range []string{"For Emil:", "Look at your skin", "Hold a firm support."} {
		if !strings.Contains(costs[1].Text, want) || costs[1].Units <= before {
			t.Errorf("the daily text lacks %q:\n%s", want, costs[1].Text)
		}
	}
	if !strings.Contains(costs[0].Text, "against a band") {
		t.Errorf("somebody begins on a later day:\n%s", costs[0].Text)
	}
	e.Entries = []rules.Entry{{Kind: rules.EntryDischarge}}
	c.Enrollments = config.NewRoll(all)
	costs, _ = Costs(words(), c)
	if costs[1].Units != before {
		t.Errorf("a discharged patient still counts:\n%s", costs[1].Text)
	}
}

// TestTailoredForms: a form that one patient is given counts.
func TestTailoredForms(t *testing.T) {
	c := clinic(t, "clinic")
	c.Programs["settling-in"].Exercises["toe-pull"].Forms = map[string]rules.Text{"slow": {"en": "as slowly as you can bear it"}}
	c.Enrollments = c.Enrollments.Changed(func(e *config.Enrollment) {
		if e.ID == "emil-02" {
			e.Tailoring = []rules.Tailor{{Exercise: "toe-pull", Form: "slow", Side: "left"}}
		}
	})
	costs, _ := Costs(words(), c)
	if want := "(left leg: as slowly as you can bear it)"; !strings.Contains(costs[1].Text, want) {
		t.Errorf("no %q in\n%s", want, costs[1].Text)
	}
}

// TestPrintCosts: eighty columns, whatever the programs are called.
func TestPrintCosts(t *testing.T) {
	c := clinic(t, "stories")
	for id, p := range maps.Clone(c.Programs) {
		q := *p
		q.ID = id + strings.Repeat("-long", 9)
		c.Programs[q.ID] = &q
	}
	costs, _ := Costs(words(), c)
	for _, whole := range []bool{false, true} {
		var out bytes.Buffer
		PrintCosts(&page.Page{Out: &out}, costs, whole)
		for line := range strings.Lines(out.String()) {
			if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > page.Width {
				t.Errorf("%d columns: %s", n, line)
			}
		}
		if got := strings.Contains(out.String(), "Try it now"); got != whole {
			t.Errorf("texts shown: %v, want %v", got, whole)
		}
	}
	b, err := json.Marshal(costs[0])
	if want := `{"program":"heel-loading","language":"en","kind":"first","segments":3,"units":416,"encoding":"GSM-7","text":"Thu Jan 22.`; err != nil || !strings.HasPrefix(string(b), want) {
		t.Errorf("%s %v\nwant %s", b, err, want)
	}
}

// BenchmarkCosts is a clinic of ten programs and a thousand patients.
func BenchmarkCosts(b *testing.B) {
	c := clinic(b, "clinic")
	p := c.Programs["settling-in"]
	for i := range 10 {
		q := *p
		q.ID = fmt.Sprint("p", i)
		c.Programs[q.ID] = &q
	}
	from, all := *c.Enrollments.At(0), slices.Collect(c.Enrollments.All())
	for i := range 1000 {
		e := from
		e.ID, e.Program, e.Address.Channel = fmt.Sprint("e", i), fmt.Sprint("p", i%10), "sms"
		e.Tailoring = []rules.Tailor{{Exercise: "toe-pull", Sets: i%3 + 1, On: march, By: "x"}}
		all = append(all, &e)
	}
	c.Enrollments = config.NewRoll(all)
	set := words()
	for b.Loop() {
		Costs(set, c)
	}
}
