package journal

import (
	"encoding/base64"
	"encoding/json"
	"time"
	"unicode/utf8"

	"stepgate/rules"
)

// jsonIn reads the compact JSON that the journal writes, in one pass and
// strictly. At whatever is out of the ordinary it turns odd: then encoding/json
// is to be asked, which also tells what is wrong. Raw values are not copied.
//
//	for in.open(); in.field(); {
//		switch string(in.key) { ... in.text() ... }
//	}
//	ok := in.done()
type jsonIn struct {
	b   []byte
	i   int
	key []byte // of the field
	odd bool
}

// maxDepth bounds what is walked over by calling itself.
const maxDepth = 50

func (in *jsonIn) peek() byte {
	if in.i < len(in.b) && !in.odd {
		return in.b[in.i]
	}
	return 0
}

func (in *jsonIn) take(c byte) bool {
	if in.peek() != c || c == 0 {
		in.odd = true
		return false
	}
	in.i++
	return true
}

func (in *jsonIn) open() { in.take('{') }

// field goes to the next field of the innermost object, false at its end.
func (in *jsonIn) field() bool {
	if in.odd {
		return false
	}
	if in.peek() == '}' {
		in.i++
		return false
	}
	if in.b[in.i-1] != '{' && !in.take(',') {
		return false
	}
	start := in.i + 1
	if plain := in.string(); !plain {
		in.odd = true
	}
	if in.odd {
		return false
	}
	in.key = in.b[start : in.i-1]
	return in.take(':')
}

// done tells whether everything was read and all of it was usual.
func (in *jsonIn) done() bool { return !in.odd && in.i == len(in.b) }

// string walks over a string, and tells whether it is ASCII without escapes.
func (in *jsonIn) string() (plain bool) {
	plain = in.take('"')
	for in.i < len(in.b) && !in.odd {
		c := in.b[in.i]
		in.i++
		switch {
		case c == '"':
			return plain
		case c == '\\':
			plain = false
			in.escape()
		case c < ' ':
			in.odd = true
		case c >= utf8.RuneSelf:
			plain = false
		}
	}
	in.odd = true
	return false
}

func (in *jsonIn) escape() {
	c := in.peek()
	in.i++
	switch c {
	case '"', '\\', '/', 'b', 'f', 'n', 'r', 't':
	case 'u':
		for range 4 {
			if c := in.peek() | 0x20; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
				in.odd = true
			}
			in.i++
		}
	default:
		in.odd = true
	}
}

func (in *jsonIn) text() string {
	start := in.i
	plain := in.string()
	switch {
	case in.odd:
		return ""
	case plain:
		return string(in.b[start+1 : in.i-1])
	}
	var s string
	if json.Unmarshal(in.b[start:in.i], &s) != nil {
		in.odd = true
	}
	return s
}

// number walks over a number, and tells whether it is whole.
func (in *jsonIn) number() (whole bool) {
	if in.peek() == '-' {
		in.i++
	}
	zero, start := in.peek() == '0', in.i
	in.digits()
	if zero && in.i > start+1 {
		in.odd = true
	}
	whole = true
	if in.peek() == '.' {
		whole = false
		in.i++
		in.digits()
	}
	if in.peek()|0x20 == 'e' {
		whole = false
		in.i++
		if c := in.peek(); c == '+' || c == '-' {
			in.i++
		}
		in.digits()
	}
	return whole
}

func (in *jsonIn) digits() {
	start := in.i
	for c := in.peek(); c >= '0' && c <= '9'; c = in.peek() {
		in.i++
	}
	in.odd = in.odd || in.i == start
}

// int reads a whole number of no more digits than surely fit.
func (in *jsonIn) int() (n int) {
	start := in.i
	if !in.number() || in.i-start > 18 {
		in.odd = true
	}
	if in.odd {
		return 0
	}
	digits, sign := in.b[start:in.i], 1
	if digits[0] == '-' {
		digits, sign = digits[1:], -1
	}
	for _, c := range digits {
		n = n*10 + int(c-'0')
	}
	return n * sign
}

func (in *jsonIn) seq() uint64 {
	n := in.int()
	in.odd = in.odd || n < 0
	return uint64(n)
}

func (in *jsonIn) bool() bool {
	is := in.peek() == 't'
	if is {
		in.word("true")
	} else {
		in.word("false")
	}
	return is
}

func (in *jsonIn) word(w string) {
	if len(in.b)-in.i < len(w) || string(in.b[in.i:in.i+len(w)]) != w {
		in.odd = true
		return
	}
	in.i += len(w)
}

func (in *jsonIn) time() (t time.Time) {
	start := in.i
	if !in.string() || in.odd || t.UnmarshalJSON(in.b[start:in.i]) != nil {
		in.odd = true
	}
	return t
}

func (in *jsonIn) date() (d rules.Date) {
	s := in.text()
	if s == "" || in.odd {
		return 0
	}
	d, err := rules.ParseDate(s)
	in.odd = in.odd || err != nil
	return d
}

func (in *jsonIn) bytes() []byte {
	b, err := base64.StdEncoding.DecodeString(in.text())
	in.odd = in.odd || err != nil
	return b
}

// raw returns a value as it stands.
func (in *jsonIn) raw() []byte {
	start := in.i
	in.skip(0)
	if in.odd {
		return nil
	}
	return in.b[start:in.i:in.i]
}

// other walks over a field that is not wanted. One that encoding/json may take
// for a wanted one, as it does not tell capitals from small letters, is odd.
func (in *jsonIn) other() {
	for _, c := range in.key {
		if (c < 'a' || c > 'z') && c != '_' {
			in.odd = true
		}
	}
	in.skip(0)
}

func (in *jsonIn) skip(depth int) {
	switch c := in.peek(); {
	case depth > maxDepth:
		in.odd = true
	case c == '"':
		in.string()
	case c == '{':
		for in.open(); in.fieldOf(); {
			in.skip(depth + 1)
		}
	case c == '[':
		in.items(func() { in.skip(depth + 1) })
	case c == 't':
		in.word("true")
	case c == 'f':
		in.word("false")
	case c == 'n':
		in.word("null")
	default:
		in.number()
	}
}

// fieldOf is field for an object whose names do not matter.
func (in *jsonIn) fieldOf() bool {
	if in.odd || in.peek() == '}' {
		in.i++
		return false
	}
	if in.b[in.i-1] != '{' && !in.take(',') {
		return false
	}
	in.string()
	return in.take(':')
}

// items calls fn at each value of a list.
func (in *jsonIn) items(fn func()) {
	in.take('[')
	if in.peek() == ']' {
		in.i++
		return
	}
	for !in.odd {
		fn()
		if in.peek() == ']' {
			in.i++
			return
		}
		in.take(',')
	}
}
