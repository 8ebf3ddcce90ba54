package rehearsal

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stepgate/config"
	"stepgate/rules"
	"stepgate/rules/reply"
)

// says are what the people of the random rehearsals send: reports, questions,
// opting out and in, danger words, and what the clinician writes.
var says = []string{"D0", "D1", "D3", "D3", "D4", "D5", "S P6", "7", "8", "2", "done", "N", "S", "B", "D1 B", "W3", "W0.5", "H", "H 2", "A3", "A 40",
	"STOP", "START", "HELP", "C", "wrong number", "felt a pop in my calf", "no fever", "mumble", "had to stop, it hurt 5", "F4",
	"Liked \"Wall calf stretch\"", "!hold", "!release", "!release", "!release as before", "!release wear", "!strike", "!review", "!cap 1", "!cap none", "!discharge"}

// TestLightIsTheService: whatever is sent, the path the crowds take decides and
// sends exactly what the service does.
func TestLightIsTheService(t *testing.T) {
	c := clinic(t, "stories")
	reader := readerFor(t).reader
	rapid.Check(t, func(t *rapid.T) { sameAsService(t, c, reader) })
}

func sameAsService(t *rapid.T, c *config.Clinic, reader *reply.Reader) {
	program := randomProgram(t)
	q := *c
	q.Programs = map[string]*rules.Program{program.ID: program}
	plan, err := NewPlan(&q, Wanted{Program: program.ID, Start: march + rules.Date(rapid.IntRange(0, 30).Draw(t, "start")), Weeks: 1})
	if err != nil {
		t.Fatal(err)
	}
	plan.Days = rapid.IntRange(1, 40).Draw(t, "days")
	later := rules.Date(rapid.SampledFrom([]int{0, 0, 0, 3, -3}).Draw(t, "exercises begin later"))
	plan.Enrollment.Start += max(0, later)
	plan.Enrollment.Dispensed += max(0, -later)
	texts := newTexts(words(), plan, reader)
	for range rapid.IntRange(0, 3).Draw(t, "others") { // who fill what the texts remember
		newLight(plan, texts).livedAll(plan, randomReplies(t, plan))
	}
	plan.Replies = randomReplies(t, plan)

	days, err := Run(t.Context(), words(), plan)
	if err != nil {
		t.Fatal(err)
	}
	alone := newLight(plan, texts).livedAll(plan, plan.Replies)
	for i := range days {
		if got, want := inJSON(t, alone[i].decided), inJSON(t, days[i].decision); got != want {
			t.Fatalf("day %d: alone the rules decide\n%s\nthe service\n%s\nafter %v", i+1, got, want, plan.Replies)
		}
		if got, want := inJSON(t, alone[i].after), inJSON(t, days[i].after); got != want {
			t.Fatalf("day %d: alone the rules remember\n%s\nthe service\n%s\nafter %v", i+1, got, want, plan.Replies)
		}
		if want := textsOf(&days[i]); !slices.Equal(alone[i].texts, want) {
			t.Fatalf("day %d: texts %+v, the service sends %+v\nafter %v", i+1, alone[i].texts, want, plan.Replies)
		}
	}
}

// lightDay is what a date came to by the rules alone.
type lightDay struct {
	decided *rules.Decision
	texts   []Message
	after   rules.State
}

// livedAll lives all dates of a plan.
func (l *light) livedAll(plan *Plan, replies []config.Reply) []lightDay {
	byDay := map[int][]config.Reply{}
	for _, r := range replies {
		byDay[r.Day] = append(byDay[r.Day], r)
	}
	out := make([]lightDay, plan.Days)
	for i := range out {
		out[i].decided, out[i].texts = l.lived(plan, i+1, byDay[i+1])
		out[i].after = l.s
	}
	return out
}

// lived lives one date as the service does: each thing when it comes.
func (l *light) lived(plan *Plan, n int, replies []config.Reply) (decided *rules.Decision, texts []Message) {
	d := plan.First + rules.Date(n-1)
	for _, m := range moments(plan, n, replies) {
		sent := 0
		switch {
		case m.reply == nil:
			dec, s, ok := l.morning(d)
			if ok {
				decided, sent = &dec, s
			}
		case m.reply.Entry != nil:
			l.enter(entry(plan, m.reply), d)
		default:
			_, sent = l.hear(m.reply.Text, d)
		}
		if sent > 0 {
			texts = append(texts, Message{Text: l.texts.last, Segments: sent})
		}
	}
	return decided, texts
}

