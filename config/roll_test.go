package config

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"sync"
	"testing"
	"time"

	"stepgate/rules"
)

// people are so many enrollments in any order, filled in every way, each in a file
// of their own or in the same.
func people(x *filler, n int) []*Enrollment {
	list := make([]*Enrollment, n)
	for i := range list {
		x.rare = i > 0
		x.file = fmt.Sprintf("enrollments/%d.yaml", i%3)
		list[i] = x.enrollment()
		list[i].ID = fmt.Sprintf("p-%05d", i)
	}
	x.rnd.Shuffle(n, func(i, j int) { list[i], list[j] = list[j], list[i] })
	return list
}

func newFiller() (*filler, uint64) {
	seed := uint64(time.Now().UnixNano())
	return &filler{rnd: rand.New(rand.NewPCG(seed, 1)), zones: &zones{}}, seed
}

// What is put into a roll is read from it, every field of it, in order of id. A new
// field that packing does not know fails here.
func TestRollKeepsEverything(t *testing.T) {
	x, seed := newFiller()
	for _, n := range []int{1, 2, rollLot - 1, rollLot, rollLot + 1, 3*rollLot + 7} {
		list := people(x, n)
		was := slices.Clone(list)
		r := NewRoll(list)
		if !slices.Equal(list, was) || r.Len() != n {
			t.Fatalf("seed %d: of %d the roll has %d, or it changed the list it was made of", seed, n, r.Len())
		}
		want := map[string]*Enrollment{}
		for _, e := range list {
			want[e.ID] = e
		}
		last, seen := "", 0
		for e := range r.All() {
			if e.ID <= last || !reflect.DeepEqual(e, want[e.ID]) {
				t.Fatalf("seed %d: after %q\n%+v\nwant\n%+v", seed, last, e, want[e.ID])
			}
			if e.Zone != want[e.ID].Zone || r.ID(seen) != e.ID || !reflect.DeepEqual(r.At(seen), e) || !reflect.DeepEqual(r.Get(e.ID), e) {
				t.Fatalf("seed %d: %s is another by place or by id", seed, e.ID)
			}
			last = e.ID
			seen++
		}
		if seen != n || !slices.IsSorted(slices.Collect(r.IDs())) {
			t.Fatalf("seed %d: %d of %d seen", seed, seen, n)
		}
	}
}

// However it is put together, a roll is the same.
func TestRollsTogether(t *testing.T) {
	x, seed := newFiller()
	for _, n := range []int{0, 1, rollLot, 16*rollLot - 1, 16 * rollLot, 16*rollLot + 1, 33*rollLot + 5} {
		list := people(x, n)
		want := NewRoll(list)
		sorted := slices.SortedFunc(slices.Values(list), func(a, b *Enrollment) int { return cmp.Compare(a.ID, b.ID) })
		for what, all := range map[string][]*Enrollment{"as it comes": list, "in order": sorted} {
			if got := CollectRoll(slices.Values(all)); !sameRoll(got, want) {
				t.Errorf("seed %d: %d collected %s are others", seed, n, what)
			}
		}
		var rolls []Roll
		for lot := range slices.Chunk(list, 1+x.rnd.IntN(2*rollLot)) {
			rolls = append(rolls, NewRoll(lot), Roll{})
		}
		if got := together(rolls); !sameRoll(got, want) {
			t.Errorf("seed %d: %d of %d rolls are others", seed, n, len(rolls))
		}
	}
}

func sameRoll(a, b Roll) bool {
	return reflect.DeepEqual(slices.Collect(a.All()), slices.Collect(b.All()))
}

// Places that no file would give, and no zone at all, come out the same too.
func TestRollOfWhatIsMadeUp(t *testing.T) {
	e := &Enrollment{Enrollment: rules.Enrollment{ID: "a", At: rules.Pos{Line: 3}, LinesAt: rules.Pos{File: "b.yaml"},
		Entries: []rules.Entry{{At: rules.Pos{File: "c.yaml", Line: 4, Column: 5}}, {At: rules.Pos{Line: 7}}, {}}}}
	same := *e
	r := NewRoll([]*Enrollment{{}, e, &same})
	if got := r.Get("a"); !reflect.DeepEqual(got, e) {
		t.Errorf("%+v\nwant\n%+v", got, e)
	}
	if got := r.At(0); !reflect.DeepEqual(got, &Enrollment{}) {
		t.Errorf("nothing at all is %+v", got)
	}
}

