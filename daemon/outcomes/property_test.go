package outcomes

import (
	"encoding/json"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

var (
	someStates = []rules.InState{rules.InActive, rules.InActive, rules.InActive, rules.InHeld, rules.InEased, rules.InWaiting,
		rules.InMaintenance, rules.InPaused, rules.InAway, rules.InOptedOut, rules.InSuspended, rules.InFinished, rules.InDischarged}
	someCodes = []rules.Code{rules.Tick, rules.Tick, rules.Tick, rules.FirstDay, rules.NotBegun, rules.Paused, rules.StepBack,
		rules.BlockAgain, rules.PainHeld, rules.FirstRise, rules.ClinicHeld, rules.AwayCode, rules.OptedOut, rules.Suspended,
		rules.NoConsent, rules.Unheard, rules.NotSent, rules.Capped, rules.Waiting, rules.TableEnd, rules.Break, rules.Lost,
		rules.Review, rules.Released, rules.WearQuiet, rules.Finished}
	someDue = [][]string{nil, {"calf"}, {"calf", "band"}, {"band", "calf", "towel"}}
)

// anyDay draws a date without regard to what the rules would make of it.
func anyDay(t *rapid.T, date rules.Date) journal.Day {
	int := func(from, to int) int { return rapid.IntRange(from, to).Draw(t, "n") }
	yes := func() bool { return int(0, 3) == 0 }
	d := journal.Day{Date: date, Program: rapid.SampledFrom([]string{"arches", "heels"}).Draw(t, "program"),
		D: int(-3, 90), P: int(0, 90), Step: int(0, 3), Steps: 3,
		State: rapid.SampledFrom(someStates).Draw(t, "state"), Why: rapid.SampledFrom(someCodes).Draw(t, "why"),
		Due: rapid.SampledFrom(someDue).Draw(t, "due"), Wear: 60 * int(0, 3), Rest: yes(), Sent: !yes(),
		Fate:    rapid.SampledFrom([]string{"", "sent", "rejected", "expired", "undelivered", "delivered", "no news"}).Draw(t, "fate"),
		Reports: int(0, 2), Score: int(-1, 10), FirstStep: int(-1, 10), Struck: yes(), Halves: int(0, 2), None: yes(),
		Worn: int(-1, 4), Skin: yes()}
	if d.Worn > 0 {
		d.Worn *= 60
	}
	if d.Struck && yes() {
		d.Score = -1
	}
	return d
}

func anyPatient(t *rapid.T) Patient {
	p := Patient{ID: "p", Program: "arches", Start: monday, Dispensed: monday - rules.Date(rapid.IntRange(-10, 10).Draw(t, "dispensed")),
		Lines: rules.DefaultLines(), StepWeeks: []int{1, 3, 6}, State: rapid.SampledFrom(someStates).Draw(t, "shown")}
	if rapid.Bool().Draw(t, "usual") {
		p.UsualStep = ptr(rapid.IntRange(0, 10).Draw(t, "usual"))
	}
	date := monday - rules.Date(rapid.IntRange(-20, 10).Draw(t, "first"))
	for range rapid.IntRange(0, 60).Draw(t, "days") {
		p.Days = append(p.Days, anyDay(t, date))
		date += rules.Date(rapid.SampledFrom([]int{1, 1, 1, 1, 2, 9}).Draw(t, "gap"))
	}
	p.Today = rapid.SampledFrom([]rules.Date{0, date - 1, date, date + 30}).Draw(t, "today")
	return p
}

func anyPatients(t *rapid.T) []Patient {
	return rapid.SliceOfN(rapid.Custom(anyPatient), 0, 8).Draw(t, "patients")
}

func clinicOf(patients []Patient) Clinic {
	var tally Tally
	for _, p := range patients {
		tally.Add(p)
	}
	return tally.Clinic()
}

func TestTheOrderOfAddMakesNoDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		patients := anyPatients(t)
		one := clinicOf(patients)
		two := clinicOf(rapid.Permutation(patients).Draw(t, "order"))
		if !reflect.DeepEqual(one, two) {
			t.Fatalf("%s\n%s", asJSON(t, one), asJSON(t, two))
		}
	})
}

