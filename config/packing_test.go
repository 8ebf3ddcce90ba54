package config

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"stepgate/rules"
)

// filler fills every field there is with something that is not zero.
type filler struct {
	rnd   *rand.Rand
	zones *zones
	file  string
	rare  bool // leave out what may be left out, now and then
}

func (x *filler) fill(v reflect.Value) {
	switch v.Type() {
	case reflect.TypeFor[*time.Location]():
		zone, _ := x.zones.named([]string{"America/New_York", "Europe/Madrid", "UTC"}[x.rnd.IntN(3)])
		v.Set(reflect.ValueOf(zone))
		return
	case reflect.TypeFor[rules.Pos]():
		v.Set(reflect.ValueOf(rules.Pos{File: x.file, Line: 1 + x.rnd.IntN(1e6), Column: 1 + x.rnd.IntN(200)}))
		return
	case reflect.TypeFor[spot]():
		v.Set(reflect.ValueOf(spot{1 + x.rnd.Int32N(1e6), 1 + x.rnd.Int32N(200)}))
		return
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(fmt.Sprintf("ñ-%d", x.rnd.IntN(50)))
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Int, reflect.Int32:
		v.SetInt(x.rnd.Int64N(1<<30) - 1<<29 | 1)
	case reflect.Pointer:
		if x.rare && x.rnd.IntN(2) == 0 {
			return
		}
		v.Set(reflect.New(v.Type().Elem()))
		x.fill(v.Elem())
	case reflect.Slice:
		if x.rare && x.rnd.IntN(2) == 0 {
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range v.Len() {
			x.fill(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Field(i)
			if !f.CanSet() { // of this package alone
				f = reflect.NewAt(f.Type(), f.Addr().UnsafePointer()).Elem()
			}
			x.fill(f)
		}
	default:
		panic("no way to fill " + v.Type().String())
	}
}

// enrollment is one whose every field is filled.
func (x *filler) enrollment() *Enrollment {
	var e Enrollment
	x.fill(reflect.ValueOf(&e).Elem())
	return &e
}

// patient is one whose every field is filled, but for what reading never fills.
func (x *filler) patient() patient {
	p := patient{}
	x.fill(reflect.ValueOf(&p).Elem())
	p.Enrollment = x.enrollment()
	p.open = true // depends on the date
	if p.waits != nil && p.waits.pain != nil {
		s := p.waits.pain
		s.At.Bad = false
		for _, v := range []*Value{&s.Steady, &s.Hold, &s.StepBack, &s.Pause, &s.ClearDays} {
			v.Bad, v.Hide = false, false
		}
	}
	return p
}

// What is packed comes out the same, whatever is in it. A new field that packing
// does not know fails here.
func TestPackingKeepsEverything(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	x := filler{rnd: rand.New(rand.NewPCG(seed, 1)), zones: &zones{}, file: "enrollments/a.yaml"}
	for round := range 200 {
		x.rare = round > 0
		var was reading
		for range x.rnd.IntN(5) {
			was.patients = append(was.patients, x.patient())
		}
		if round == 0 {
			was.patients = []patient{x.patient()}
		}
		x.fill(reflect.ValueOf(&was.list).Elem())
		packed := was.pack(x.file)
		if packed == nil {
			t.Fatalf("seed %d: not packed", seed)
		}
		is := reading{zones: x.zones}
		if err := is.unpack(x.file, packed); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if !slices.Equal(is.list, was.list) || len(is.patients) != len(was.patients) {
			t.Fatalf("seed %d: %d patients, %d notes", seed, len(is.patients), len(is.list))
		}
		for i := range was.patients {
			if !reflect.DeepEqual(is.patients[i], was.patients[i]) {
				t.Fatalf("seed %d: %+v\n%+v\nwant\n%+v\n%+v", seed, is.patients[i], is.patients[i].Enrollment, was.patients[i], was.patients[i].Enrollment)
			}
		}
	}
}

// Bytes that were not packed so are an error or something else, never a crash
// and never more memory than is sane.
func FuzzUnpack(f *testing.F) {
	x := filler{rnd: rand.New(rand.NewPCG(1, 1)), zones: &zones{}, file: "a"}
	f.Add((&reading{patients: []patient{x.patient(), x.patient()}}).pack("a"))
	f.Fuzz(func(_ *testing.T, packed []byte) {
		_ = (&reading{zones: x.zones}).unpack("a", packed)
	})
}

func BenchmarkUnpack(b *testing.B) {
	x := filler{rnd: rand.New(rand.NewPCG(1, 1)), zones: &zones{}, file: "a"}
	var r reading
	for i := range 1000 {
		p := x.patient()
		p.ID, p.Address.To = fmt.Sprintf("p-%06d", i), fmt.Sprintf("+1555%07d", i)
		p.waits, p.Tailoring, p.Devices, p.Entries, p.Visits, p.UsualWords = nil, nil, nil, nil, nil, nil
		r.patients = append(r.patients, p)
	}
	packed := r.pack("a")
	b.SetBytes(int64(len(packed)))
	for b.Loop() {
		if err := (&reading{zones: x.zones}).unpack("a", packed); err != nil {
			b.Fatal(err)
		}
	}
}
