package outcomes

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"stepgate/rules"
)

func TestClinicOfNobody(t *testing.T) {
	var tally Tally
	b, err := json.Marshal(tally.Clinic())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"patients":0`, `"exercise":null`, `"share":null`, `"weeks":[]`, `"holds":[]`, `"steps":[]`, `"exercises":[]`, `"too_few":true`} {
		if !strings.Contains(string(b), want) {
			t.Errorf("no %s in %s", want, b)
		}
	}
}

func TestImprovementHasAllItsDenominators(t *testing.T) {
	var tally Tally
	for _, p := range []Patient{
		answers(ptr(6), 44, map[int]int{43: 4}),       // yes
		answers(ptr(6), 44, map[int]int{43: 5}),       // no
		answers(nil, 44, map[int]int{1: 3, 43: 2}),    // yes, by the first answer
		answers(ptr(4), 44, map[int]int{43: 7}),       // no: worse
		answers(ptr(5), 44, nil),                      // no answer
		answers(nil, 44, map[int]int{43: 2}),          // no base
		answers(ptr(0), 44, map[int]int{43: 0}),       // no pain
		answers(ptr(6), 20, map[int]int{1: 6, 15: 1}), // not there yet
	} {
		tally.Add(p)
	}
	got := tally.Clinic().Week6
	share, change := got.Share, got.Change
	got.Share, got.Change = nil, nil
	want := Improvement{Week: 6, Patients: 8, NotYet: 1, There: 7, NoBase: 1, NoPain: 1, NoAnswer: 1,
		Compared: 4, ByUsual: 3, ByFirst: 1, Improved: 2, TooFew: true}
	if got != want {
		t.Errorf("%+v\nwant %+v", got, want)
	}
	low, high := exact(2, 4)
	if share == nil || *share != (Rate{50, 100 * low, 100 * high, 1}) {
		t.Errorf("share %+v", share)
	}
	if change == nil || *change != (Spread{4, -1.25, -1, 0}) { // -2, -1, -1, 3
		t.Errorf("change %+v", change)
	}
}

// done makes a patient with an exercise due every day who did the first n of
// the days given, and whose today is the day after them.
func done(days, n int) Patient {
	p := Patient{Start: monday, Lines: rules.DefaultLines(), State: rules.InActive, Today: monday + rules.Date(days)}
	for day := 1; day <= days; day++ {
		d := plain(day)
		d.Sent, d.Due = true, []string{"calf"}
		if day <= n {
			d.Reports, d.Halves, d.Score = 1, 2, 0
		}
		p.Days = append(p.Days, d)
	}
	return p
}

func TestAdherenceByWeekIsOverPatients(t *testing.T) {
	var tally Tally
	for _, n := range []int{10, 7, 14, 0} {
		tally.Add(done(14, n))
	}
	tally.Add(done(10, 9)) // its week 2 is not over
	c := tally.Clinic()
	if len(c.Weeks) != 2 {
		t.Fatalf("%+v", c.Weeks)
	}
	first, second := c.Weeks[0], c.Weeks[1]
	if first.Over != 5 || *first.Exercise != (Spread{5, 100, 100, 100}) || first.Due != 35 || first.Halves != 56 {
		t.Errorf("week 1: %+v, %+v", first, *first.Exercise)
	}
	// Week 2: 3, 0, 7 and 0 of 7 days.
	if second.Over != 4 || second.Exercise.N != 4 || second.Exercise.Q1 != 0 || second.Due != 28 || second.Halves != 20 {
		t.Errorf("week 2: %+v, %+v", second, *second.Exercise)
	}
	near(t, "median of week 2", second.Exercise.Median, (0+300/7.0)/2, 1e-9)
	if c.Exercise.N != 5 || c.Exercise.Median != percent(10, 14) {
		t.Errorf("over the course: %+v", *c.Exercise)
	}
}

// A date on which no message went out asked for nothing, whatever the plan has.
func TestNothingIsDueWithoutAMessage(t *testing.T) {
	p := done(10, 5)
	p.Days[7].Sent = false
	if c := Of(p); c.Total.Due != 9 {
		t.Errorf("%d dates due, want 9", c.Total.Due)
	}
}

func TestDropOff(t *testing.T) {
	var tally Tally
	tally.Add(done(40, 40)) // answers to the end
	tally.Add(done(40, 27)) // 13 silent dates: not yet
	tally.Add(done(40, 26)) // 14: after week 4
	tally.Add(done(40, 3))  // after week 1
	tally.Add(done(40, 0))  // never
	closed := done(40, 3)
	closed.State = rules.InDischarged
	tally.Add(closed) // discharged: no drop-off, but no answer either
	early := done(10, 10)
	early.State, early.Today = rules.InFinished, monday+40
	tally.Add(early) // done after week 1
	got := tally.Clinic()
	if d := got.DropOff; d.Open != 5 || d.Dropped != 3 || d.Never != 1 ||
		len(d.Weeks) != 2 || d.Weeks[0] != (DropOffWeek{1, 1}) || d.Weeks[1] != (DropOffWeek{4, 1}) {
		t.Errorf("%+v", d)
	}
	// Of 40 dates the last 14 can't show a silence: weeks 1 to 3 end before.
	want := []struct{ could, answering int }{{7, 6}, {6, 3}, {6, 3}, {0, 0}, {0, 0}}
	for i, w := range got.Weeks {
		if w.Could != want[i].could || w.Answering != want[i].answering {
			t.Errorf("week %d: %d of %d", w.Number, w.Answering, w.Could)
		}
	}
}

// Who is away since their last report has not stopped, nor has one who could be
// asked nothing after a STOP; neither counts as answering. Who began late could
// not answer before.
func TestStillAnsweringOfThoseWhoCould(t *testing.T) {
	var tally Tally
	away := done(40, 5)
	for i := 8; i < 40; i++ {
		away.Days[i].State = rules.InAway
	}
	tally.Add(away)
	stopped := done(40, 9)
	for i := 9; i < 40; i++ {
		stopped.Days[i].State, stopped.Days[i].Sent = rules.InOptedOut, false
	}
	stopped.State = rules.InOptedOut
	tally.Add(stopped)
	late := done(40, 40)
	late.Days = late.Days[9:]
	tally.Add(late)
	c := tally.Clinic()
	if d := c.DropOff; d.Open != 3 || d.Dropped != 0 {
		t.Errorf("%+v", d)
	}
	want := []struct{ could, answering int }{{2, 2}, {2, 2}, {1, 1}}
	for i, w := range want {
		if got := c.Weeks[i]; got.Could != w.could || got.Answering != w.answering {
			t.Errorf("week %d: %d of %d", got.Number, got.Answering, got.Could)
		}
	}
}

func TestWearIsApartFromExercise(t *testing.T) {
	var tally Tally
	for _, worn := range []int{60, 59, -1} {
		p := done(10, 0)
		for i := range p.Days {
			p.Days[i].Wear = 60
			if i < 4 {
				p.Days[i].Worn = worn
			}
		}
		tally.Add(p)
	}
	c := tally.Clinic()
	if *c.WearKept != (Spread{2, 25, 50, 75}) || *c.WearReported != (Spread{3, 20, 40, 40}) || *c.Exercise != (Spread{3, 0, 0, 0}) {
		t.Errorf("kept %+v, reported %+v, exercise %+v", *c.WearKept, *c.WearReported, *c.Exercise)
	}
	if len(c.Wear) != 1 { // the second week is not over
		t.Fatalf("%+v", c.Wear)
	}
	w := c.Wear[0]
	if w.Over != 3 || w.Asked != 21 || w.Reported != 8 || w.Kept != 4 || *w.WearKept != (Spread{2, 25, 50, 75}) || w.WearReported.Q3 != percent(4, 7) {
		t.Errorf("%+v, kept %+v", w, *w.WearKept)
	}
}

func TestTimeInHoldIsAShareOfDecidedDates(t *testing.T) {
	var tally Tally
	tally.Add(story())
	tally.Add(done(21, 21))
	c := tally.Clinic()
	want := []Hold{
		{CausePain, 4, percent(4, 42), 1},
		{CausePause, 4, percent(4, 42), 1},
		{CauseAway, 6, percent(6, 42), 1}, // today's waiting is not over
	}
	if c.Dates != 42 || fmt.Sprint(c.Holds) != fmt.Sprint(want) {
		t.Errorf("%d dates: %+v", c.Dates, c.Holds)
	}
	if c.PainHeld.N != 2 || c.PainHeld.Q3 != 0.75*percent(8, 21) {
		t.Errorf("%+v", *c.PainHeld)
	}
}

func TestWhichStepHurts(t *testing.T) {
	var tally Tally
	for i := range 6 {
		p := done(10, 10)
		for j := range p.Days {
			d := &p.Days[j]
			if j >= 5 {
				d.Step, d.Due = 2, []string{"calf", "band"}
			}
			d.Score = 3
		}
		p.Days[5].Score = 4                       // a pain day on step 2
		p.Days[6].Score, p.Days[6].Rest = 9, true // nothing was due to hurt
		p.Days[7].Struck, p.Days[7].Score = true, -1
		p.Days[8].Score = -1
		if i == 0 {
			p.Lines.Hold = 5 // this patient's own line: 4 is no pain day
		}
		tally.Add(p)
	}
	c := tally.Clinic()
	flat := func(rows []Hurt) (out []string) {
		for _, h := range rows {
			out = append(out, fmt.Sprintf("%s %d%s: %d patients, %d days, %d answered, %d pain, %d hurt, %.2f, %.2f, %v",
				h.Program, h.Step, h.Exercise, h.Patients, h.Days, h.Answered, h.Pain, h.Hurt, h.Rate.Per100, h.OfAnswered.Per100, h.TooFew))
		}
		return out
	}
	want := []string{
		"arches 1: 6 patients, 30 days, 30 answered, 0 pain, 0 hurt, 0.00, 0.00, false",
		"arches 2: 6 patients, 18 days, 12 answered, 5 pain, 5 hurt, 27.78, 41.67, true",
	}
	if got := flat(c.Steps); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("steps\n%s", strings.Join(got, "\n"))
	}
	want = []string{
		"arches 0band: 6 patients, 18 days, 12 answered, 5 pain, 5 hurt, 27.78, 41.67, true",
		"arches 0calf: 6 patients, 48 days, 42 answered, 5 pain, 5 hurt, 10.42, 11.90, false",
	}
	if got := flat(c.Exercises); strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("exercises\n%s", strings.Join(got, "\n"))
	}
}

func TestTooFewToSay(t *testing.T) {
	for _, c := range []struct {
		patients, days int
		few            bool
	}{{4, 100, true}, {5, 6, false}, {5, 5, true}, {6, 5, false}} {
		var tally Tally
		for range c.patients {
			tally.Add(done(c.days, c.days))
		}
		if h := tally.Clinic().Steps[0]; h.TooFew != c.few {
			t.Errorf("%d patients of %d days: %+v", c.patients, c.days, h)
		}
	}
}
