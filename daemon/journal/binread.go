package journal

import "encoding/binary"

// reader takes apart what is kept in binary form. Once something does not fit
// it is bad, and gives zeros.
type reader struct {
	b   []byte
	bad bool
}

func (r *reader) uint() uint64 {
	n, size := binary.Uvarint(r.b)
	if size <= 0 {
		r.bad, r.b = true, nil
		return 0
	}
	r.b = r.b[size:]
	return n
}

func (r *reader) int() int {
	n, size := binary.Varint(r.b)
	if size <= 0 {
		r.bad, r.b = true, nil
		return 0
	}
	r.b = r.b[size:]
	return int(n)
}

// count reads how many things follow, each of a byte at least.
func (r *reader) count() int {
	n := r.uint()
	if n > uint64(len(r.b)) {
		r.bad, r.b = true, nil
		return 0
	}
	return int(n)
}

func (r *reader) take(n int) []byte {
	if n < 0 || n > len(r.b) {
		r.bad, r.b = true, nil
		return make([]byte, min(max(n, 0), 1))
	}
	b := r.b[:n]
	r.b = r.b[n:]
	return b
}

func (r *reader) word(words []string) string {
	n := r.uint()
	if n >= uint64(len(words)) {
		r.bad = true
		return ""
	}
	return words[n]
}

// fixed takes so many bytes, zeros if they are not there.
func (r *reader) fixed(n int) []byte {
	b := r.take(n)
	if len(b) < n {
		return make([]byte, n)
	}
	return b
}
