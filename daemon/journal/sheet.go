package journal

import (
	"encoding/binary"
	"slices"

	"stepgate/rules"
)

// sheet is a row of the days bucket as it is read and written; its form is
// described in format.go.
type sheet struct {
	first rules.Date // of its four weeks
	days  []Day
	words []string
	due   []string          // of all days
	known map[string]string // strings met before, where many sheets are read; nil: not kept
}

func (s *sheet) find(d rules.Date) (int, bool) {
	return slices.BinarySearchFunc(s.days, d, func(day Day, d rules.Date) int { return int(day.Date - d) })
}

func (s *sheet) insert(at int, d Day) { s.days = slices.Insert(s.days, at, d) }

// flags are the yes and no of a day, from the lowest bit up.
func (d *Day) flags() [9]*bool {
	return [9]*bool{&d.Rest, &d.Eased, &d.Sent, &d.Struck, &d.None, &d.Skin, &d.SkinOK, &d.Flag, &d.Call}
}

// numbers are a day's numbers in the order they are written.
func (d *Day) numbers() [11]*int {
	return [11]*int{&d.D, &d.P, &d.W, &d.Step, &d.Steps, &d.Wear, &d.Reports, &d.Score, &d.FirstStep, &d.Halves, &d.Worn}
}

// marshal writes the words first, in order of first use, so that the same days
// are the same bytes however they came about.
func (s *sheet) marshal() []byte {
	var words []string
	index := func(word string) uint64 {
		at := slices.Index(words, word)
		if at < 0 {
			at, words = len(words), append(words, word)
		}
		return uint64(at)
	}
	rows := make([]byte, 0, 32*len(s.days))
	for i := range s.days {
		d := &s.days[i]
		rows = append(rows, byte(d.Date-s.first))
		var bits uint64
		for i, set := range d.flags() {
			if *set {
				bits |= 1 << i
			}
		}
		rows = binary.AppendUvarint(rows, bits)
		for _, n := range d.numbers() {
			rows = binary.AppendVarint(rows, int64(*n))
		}
		for _, w := range []string{d.Program, string(d.State), string(d.Why), string(d.WearWhy), string(d.Ask), d.Fate} {
			rows = binary.AppendUvarint(rows, index(w))
		}
		rows = binary.AppendUvarint(rows, uint64(len(d.Due)))
		for _, w := range d.Due {
			rows = binary.AppendUvarint(rows, index(w))
		}
	}
	b := binary.AppendUvarint(nil, uint64(len(words)))
	for _, w := range words {
		b = append(binary.AppendUvarint(b, uint64(len(w))), w...)
	}
	return append(b, rows...)
}

// parse reads a sheet into s, over what was there.
func (s *sheet) parse(k, v []byte) error {
	if len(k) <= sheetTail {
		return damagedSheet(k)
	}
	s.first = rules.Date(binary.BigEndian.Uint32(k[len(k)-4:])) * sheetDates
	s.days, s.words, s.due = s.days[:0], s.words[:0], nil
	r := reader{b: v}
	for range r.count() {
		s.words = append(s.words, s.word(r.take(int(r.uint()))))
	}
	for len(r.b) > 0 && !r.bad {
		s.days = append(s.days, Day{})
		s.row(&r, &s.days[len(s.days)-1])
	}
	if r.bad {
		return damagedSheet(k)
	}
	return nil
}

func (s *sheet) row(r *reader, d *Day) {
	d.Date = s.first + rules.Date(r.take(1)[0])
	bits := r.uint()
	for i, set := range d.flags() {
		*set = bits&(1<<i) != 0
	}
	for _, n := range d.numbers() {
		*n = r.int()
	}
	d.Program = r.word(s.words)
	d.State = rules.InState(r.word(s.words))
	d.Why = rules.Code(r.word(s.words))
	d.WearWhy = rules.Code(r.word(s.words))
	d.Ask = rules.Question(r.word(s.words))
	d.Fate = r.word(s.words)
	if n := r.count(); n > 0 {
		from := len(s.due)
		for range n {
			s.due = append(s.due, r.word(s.words))
		}
		d.Due = s.due[from:len(s.due):len(s.due)]
	}
}

// word makes a string of bytes, the one met before where strings are kept.
func (s *sheet) word(b []byte) string {
	if s.known == nil {
		return string(b)
	}
	w, ok := s.known[string(b)]
	if !ok {
		w = string(b)
		s.known[w] = w
	}
	return w
}