// textsOf are the texts a patient got on a date, as far as the rules alone
// know them.
func textsOf(d *Day) []Message {
	var out []Message
	for _, m := range d.Messages {
		if m.To == toPatient {
			out = append(out, Message{Text: m.Text, Segments: m.Segments})
		}
	}
	return out
}

func inJSON(t *rapid.T, v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func randomProgram(t *rapid.T) *rules.Program {
	p := &rules.Program{ID: "random", Title: rules.Text{"en": "Random"}, Hash: fmt.Sprintf("%064x", rapid.Uint64().Draw(t, "hash")),
		Pain: rules.DefaultLines(), Advance: rules.DefaultAdvance(), Weeks: rapid.SampledFrom([]int{0, 3, 6}).Draw(t, "length"),
		Exercises: map[string]*rules.Exercise{}, Where: map[string]rules.Pos{"program": {File: "programs/random.yaml", Line: 1, Column: 1},
			"pain.hold": {File: "programs/random.yaml", Line: 9, Column: 3}}}
	for _, id := range []string{"calf", "band"} {
		p.Exercises[id] = &rules.Exercise{ID: id, Kind: "stretch", Name: rules.Text{"en": strings.ToUpper(id)},
			How: rules.Text{"en": "Do it."}, Side: rapid.SampledFrom([]rules.Side{rules.SideEach, rules.SideAffected, rules.SideTogether}).Draw(t, "side")}
	}
	if rapid.Bool().Draw(t, "wear") {
		p.Wear = &rules.Wear{First: time.Hour, Add: 30 * time.Minute, Every: rapid.IntRange(1, 3).Draw(t, "every"), Full: 5 * time.Hour}
	}
	if p.Wear != nil && rapid.IntRange(0, 4).Draw(t, "exercises") == 0 {
		return p
	}
	p.Advance.Done = rapid.SampledFrom([]int{0, 70, 100}).Draw(t, "done")
	p.Advance.Scores = rapid.IntRange(0, 3).Draw(t, "scores")
	p.Pain.ClearDays = rapid.IntRange(1, 3).Draw(t, "clear days")
	schedules := []rules.Schedule{{}, {Kind: rules.EveryOtherDay}, {Kind: rules.DaysAWeek, PerWeek: 3}, {Kind: rules.OnWeekdays, Weekdays: []time.Weekday{time.Monday, time.Thursday}}}
	for week := 1; week < 5; week += rapid.IntRange(1, 2).Draw(t, "weeks") {
		b := rules.Block{Week: week}
		for _, id := range []string{"calf", "band"}[:rapid.IntRange(1, 2).Draw(t, "doses")] {
			b.Doses = append(b.Doses, rules.Dose{Do: id, Sets: rapid.IntRange(1, 3).Draw(t, "sets"), Reps: 3 * week, Sessions: rapid.IntRange(1, 2).Draw(t, "sessions"),
				Hold: 10 * time.Second, On: rapid.SampledFrom(schedules).Draw(t, "on")})
		}
		p.Blocks = append(p.Blocks, b)
	}
	return p
}

// randomReplies are mostly easy days, so that steps are reached at all, read
// from a CSV file as a clinician would write them.
func randomReplies(t *rapid.T, plan *Plan) []config.Reply {
	var b strings.Builder
	b.WriteString("day,time,text\n")
	easy := rapid.IntRange(0, 100).Draw(t, "easy days in a hundred")
	for n := 1; n <= plan.Days; n++ {
		if rapid.IntRange(1, 100).Draw(t, "easy") <= easy {
			fmt.Fprintf(&b, "%d,18:30,D%d\n", n, rapid.IntRange(0, 3).Draw(t, "score"))
			continue
		}
		for range rapid.IntRange(0, 2).Draw(t, "texts") {
			at := rapid.SampledFrom([]string{"", "", "07:15", "09:00", "23:59"}).Draw(t, "time")
			said := rapid.SampledFrom(says).Draw(t, "text")
			if strings.HasPrefix(said, "!cap 1") && len(plan.Program.Blocks) == 0 {
				continue
			}
			fmt.Fprintf(&b, "%d,%s,\"%s\"\n", n, at, strings.ReplaceAll(said, `"`, `""`))
		}
	}
	replies, problems := config.ReadReplies(config.NewFile("replies.csv", []byte(b.String())), plan.Program, plan.Days)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	return replies
}
