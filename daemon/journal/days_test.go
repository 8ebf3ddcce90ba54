package journal

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"stepgate/rules"
)

func anyDay(rt *rapid.T, d rules.Date) Day {
	word := rapid.SampledFrom([]string{"", "tick", "pain hold", "held", "steady-arches", "é"})
	number := rapid.IntRange(-1000, 100000)
	day := Day{Date: d, Program: word.Draw(rt, "program"), State: rules.InState(word.Draw(rt, "state")), Why: rules.Code(word.Draw(rt, "why")),
		WearWhy: rules.Code(word.Draw(rt, "wear why")), Ask: rules.Question(word.Draw(rt, "ask")), Fate: word.Draw(rt, "fate"),
		Due: rapid.SliceOfN(rapid.SampledFrom([]string{"wall-calf", "towel-curl", "heel-raise"}), 1, 4).Draw(rt, "due")}
	if rapid.Bool().Draw(rt, "rest") {
		day.Due = nil
	}
	for _, n := range day.numbers() {
		*n = number.Draw(rt, "number")
	}
	for _, b := range day.flags() {
		*b = rapid.Bool().Draw(rt, "flag")
	}
	return day
}

// What is written reads back the same, however the sheet came about.
func TestSheetReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		first := rules.Date(rapid.IntRange(1, 2000).Draw(rt, "sheet")) * sheetDates
		dates := rapid.SliceOfNDistinct(rapid.IntRange(0, sheetDates-1), 1, sheetDates, rapid.ID[int]).Draw(rt, "dates")
		s := &sheet{first: first}
		for _, at := range dates {
			d := anyDay(rt, first+rules.Date(at))
			i, _ := s.find(d.Date)
			s.insert(i, d)
		}
		v, back := s.marshal(), &sheet{known: map[string]string{}}
		if err := back.parse(sheetKey("p-01", first), v); err != nil {
			rt.Fatal(err)
		}
		if !reflect.DeepEqual(back.days, s.days) || back.first != first {
			rt.Fatalf("got  %+v\nwant %+v", back.days, s.days)
		}
		if again := back.marshal(); string(again) != string(v) {
			rt.Fatalf("written again: %x, was %x", again, v)
		}
	})
}

// Bytes that are no sheet are damage, and never a crash.
func FuzzSheet(f *testing.F) {
	f.Add((&sheet{first: 28, days: []Day{{Date: 30, Program: "a", Due: []string{"b"}, Score: 3}}}).marshal())
	f.Add([]byte{})
	f.Add([]byte{255, 255, 255, 255, 15})
	f.Fuzz(func(t *testing.T, v []byte) {
		s := &sheet{}
		if err := s.parse(sheetKey("p", 28), v); err != nil && !errors.Is(err, ErrDamaged) {
			t.Fatal(err)
		}
	})
}

// Days of one enrollment come alone, in any range, also where another id
// begins the same; and they go with whoever is erased.
func TestDays(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	const many = 70 // over three sheets
	for _, id := range []string{"p", "p-1", "p-10"} {
		mustAdd(t, j, enroll(id, day))
		for d := range rules.Date(many) {
			mustAdd(t, j, Event{Kind: Decided, ID: id, State: &rules.State{Program: id}, Decision: &rules.Decision{Date: 20731 + d, Day: int(d) + 1}})
		}
	}
	dates := func(id string, from, to rules.Date) string {
		var got string
		view(t, j, func(tx *Tx) error {
			days, err := tx.Days(id, from, to)
			if len(days) > 0 {
				got = fmt.Sprint(len(days), " ", days[0].D, " ", days[len(days)-1].D, " ", days[0].Program)
			}
			return err
		})
		return got
	}
	for _, c := range []struct {
		from, to rules.Date
		want     string
	}{{0, 0, "70 1 70 p-1"}, {20740, 20745, "6 10 15 p-1"}, {20799, 0, "2 69 70 p-1"}, {0, 20731, "1 1 1 p-1"}, {0, 20730, ""}, {20801, 0, ""}} {
		if got := dates("p-1", c.from, c.to); got != c.want {
			t.Errorf("days from %d to %d: %q, want %q", c.from, c.to, got, c.want)
		}
	}
	all := func() (got string) {
		view(t, j, func(tx *Tx) error {
			return tx.AllDays(func(id string, days []Day) error {
				got += fmt.Sprint(id, " ", len(days), " ", days[0].Program, " ", days[many-1].D, "; ")
				return nil
			})
		})
		return got
	}
	if got := all(); got != "p 70 p 70; p-1 70 p-1 70; p-10 70 p-10 70; " {
		t.Errorf("all: %s", got)
	}
	err := j.Update(context.Background(), func(tx *Tx) error { return tx.Erase("p-1", day, "admin", "asked") })
	if err != nil {
		t.Fatal(err)
	}
	if got := all(); got != "p 70 p 70; p-10 70 p-10 70; " {
		t.Errorf("after an erasure: %s", got)
	}
	checkWhole(t, j)
}

// People come in order however many there are, and an error ends them there.
func TestPeopleInOrder(t *testing.T) {
	j := open(t, filepath.Join(t.TempDir(), "journal.db"))
	const many = 1300
	err := j.Update(context.Background(), func(tx *Tx) error {
		for i := range many {
			e := enroll(fmt.Sprintf("p-%04d", i), day)
			e.At = day
			if _, err := tx.Append(e); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, stop := range []int{0, 1, 255, 256, 257, 900, many} {
		n, enough := 0, errors.New("enough")
		view(t, j, func(tx *Tx) error {
			err := tx.People(func(id string, p *Person) error {
				if want := fmt.Sprintf("p-%04d", n); id != want || p.State.Program != "steady-arches" {
					t.Fatalf("%s, %+v; want %s", id, p.State, want)
				}
				if n == stop {
					return enough
				}
				n++
				return nil
			})
			if stop < many && !errors.Is(err, enough) || stop == many && err != nil || n != min(stop, many) {
				t.Errorf("stopped at %d after %d: %v", stop, n, err)
			}
			return nil
		})
	}
}
