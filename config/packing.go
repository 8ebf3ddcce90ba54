package config

import (
	"encoding/binary"
	"errors"
	"math"
	"time"
	"unsafe"

	"stepgate/rules"
)

// errForm says that bytes are not what a form of patients was written as.
var errForm = errors.New("it is not what was written")

// packing is the compact form of patients, of one file or of a part of a [Roll],
// being written or being read: one walk over the fields serves both, so that they
// can't part. Numbers are varints. A text is the number of its place in a list
// apart, so that what repeats is there once, in memory too: all texts lie in one
// piece, and what is read points into it. A library for CBOR or MessagePack would
// take several times the time, since it makes every text anew.
type packing struct {
	writing bool
	file    string // that the patients are of
	buf     []byte // written so far, or still to be read
	bad     bool   // it can't be written so, or is damaged

	zones *zones            // that names are looked up in, when reading
	near  *[]*time.Location // those of a part of a roll; nil: zones have names

	words []string       // when writing
	known map[string]int // place in words

	all  string   // words one after the other, when reading
	ends []uint32 // where in it words end; the first is where the first word begins
}

// number writes or reads a number.
func (f *packing) number(n *uint64) {
	if f.writing {
		f.buf = binary.AppendUvarint(f.buf, *n)
		return
	}
	if len(f.buf) > 0 && f.buf[0] < 0x80 {
		*n, f.buf = uint64(f.buf[0]), f.buf[1:]
		return
	}
	v, size := binary.Uvarint(f.buf)
	if size <= 0 {
		f.bad, f.buf = true, nil
		return
	}
	*n, f.buf = v, f.buf[size:]
}

// whole writes or reads a whole number, negative ones too.
func whole[T ~int | ~int32](f *packing, v *T) {
	n := uint64(int64(*v)<<1) ^ uint64(int64(*v)>>63)
	if f.number(&n); !f.writing {
		*v = T(int64(n>>1) ^ -int64(n&1))
	}
}

func (f *packing) flag(v *bool) {
	n := uint64(0)
	if *v {
		n = 1
	}
	if f.number(&n); !f.writing {
		*v = n == 1
	}
}

// count writes or reads how many of something follow, each of a byte at least.
func (f *packing) count(n int) int {
	v := uint64(n)
	f.number(&v)
	if !f.writing && v > uint64(len(f.buf)) {
		f.bad, f.buf, v = true, nil, 0
	}
	return int(v)
}

func (f *packing) text(s *string) {
	var i uint64
	if f.writing {
		n, known := f.known[*s]
		if !known {
			n = len(f.words)
			f.known[*s], f.words = n, append(f.words, *s)
		}
		i = uint64(n)
		f.number(&i)
		return
	}
	if f.number(&i); len(f.ends) == 0 || i >= uint64(len(f.ends)-1) {
		f.bad = true
		return
	}
	*s = f.all[f.ends[i]:f.ends[i+1]]
}

// many writes or reads a list; an empty one is read as nil.
func many[T any](f *packing, s *[]T, each func(*T)) {
	n := f.count(len(*s))
	if !f.writing && n > 0 {
		// A damaged count must not take more memory than the bytes it comes from.
		if uintptr(n)*unsafe.Sizeof(*new(T)) > 1<<30 {
			f.bad = true
			return
		}
		*s = make([]T, n)
	}
	for i := 0; i < n && !f.bad; i++ {
		each(&(*s)[i])
	}
}

// maybe writes or reads what may not be there.
func maybe[T any](f *packing, p **T, each func(*T)) {
	there := *p != nil
	if f.flag(&there); !there || f.bad {
		return
	}
	if !f.writing {
		*p = new(T)
	}
	each(*p)
}

// place writes or reads a place, which as a rule is in the file at hand.
func (f *packing) place(at *rules.Pos) {
	line := 0 // as it is in the form: 0 is no place at all, and less than that one in another file
	if *at != (rules.Pos{}) {
		if line = at.Line + 1; at.File != f.file {
			line = -line
		}
	}
	if whole(f, &line); line == 0 {
		return
	}
	file := at.File
	if line < 0 {
		line = -line
		f.text(&file)
	} else {
		file = f.file
	}
	if !f.writing {
		at.File, at.Line = file, line-1
	}
	whole(f, &at.Column)
}

func (f *packing) spot(s *spot) {
	whole(f, &s.line)
	if s.line != 0 {
		whole(f, &s.column)
	}
}

// lead writes the list of texts before the rest.
func (f *packing) lead() []byte {
	out := binary.AppendUvarint(make([]byte, 0, len(f.buf)+16*len(f.words)), uint64(len(f.words)))
	for _, w := range f.words {
		out = binary.AppendUvarint(out, uint64(len(w)))
	}
	for _, w := range f.words {
		out = append(out, w...)
	}
	return append(out, f.buf...)
}

// follow reads what lead wrote.
func (f *packing) follow() {
	f.ends = make([]uint32, 1+f.count(0))
	end := 0
	for i := range f.ends[1:] {
		end += f.count(0)
		f.ends[i+1] = uint32(end)
	}
	if end > len(f.buf) || end > math.MaxUint32 {
		f.bad, f.ends = true, nil
		return
	}
	f.all, f.buf = string(f.buf[:end]), f.buf[end:]
}
