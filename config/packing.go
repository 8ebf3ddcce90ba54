package config

import (
	"encoding/binary"
	"errors"
	"unsafe"

	"stepgate/rules"
)

// errForm says that bytes are not what a form of patients was written as.
var errForm = errors.New("it is not what was written")

// packing is the compact form of the patients of one file, being written or being
// read: one walk over the fields serves both, so that they can't part. Numbers
// are varints. A text is the number of its place in a list that comes first, so
// that what repeats is there once, in memory too: after reading all texts of a
// file lie in one piece. A library for CBOR or MessagePack would take several
// times the time, since it makes every text anew.
type packing struct {
	writing bool
	file    string // that the patients are of
	zones   *zones
	buf     []byte // written so far, or still to be read
	words   []string
	known   map[string]int // place in words, when writing
	bad     bool           // it can't be written so, or is damaged
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
	f.number(&n)
	*v = T(int64(n>>1) ^ -int64(n&1))
}

func (f *packing) flag(v *bool) {
	n := 0
	if *v {
		n = 1
	}
	whole(f, &n)
	*v = n == 1
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
	if f.writing {
		i, known := f.known[*s]
		if !known {
			i = len(f.words)
			f.known[*s], f.words = i, append(f.words, *s)
		}
		whole(f, &i)
		return
	}
	var i int
	if whole(f, &i); i < 0 || i >= len(f.words) {
		f.bad = true
		return
	}
	*s = f.words[i]
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

// place writes or reads a place in the file.
func (f *packing) place(at *rules.Pos) {
	line := 0 // as it is in the form: 0 is no place at all
	if *at != (rules.Pos{}) {
		line = at.Line + 1
		f.bad = f.bad || f.writing && at.File != f.file
	}
	if whole(f, &line); line == 0 {
		return
	}
	at.File, at.Line = f.file, line-1
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

// follow reads what lead wrote. All texts lie in one string.
func (f *packing) follow() {
	words, all := make([]string, f.count(0)), 0
	lengths := make([]int, len(words))
	for i := range lengths {
		lengths[i] = f.count(0)
		all += lengths[i]
	}
	if all > len(f.buf) {
		f.bad = true
		return
	}
	text := string(f.buf[:all])
	f.buf = f.buf[all:]
	for i, n := range lengths {
		words[i], text = text[:n], text[n:]
	}
	f.words = words
}
