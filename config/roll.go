package config

import (
	"cmp"
	"iter"
	"runtime"
	"slices"
	"sort"
	"sync"
	"time"
)

// Roll is the enrollments of a clinic, in order of id. It holds them packed, a
// tenth of what they take as they are, and almost without pointers: where very many
// are enrolled the collector would spend half of a morning on following them. One
// that is asked for is made anew each time, so that changing it changes nobody; ask
// once and pass it on. A roll never changes, and may be read from anywhere at any
// time. The zero Roll has nobody.
type Roll struct {
	n     int
	parts []rollPart // of rollLot each, but for the last
}

// rollLot is how many a part holds: so few that what is found in it is near, and
// enough that the words all have in common take next to nothing.
const rollLot = 256

// rollPart is a part of a roll.
type rollPart struct {
	text  string           // the ids, then the other words, one after the other
	ends  []uint32         // where in it each begins, and the last ends
	rows  []byte           // see [packing.row]
	from  []uint32         // where in them each begins
	zones []*time.Location // that somebody lives in
}

// NewRoll makes a roll of these enrollments, in whatever order they come. Of several
// with one id it finds the first.
func NewRoll(list []*Enrollment) Roll {
	byID := func(a, b *Enrollment) int { return cmp.Compare(a.ID, b.ID) }
	if !slices.IsSortedFunc(list, byID) {
		list = slices.Clone(list)
		slices.SortStableFunc(list, byID)
	}
	return packed(len(list), func(i int) *Enrollment { return list[i] })
}

// CollectRoll makes a roll of what comes, in whatever order. It holds few of them at
// a time, and takes little memory beside what the roll does.
func CollectRoll(all iter.Seq[*Enrollment]) Roll {
	var rolls []Roll
	list := make([]*Enrollment, 0, 16*rollLot)
	for e := range all {
		if list = append(list, e); len(list) == cap(list) {
			rolls, list = append(rolls, NewRoll(list)), list[:0]
		}
	}
	return together(append(rolls, NewRoll(list)))
}

// together is one roll of several.
func together(rolls []Roll) Roll {
	if whole, ok := joined(rolls); ok {
		return whole
	}
	type place struct{ roll, i int32 }
	var all []place
	for n, r := range rolls {
		for i := range r.Len() {
			all = append(all, place{int32(n), int32(i)})
		}
	}
	byID := func(a, b place) int { return cmp.Compare(rolls[a.roll].ID(int(a.i)), rolls[b.roll].ID(int(b.i))) }
	if !slices.IsSortedFunc(all, byID) {
		slices.SortStableFunc(all, byID)
	}
	return packed(len(all), func(i int) *Enrollment { return rolls[all[i].roll].At(int(all[i].i)) })
}

// joined is one roll of several that follow each other, and of whole parts but for
// the last.
func joined(rolls []Roll) (whole Roll, ok bool) {
	for _, r := range rolls {
		if r.n == 0 {
			continue
		}
		if whole.n%rollLot != 0 || whole.n > 0 && whole.ID(whole.n-1) > r.ID(0) {
			return Roll{}, false
		}
		whole.n += r.n
		whole.parts = append(whole.parts, r.parts...)
	}
	return whole, true
}

// packed packs so many enrollments, which come in order of id.
func packed(n int, at func(i int) *Enrollment) Roll {
	r := Roll{n, make([]rollPart, (n+rollLot-1)/rollLot)}
	var working sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), len(r.parts))
	for first := range workers {
		working.Go(func() {
			f, list := &packing{writing: true, known: map[string]int{}}, make([]*Enrollment, 0, rollLot)
			for part := first; part < len(r.parts); part += workers {
				list = list[:0]
				for i := part * rollLot; i < min((part+1)*rollLot, n); i++ {
					list = append(list, at(i))
				}
				r.parts[part] = f.part(list)
			}
		})
	}
	working.Wait()
	return r
}

// part packs a part of a roll.
func (f *packing) part(list []*Enrollment) rollPart {
	p := rollPart{from: make([]uint32, len(list))}
	f.buf, f.words, f.near = f.buf[:0], f.words[:0], &p.zones
	clear(f.known)
	for i, e := range list {
		p.from[i] = uint32(len(f.buf))
		f.row(e)
	}
	p.rows = slices.Clone(f.buf)
	text, n := []byte{}, len(list)
	p.ends = make([]uint32, n+len(f.words)+1)
	for i := range p.ends[1:] {
		if i < n {
			text = append(text, list[i].ID...)
		} else {
			text = append(text, f.words[i-n]...)
		}
		p.ends[i+1] = uint32(len(text))
	}
	p.text = string(text)
	return p
}

// row writes or reads what a roll has of an enrollment beside its id.
func (f *packing) row(e *Enrollment) {
	f.file = e.At.File
	f.text(&f.file)
	has := partsOf(e)
	f.enrollment(e, &has)
}

// Changed is a roll of the same, with a change made to each.
func (r Roll) Changed(change func(*Enrollment)) Roll {
	return CollectRoll(func(yield func(*Enrollment) bool) {
		for e := range r.All() {
			if change(e); !yield(e) {
				return
			}
		}
	})
}

// Len is how many are enrolled.
func (r Roll) Len() int { return r.n }

// ID is the id of the i-th.
func (r Roll) ID(i int) string {
	p, i := &r.parts[i/rollLot], i%rollLot
	return p.text[p.ends[i]:p.ends[i+1]]
}

// At is the i-th.
func (r Roll) At(i int) *Enrollment {
	e := &Enrollment{}
	e.ID = r.ID(i)
	p, i := &r.parts[i/rollLot], i%rollLot
	f := packing{buf: p.rows[p.from[i]:], all: p.text, ends: p.ends[len(p.from):], near: &p.zones}
	f.row(e)
	return e
}

// Find is where somebody stands, if they do.
func (r Roll) Find(id string) (i int, found bool) {
	return sort.Find(r.n, func(i int) int { return cmp.Compare(id, r.ID(i)) })
}

// Get is the enrollment of an id; nil: there is none.
func (r Roll) Get(id string) *Enrollment {
	if i, found := r.Find(id); found {
		return r.At(i)
	}
	return nil
}

// All are all of them, one after the other.
func (r Roll) All() iter.Seq[*Enrollment] {
	return func(yield func(*Enrollment) bool) {
		for i := range r.n {
			if !yield(r.At(i)) {
				return
			}
		}
	}
}

// IDs are the ids alone, which takes next to no time.
func (r Roll) IDs() iter.Seq[string] {
	return func(yield func(string) bool) {
		for i := range r.n {
			if !yield(r.ID(i)) {
				return
			}
		}
	}
}
