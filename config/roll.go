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
	r := Roll{len(list), make([]rollPart, (len(list)+rollLot-1)/rollLot)}
	var working sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), len(r.parts))
	for first := range workers {
		working.Go(func() {
			f := &packing{writing: true, known: map[string]int{}}
			for i := first; i < len(r.parts); i += workers {
				r.parts[i] = f.part(list[i*rollLot : min((i+1)*rollLot, len(list))])
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
	list := slices.Collect(r.All())
	for _, e := range list {
		change(e)
	}
	return NewRoll(list)
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