func asJSON(t *rapid.T, v any) string {
	b, err := json.Marshal(v) // fails on a figure that is no number
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The room that a Tally uses again leaves nothing of the patient before.
func TestACourseIsThePatientsAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var used Course
		for _, p := range anyPatients(t) {
			used.fill(&p, nil)
			if got, want := asJSON(t, used), asJSON(t, Of(p)); len(p.Days) > 0 && got != want {
				// An empty list is null where there never was room for one.
				if reflect.DeepEqual(plainJSON(t, got), plainJSON(t, want)) {
					continue
				}
				t.Fatalf("%s\n%s", got, want)
			}
		}
	})
}

// plainJSON reads JSON back, empty lists as none.
func plainJSON(t *rapid.T, s string) map[string]any {
	m := map[string]any{}
	if err := json.Unmarshal([]byte(s), &m); err != nil {
		t.Fatal(err)
	}
	for k, v := range m {
		if list, ok := v.([]any); v == nil || ok && len(list) == 0 {
			delete(m, k)
		}
	}
	return m
}

func TestDenominatorsOfACourseSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPatient(t)
		c := Of(p)
		n, sum := c.Total, Counts{}
		dates, causes := 0, 0
		for i := range p.Days {
			if p.over(p.Days[i].Date) {
				dates++
				if CauseOf(&p.Days[i]) != "" {
					causes++
				}
			}
		}
		for _, w := range c.Weeks {
			sum.add(&w.Counts)
		}
		switch {
		case n != sum, n.Decided != dates:
		case n.Held+n.Paused+n.Clinic+n.Waiting+n.Away+n.Other != causes:
		case n.Done+n.Some+n.NotToday > n.Due, n.Halves != 2*n.Done+n.Some:
		case n.Due > n.Stood, n.Stood > n.Decided, n.Unreached > n.Due:
		case n.Answered > n.Sent, n.Sent > n.Stood, n.Pain > n.Scored, n.Scored > n.Stood:
		case c.TotalWear.Kept > c.TotalWear.Reported, c.TotalWear.Reported > c.TotalWear.Asked:
		case len(c.Steps) != len(p.Days):
		default:
			return
		}
		t.Fatalf("%d dates, %d with a cause: %+v", dates, causes, c)
	})
}

func TestDenominatorsOfAClinicSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		patients := anyPatients(t)
		c := clinicOf(patients)
		bad := func(why string) { t.Fatalf("%s: %s", why, asJSON(t, c)) }
		dates, waited, begun := 0, 0, 0
		for _, p := range patients {
			n := Of(p).Total
			dates += n.Decided
			waited += n.Held + n.Paused + n.Clinic + n.Waiting + n.Away + n.Other
			if n.Decided > 0 {
				begun++
			}
		}
		for _, h := range c.Holds {
			waited -= h.Dates
			if h.Patients > c.Begun || h.Share <= 0 || h.Share > 100 {
				bad("hold")
			}
		}
		if c.Patients != len(patients) || c.Begun != begun || c.Dates != dates || waited != 0 {
			bad("dates")
		}
		for _, n := range []Improvement{c.Week6, c.Week12} {
			if n.Patients != c.Patients || n.Patients != n.There+n.NotYet || n.There != n.Compared+n.NoBase+n.NoPain+n.NoAnswer ||
				n.Compared != n.ByUsual+n.ByFirst || n.Improved > n.Compared || (n.Share == nil) != (n.Compared == 0) {
				bad("improvement")
			}
		}
		dropped := c.DropOff.Never
		for _, w := range c.DropOff.Weeks {
			dropped += w.Patients
		}
		if dropped != c.DropOff.Dropped || dropped > c.DropOff.Open || c.DropOff.Open > c.Begun {
			bad("drop-off")
		}
		for i, w := range c.Weeks {
			if w.Number != i+1 || w.Answering > w.Could || w.Could > c.Begun || w.Halves > 2*w.Due || w.Exercise != nil && w.Exercise.N > w.Over {
				bad("week")
			}
		}
		for _, h := range slices.Concat(c.Steps, c.Exercises) {
			if h.Pain > h.Answered || h.Answered > h.Days || h.Hurt > h.Patients || h.Hurt > h.Pain || h.Patients > h.Days ||
				h.Rate.Low > h.Rate.Per100 || h.Rate.High < h.Rate.Per100 {
				bad("hurt")
			}
		}
	})
}

