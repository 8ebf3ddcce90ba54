package outcomes

import (
	"testing"

	"stepgate/rules"
)

// usualPatient has 84 days as a program of four steps makes them: something
// every other day, an answer on most, a hold now and then.
func usualPatient(i int) Patient {
	p := Patient{ID: "p", Program: "arches", Start: monday, Dispensed: monday, StepWeeks: []int{1, 3, 6, 9},
		Lines: rules.DefaultLines(), State: rules.InActive, Today: monday + 84}
	due := [][]string{{"calf", "band", "towel"}, {"calf"}}
	for day := 1; day <= 84; day++ {
		d := plain(day)
		d.Step, d.Due, d.Sent, d.Wear = 1+day/22, due[day%2], true, 480
		if (day+i)%5 != 0 {
			d.Reports, d.Halves, d.Score, d.Worn = 1, 2, (day*7+i)%4, 480
		}
		if day%7 == 1 {
			d.FirstStep = 7 - day/14
		}
		if (day+i)%21 < 3 {
			d.Why, d.State, d.Score = rules.PainHeld, rules.InHeld, 4
		}
		p.Days = append(p.Days, d)
	}
	return p
}

// The caseload of a large clinic: 100,000 patients of 84 days.
func BenchmarkTally100000(b *testing.B) {
	var patients []Patient
	for i := range 50 {
		patients = append(patients, usualPatient(i))
	}
	b.ReportAllocs()
	for b.Loop() {
		var tally Tally
		for i := range 100_000 {
			tally.Add(patients[i%len(patients)])
		}
		if c := tally.Clinic(); c.Dates != 8_400_000 {
			b.Fatal(c.Dates)
		}
	}
}

func BenchmarkCourse(b *testing.B) {
	p := usualPatient(1)
	b.ReportAllocs()
	for b.Loop() {
		Of(p)
	}
}

// Room is taken for a patient at the most, never for a day.
func TestAddTakesNoRoomForADay(t *testing.T) {
	var tally Tally
	short, long := usualPatient(1), usualPatient(1)
	short.Days = short.Days[:60]
	for range 100 { // lists that grow have grown
		tally.Add(long)
	}
	few := testing.AllocsPerRun(200, func() { tally.Add(short) })
	many := testing.AllocsPerRun(200, func() { tally.Add(long) })
	if few > 6 || many > 6 {
		t.Errorf("%v allocations for 60 days, %v for 84", few, many)
	}
}