// Nobody is found who is not there; changing what was read changes nobody.
func TestRollFinds(t *testing.T) {
	x, seed := newFiller()
	r := NewRoll(people(x, 2*rollLot+3))
	for _, id := range []string{"", "p-", "p-00000x", "p-99999", "q", "P-00001"} {
		if e := r.Get(id); e != nil {
			t.Errorf("seed %d: %q is %s", seed, id, e.ID)
		}
		if _, found := r.Find(id); found {
			t.Errorf("seed %d: %q is found", seed, id)
		}
	}
	if i, found := r.Find("p-00300"); !found || r.ID(i) != "p-00300" {
		t.Errorf("p-00300 stands at %d, %v", i, found)
	}
	e := r.Get("p-00300")
	*e = Enrollment{}
	if r.Get("p-00300").ID != "p-00300" {
		t.Error("what was read is shared")
	}
	named := r.Changed(func(e *Enrollment) {
		if e.ID == "p-00300" {
			e.Name = "Rosa"
		}
	})
	if named.Len() != r.Len() || named.Get("p-00300").Name != "Rosa" || r.Get("p-00300").Name == "Rosa" || !reflect.DeepEqual(named.At(0), r.At(0)) {
		t.Error("a change of one is not that")
	}
}

// A roll of nobody answers like any other.
func TestEmptyRoll(t *testing.T) {
	for _, r := range []Roll{{}, NewRoll(nil)} {
		if _, found := r.Find("a"); found || r.Len() != 0 || r.Get("a") != nil {
			t.Error("somebody is in it")
		}
		for e := range r.All() {
			t.Errorf("%+v is in it", e)
		}
		for id := range r.IDs() {
			t.Errorf("%s is in it", id)
		}
	}
}

// Many may read at once; under the race detector this tells what they share.
func TestRollReadAtOnce(t *testing.T) {
	x, seed := newFiller()
	list := people(x, rollLot+50)
	r := NewRoll(list)
	var reading sync.WaitGroup
	for range 8 {
		reading.Go(func() {
			for _, want := range list {
				if got := r.Get(want.ID); !reflect.DeepEqual(got, want) {
					t.Errorf("seed %d: %+v\nwant\n%+v", seed, got, want)
					return
				}
			}
			for e := range r.All() {
				e.Name, e.Entries = "", nil // each reader's own
			}
		})
	}
	NewRoll(list) // making another only reads
	reading.Wait()
}

// usual are enrollments as most are.
func usual(n int) []*Enrollment {
	zone, _ := (&zones{}).named("America/New_York")
	list := make([]*Enrollment, n)
	for i := range list {
		at := rules.Pos{File: fmt.Sprintf("enrollments/%04d.yaml", i/1000), Line: 2 * (i%1000 + 1), Column: 5}
		list[i] = &Enrollment{Enrollment: rules.Enrollment{ID: fmt.Sprintf("p-%07d", i), Program: "heel-pain", Consent: true, Affected: "left",
			Dispensed: rules.NewDate(2026, time.October, 5), Start: rules.NewDate(2026, time.October, 5), At: at},
			Name: "Rosa", Address: Address{Channel: "sms", To: fmt.Sprintf("+1%010d", i)}, Language: "en", Zone: zone, Time: 9 * 60,
			Consent: Consent{On: rules.NewDate(2026, time.October, 5), How: "in writing", By: "J. Marlowe DPM"}}
	}
	return list
}

func BenchmarkRollGet(b *testing.B) {
	const n = 200_000
	r, ids := NewRoll(usual(n)), make([]string, n)
	for i := range ids {
		ids[i] = r.ID(i)
	}
	rand.Shuffle(n, func(i, j int) { ids[i], ids[j] = ids[j], ids[i] })
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if r.Get(ids[i%n]) == nil {
			b.Fatal("not found")
		}
		i++
	}
}

func BenchmarkRollAll(b *testing.B) {
	const n = 10_000
	r := NewRoll(usual(n))
	for b.Loop() {
		for e := range r.All() {
			if e.Name == "" {
				b.Fatal("nameless")
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/patient")
}

func BenchmarkNewRoll(b *testing.B) {
	const n = 10_000
	list := usual(n)
	var r Roll
	for b.Loop() {
		r = NewRoll(list)
	}
	size := 0
	for _, p := range r.parts {
		size += len(p.text) + 4*len(p.ends) + len(p.rows) + 4*len(p.from)
	}
	b.ReportMetric(float64(size)/n, "B/patient")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/patient")
}

// A damaged number of a word is refused, whatever it is.
func TestADamagedWord(t *testing.T) {
	for _, ends := range [][]uint32{nil, {0}, {0, 3}} {
		for _, n := range []uint64{1, 2, 1 << 31, 1<<64 - 2, 1<<64 - 1} {
			f := &packing{all: "abc", ends: ends, buf: binary.AppendUvarint(nil, n)}
			var s string
			if f.text(&s); !f.bad {
				t.Errorf("word %d of %d is read as %q", n, max(len(ends)-1, 0), s)
			}
		}
	}
}
