package rehearsal

import (
	"bytes"
	"context"
	"encoding/json"
	"maps"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"stepgate/daemon/page"
	"stepgate/rules"
	"stepgate/rules/reply"
)

func crowd(t testing.TB, plan *Plan, people int, seed uint64) *Crowd {
	t.Helper()
	c, err := PlayCrowd(context.Background(), words(), plan, people, seed)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// TestCrowd: the same seed gives the same crowd on any number of processors,
// another seed another one.
func TestCrowd(t *testing.T) {
	plan := demoPlan(t, 0, "")
	print := func(c *Crowd) string {
		var out bytes.Buffer
		c.Print(&page.Page{Out: &out})
		return out.String()
	}
	first := print(crowd(t, plan, 300, 7))
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	if again := print(crowd(t, plan, 300, 7)); again != first {
		t.Errorf("the same seed gives\n%s\nand then\n%s", first, again)
	}
	if other := print(crowd(t, plan, 300, 8)); other == first {
		t.Error("another seed gives the same crowd")
	}
	golden(t, "crowd.txt", []byte(first))
	for line := range strings.Lines(first) {
		if len(strings.TrimRight(line, "\n")) > page.Width {
			t.Errorf("over %d columns: %s", page.Width, line)
		}
	}
}

// TestCrowdAddsUp: counts fall from step to step and never from week to week,
// nobody is ahead of the calendar, and each person of a crowd is the person of
// that number in any other crowd of the seed.
func TestCrowdAddsUp(t *testing.T) {
	plan := demoPlan(t, 12, "")
	c := crowd(t, plan, 200, 1)
	for w, row := range c.Reached {
		for s, n := range row {
			if s > 0 && n > row[s-1] || w > 0 && n < c.Reached[w-1][s] || n > c.People {
				t.Errorf("week %d: %v after %v", w+1, row, c.Reached[max(0, w-1)])
			}
			if week := plan.Program.Blocks[s].Week; w+1 < week && n > 0 {
				t.Errorf("%d people reach step %d in week %d, before its week %d", n, s+1, w+1, week)
			}
		}
	}
	if c.Reached[0][0] != 200 || c.Reached[11][3] == 0 || c.Segments < c.Daily+c.Answers || c.Daily == 0 || c.Answers > c.Replies || c.Most > 3 {
		t.Errorf("%+v", c)
	}
	half, more := crowd(t, plan, 100, 1), newCrowd(plan)
	english := readerFor(t)
	for i := 101; i <= 200; i++ {
		more.live(newLight(plan, newTexts(words(), plan, english.reader)), newSomeone(1, i, english.letters))
	}
	half.add(more)
	half.People = 200
	if a, b := asJSON(t, half), asJSON(t, c); a != b {
		t.Errorf("two halves make\n%s\nthe whole is\n%s", a, b)
	}
}

// TestCrowdJSON: exactly the documented keys.
func TestCrowdJSON(t *testing.T) {
	var v map[string]any
	if err := json.Unmarshal([]byte(asJSON(t, crowd(t, demoPlan(t, 2, ""), 3, 1))), &v); err != nil {
		t.Fatal(err)
	}
	want := "alert_causes answer_texts daily_texts longest people program reached replies seed segments silent_people start steps trouble weeks"
	if got := strings.Join(slices.Sorted(maps.Keys(v)), " "); got != want {
		t.Errorf("keys %s, want %s", got, want)
	}
}

func asJSON(t testing.TB, v any) string {
	t.Helper()
	b, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestAdherence: the people of a crowd do what is due on the published share of
// days: 79% in weeks 1-2, 67% in weeks 3-6, 60% in weeks 7-12 (an Achilles
// trial, BJSM 2021;55:486-92).
func TestAdherence(t *testing.T) {
	const people = 400
	letters := reply.Letters{Done: "d", None: "n", First: "f"}
	doses := []rules.Due{{Exercise: "calf"}}
	for _, x := range []struct {
		from, to int // weeks
		want     float64
	}{{1, 2, 0.79}, {3, 6, 0.67}, {7, 12, 0.60}} {
		did, due := 0, 0
		for i := range people {
			p := newSomeone(3, i, letters)
			for day := (x.from-1)*7 + 1; day <= x.to*7; day++ {
				due++
				if strings.HasPrefix(p.answer(&rules.Decision{Day: day, Step: 1, Doses: doses, Send: true, Ask: rules.AskPain}), "d") {
					did++
				}
			}
		}
		// Five standard errors of a share.
		if got := float64(did) / float64(due); math.Abs(got-x.want) > 5*math.Sqrt(x.want*(1-x.want)/float64(due)) {
			t.Errorf("weeks %d-%d: %.3f of %d days done, want %.2f", x.from, x.to, got, due, x.want)
		}
	}
}

// TestContents: two values write the same exactly if they are equal, in every
// field there is.
func TestContents(t *testing.T) {
	three, four := 3, 4
	base := rules.Decision{Date: 5, Doses: []rules.Due{{Exercise: "a"}}, Notices: []rules.Notice{{Kind: "k", Score: &three}}}
	same := base
	other := 3
	same.Doses, same.Notices = []rules.Due{{Exercise: "a"}}, []rules.Notice{{Kind: "k", Score: &other}}
	if !bytes.Equal(contents(nil, &base), contents(nil, &same)) {
		t.Error("equal values write different contents")
	}
	for i, change := range []func(*rules.Decision){
		func(d *rules.Decision) { d.Date = 6 },
		func(d *rules.Decision) { d.WearOut = true },
		func(d *rules.Decision) { d.Ask = "x" },
		func(d *rules.Decision) { d.Doses = []rules.Due{{Exercise: "a", Sets: 1}} },
		func(d *rules.Decision) { d.Doses = []rules.Due{{Exercise: "a"}, {}} },
		func(d *rules.Decision) { d.Notices = []rules.Notice{{Kind: "k", Score: &four}} },
		func(d *rules.Decision) { d.Notices = []rules.Notice{{Kind: "k"}} },
		func(d *rules.Decision) { d.Why.Rule = "x" },
	} {
		v := base
		change(&v)
		if bytes.Equal(contents(nil, &base), contents(nil, &v)) {
			t.Errorf("change %d writes the same contents", i)
		}
	}
	maps1, maps2 := map[string]float64{"a": 1, "b": 2}, map[string]float64{"b": 2, "a": 1}
	if !bytes.Equal(contents(nil, &maps1), contents(nil, &maps2)) {
		t.Error("the order of a map's keys makes a difference")
	}
	a, b := [2]string{"ab", "c"}, [2]string{"a", "bc"}
	if bytes.Equal(contents(nil, &a), contents(nil, &b)) {
		t.Error("two texts run together")
	}
}

// BenchmarkCrowd plays 10,000 patients for 12 weeks.
func BenchmarkCrowd(b *testing.B) {
	plan := demoPlan(b, 12, "")
	seed := rand.Uint64()
	for b.Loop() {
		if c := crowd(b, plan, 10_000, seed); c.Daily == 0 {
			b.Fatal("nobody got a text")
		}
	}
	b.ReportMetric(10_000*float64(b.N)/b.Elapsed().Seconds(), "patients/s")
}

// BenchmarkRehearsal plays one patient for 12 weeks with a reply a day, journal
// and all.
func BenchmarkRehearsal(b *testing.B) {
	var csv strings.Builder
	for n := 1; n <= 84; n++ {
		csv.WriteString(count(n) + ",,D1\n")
	}
	plan := demoPlan(b, 12, csv.String())
	for b.Loop() {
		played(b, plan)
	}
}