// The rows of pain against a plain count over all days.
func TestHurtsAgainstAPlainCount(t *testing.T) {
	type row struct{ days, answered, pain int }
	rapid.Check(t, func(t *rapid.T) {
		patients := anyPatients(t)
		want := map[hurtKey]row{}
		for _, p := range patients {
			for i := range p.Days {
				d := &p.Days[i]
				if d.Rest || d.Struck || !stands(d) || !p.over(d.Date) {
					continue
				}
				keys := []hurtKey{}
				if d.Step > 0 {
					keys = append(keys, hurtKey{d.Program, d.Step, ""})
				}
				for _, id := range d.Due {
					keys = append(keys, hurtKey{d.Program, 0, id})
				}
				for _, key := range keys {
					r := want[key]
					r.days++
					if d.Score >= 0 {
						r.answered++
					}
					if d.Score >= 4 {
						r.pain++
					}
					want[key] = r
				}
			}
		}
		c := clinicOf(patients)
		for _, h := range slices.Concat(c.Steps, c.Exercises) {
			key := hurtKey{h.Program, h.Step, h.Exercise}
			if want[key] != (row{h.Days, h.Answered, h.Pain}) {
				t.Fatalf("%+v, want %+v", h, want[key])
			}
			delete(want, key)
		}
		if len(want) > 0 {
			t.Fatalf("missing %v", want)
		}
	})
}

// Without the days that a clinician struck the rows of pain are the same, and
// the score of such a day is nothing.
func TestAStruckDayDoesNotCount(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		with := anyPatients(t)
		without, other := slices.Clone(with), slices.Clone(with)
		for i := range with {
			without[i].Days = slices.DeleteFunc(slices.Clone(with[i].Days), func(d journal.Day) bool { return d.Struck })
			other[i].Days = slices.Clone(with[i].Days)
			for j := range other[i].Days {
				if other[i].Days[j].Struck {
					other[i].Days[j].Score = rapid.IntRange(-1, 10).Draw(t, "score")
				}
			}
			if a, b := Of(with[i]).Total, Of(other[i]).Total; a != b {
				t.Fatalf("%+v\n%+v", a, b)
			}
		}
		a, b, c := clinicOf(with), clinicOf(without), clinicOf(other)
		if !reflect.DeepEqual(a.Steps, b.Steps) || !reflect.DeepEqual(a.Exercises, b.Exercises) {
			t.Fatalf("%s\n%s", asJSON(t, a), asJSON(t, b))
		}
		if !reflect.DeepEqual(a, c) {
			t.Fatalf("%s\n%s", asJSON(t, a), asJSON(t, c))
		}
	})
}

// What comes in today counts in no share before the date is over.
func TestTodayIsNotOver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPatient(t)
		last := len(p.Days) - 1
		if last < 0 {
			return
		}
		p.Today = p.Days[last].Date
		q := p
		q.Days = p.Days[:last]
		var a, b Tally
		a.Add(p)
		b.Add(q)
		one, two := a.Clinic(), b.Clinic()
		one.DropOff, two.DropOff = DropOff{}, DropOff{} // a report today ends a silence
		for i := range one.Weeks {
			one.Weeks[i].Could, one.Weeks[i].Answering = 0, 0
		}
		for i := range two.Weeks {
			two.Weeks[i].Could, two.Weeks[i].Answering = 0, 0
		}
		if !reflect.DeepEqual(one, two) {
			t.Fatalf("%s\n%s", asJSON(t, one), asJSON(t, two))
		}
	})
}
