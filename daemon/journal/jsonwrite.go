package journal

import (
	"encoding/base64"
	"strconv"
	"time"
	"unicode/utf8"

	"stepgate/rules"
)

// jsonOut writes the JSON of what every text of a day writes. It gives the
// bytes of toJSON (a test holds the two together) at a fraction of its cost.
// The names are those of the struct tags; "may" leaves an empty value out.
type jsonOut struct {
	b []byte
	// odd says that a value has no such form; toJSON is to be asked, and tells why.
	odd bool
}

func (w *jsonOut) open()  { w.b = append(w.b, '{') }
func (w *jsonOut) close() { w.b = append(w.b, '}') }

// name begins a field. No value ends with the brace of an object's beginning.
func (w *jsonOut) name(k string) {
	if w.b[len(w.b)-1] != '{' {
		w.b = append(w.b, ',')
	}
	w.b = append(append(append(w.b, '"'), k...), '"', ':')
}

func (w *jsonOut) text(k, s string) {
	w.name(k)
	w.value(s)
}

func (w *jsonOut) value(s string) {
	w.b = append(w.b, '"')
	start := 0
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= ' ' && c != '"' && c != '\\' && c < utf8.RuneSelf {
			continue
		}
		if c >= utf8.RuneSelf {
			r, n := utf8.DecodeRuneInString(s[i:])
			if r != '\u2028' && r != '\u2029' && (r != utf8.RuneError || n > 1) {
				i += n - 1
				continue
			}
			w.b = append(w.b, s[start:i]...)
			switch r {
			case utf8.RuneError:
				w.b = append(w.b, `\ufffd`...)
			default:
				w.b = append(w.b, `\u202`...)
				w.b = append(w.b, "0123456789"[r&15])
			}
			i += n - 1
			start = i + 1
			continue
		}
		w.b = append(w.b, s[start:i]...)
		w.escape(c)
		start = i + 1
	}
	w.b = append(append(w.b, s[start:]...), '"')
}

func (w *jsonOut) escape(c byte) {
	switch c {
	case '"', '\\':
		w.b = append(w.b, '\\', c)
	case '\n':
		w.b = append(w.b, '\\', 'n')
	case '\r':
		w.b = append(w.b, '\\', 'r')
	case '\t':
		w.b = append(w.b, '\\', 't')
	case '\b':
		w.b = append(w.b, '\\', 'b')
	case '\f':
		w.b = append(w.b, '\\', 'f')
	default:
		const hex = "0123456789abcdef"
		w.b = append(w.b, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
	}
}

func (w *jsonOut) mayText(k, s string) {
	if s != "" {
		w.text(k, s)
	}
}

func (w *jsonOut) number(k string, n int) {
	w.name(k)
	w.b = strconv.AppendInt(w.b, int64(n), 10)
}

func (w *jsonOut) mayNumber(k string, n int) {
	if n != 0 {
		w.number(k, n)
	}
}

func (w *jsonOut) seq(k string, n uint64) {
	w.name(k)
	w.b = strconv.AppendUint(w.b, n, 10)
}

func (w *jsonOut) maySeq(k string, n uint64) {
	if n != 0 {
		w.seq(k, n)
	}
}

func (w *jsonOut) maySeqs(k string, list []uint64) {
	if len(list) == 0 {
		return
	}
	w.name(k)
	for i, n := range list {
		w.b = append(w.b, "[,"[min(i, 1)])
		w.b = strconv.AppendUint(w.b, n, 10)
	}
	w.b = append(w.b, ']')
}

// time writes a time as it is, so in UTC where all of the file's are.
func (w *jsonOut) time(k string, t time.Time) {
	w.name(k)
	if y := t.Year(); y < 0 || y > 9999 || t.Location() != time.UTC {
		w.odd = true
		return
	}
	w.b = append(t.AppendFormat(append(w.b, '"'), time.RFC3339Nano), '"')
}

func (w *jsonOut) mayTime(k string, t time.Time) {
	if !t.IsZero() {
		w.time(k, t)
	}
}

func (w *jsonOut) date(k string, d rules.Date) {
	if d == 0 {
		w.text(k, "")
	} else {
		w.text(k, d.String())
	}
}

// raw takes JSON that is compact already.
func (w *jsonOut) raw(k string, v []byte) {
	w.name(k)
	if v == nil {
		w.b = append(w.b, "null"...)
	}
	w.b = append(w.b, v...)
}

func (w *jsonOut) mayRaw(k string, v []byte) {
	if len(v) > 0 {
		w.raw(k, v)
	}
}

func (w *jsonOut) mayBytes(k string, v []byte) {
	if len(v) > 0 {
		w.name(k)
		w.b = append(base64.StdEncoding.AppendEncode(append(w.b, '"'), v), '"')
	}
}

func (w *jsonOut) mayTrue(k string, v bool) {
	if v {
		w.name(k)
		w.b = append(w.b, "true"...)
	}
}

func (w *jsonOut) truth(k string, v bool) {
	w.name(k)
	w.b = strconv.AppendBool(w.b, v)
}

func (w *jsonOut) mayDate(k string, d rules.Date) {
	if d != 0 {
		w.date(k, d)
	}
}

func (w *jsonOut) mayNumberAt(k string, n *int) {
	if n != nil {
		w.number(k, *n)
	}
}

func (w *jsonOut) mayNumbers(k string, list []int) {
	if len(list) == 0 {
		return
	}
	w.name(k)
	for i, n := range list {
		w.b = append(w.b, "[,"[min(i, 1)])
		w.b = strconv.AppendInt(w.b, int64(n), 10)
	}
	w.b = append(w.b, ']')
}
