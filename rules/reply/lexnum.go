package reply

import (
	"math"
	"slices"
	"strconv"
)

// number is one number of a text as it was written.
type number struct {
	// scores are all values it can be taken for as a score; the worst
	// counts. "3,5" is 3.5, or 3 and 5.
	scores []float64
	// low and high are the values as a quantity: the ends of a range.
	low, high float64

	size  int  // digits written
	scale bool // "/10", "out of 10"
	part  bool // a fraction other than /10: "2/3", or a date
	clock bool // 7:30
	date  bool // 10/12/2026, a phone number, 3.5.6: never a score
	more  bool // "5+", "over 5"
	minus bool // a negative number
	word  bool // written as a word
	span  bool // a range of two ends
}

func plainNumber(v float64) number {
	return number{scores: []float64{v}, low: v, high: v}
}

// score is the number as a score from 0 to 10, and whether it is one. A
// decimal counts as the next whole number up, "5+" as 6; nothing over 10 or
// under 0 is bent into a score.
func (n number) score() (int, bool) {
	if n.minus || n.date || n.clock || n.part || len(n.scores) == 0 {
		return 0, false
	}
	worst := slices.Max(n.scores)
	if slices.Min(n.scores) < 0 || worst > 10 {
		return 0, false
	}
	s := int(math.Ceil(worst))
	if n.more {
		s = min(10, int(math.Floor(worst))+1)
	}
	return s, true
}

// whole is the number without its decimals, as a word; "" where it is none.
func (n number) whole() string {
	if n.date || n.clock || n.part || n.minus || len(n.scores) == 0 {
		return ""
	}
	return strconv.Itoa(int(n.low))
}

func isDigit(r rune) bool { return r >= '0' && r <= '9' }

// run reads digits. A letter o right after a digit and before no other letter
// is a nought: people write "1o" for 10.
func (lx *lexer) run() string {
	from := lx.pos
	b := []rune{}
	for {
		r := lx.at(0)
		if (r == 'o' || r == 'O') && lx.pos > from && noughts(lx.in[lx.pos:]) {
			r = '0'
		}
		if !isDigit(r) {
			return string(b)
		}
		b = append(b, r)
		lx.pos++
	}
}

// noughts tells whether only letters o and digits follow up to the end of
// the word.
func noughts(rest []rune) bool {
	for _, r := range rest {
		switch {
		case r == 'o' || r == 'O' || isDigit(r):
		case r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z':
			return false
		default:
			return true
		}
	}
	return true
}

// number reads a number and what is written right onto it.
func (lx *lexer) number(glued bool) {
	n := number{}
	n.minus = lx.negative(glued)
	if lx.at(0) == '.' { // ".5" is 0.5, or 5 after a full stop: both stay possible
		lx.pos++
		d := lx.run()
		small, big := parse("0."+d), parse(d)
		n.scores, n.low, n.high, n.size = []float64{small, big}, small, small, len(d)
		lx.push(n, glued)
		return
	}
	whole := lx.run()
	n.size = len(whole)
	v := parse(whole)
	n.scores, n.low, n.high = []float64{v}, v, v
	switch next := lx.at(0); {
	case next == ':' && isDigit(lx.at(1)) && isDigit(lx.at(2)) && !isDigit(lx.at(3)):
		lx.pos++
		n.clock = true
		n.low += parse(lx.run()) / 60
		n.high = n.low
	case next == '.' && isDigit(lx.at(1)):
		lx.decimal(&n, whole)
	case next == ',' && isDigit(lx.at(1)):
		lx.comma(&n, whole)
	}
	if lx.at(0) == '/' && isDigit(lx.at(1)) {
		lx.slash(&n)
	}
	if lx.at(0) == '+' {
		lx.pos++
		n.more = true
	}
	lx.push(n, glued)
}

func (lx *lexer) push(n number, glued bool) {
	lx.out = append(lx.out, token{kind: digits, glued: glued, num: n})
}

// negative tells whether a minus stands right before the number, after a
// space or nothing: "P-5" is P and 5, "P -5" is no score, "4 -5" is a range.
// A "-" already cut off as a mark is taken back.
func (lx *lexer) negative(glued bool) bool {
	n := len(lx.out)
	if !glued || n == 0 || lx.out[n-1].text != "-" || lx.out[n-1].glued {
		return false
	}
	if n > 1 && lx.out[n-2].kind == digits {
		return false
	}
	lx.out = lx.out[:n-1]
	return true
}

// decimal reads what follows a point: 3.5, or 3.5.6, which is no number.
func (lx *lexer) decimal(n *number, whole string) {
	lx.pos++
	d := lx.run()
	v := parse(whole + "." + d)
	n.scores, n.low, n.high = []float64{v}, v, v
	for lx.at(0) == '.' && isDigit(lx.at(1)) {
		lx.pos++
		n.size += len(lx.run())
		n.date = true
	}
}

// comma reads "3,5" as 3.5 or as 3 and 5, "1,000" as a thousand.
func (lx *lexer) comma(n *number, whole string) {
	for i := 0; lx.at(0) == ',' && isDigit(lx.at(1)); i++ {
		lx.pos++
		d := lx.run()
		n.size += len(d)
		if len(d) >= 3 {
			v := parse(whole + d)
			n.scores, n.low, n.high = []float64{v}, v, v
			continue
		}
		if i == 0 {
			n.low = parse(whole + "." + d)
			n.high = n.low
			n.scores = append(n.scores, n.low)
		}
		if v := parse(d); v <= 10 {
			n.scores = append(n.scores, v)
		}
	}
}

// slash reads "3/10" as a score, "2/3" as a part, "10/12/26" as a date.
func (lx *lexer) slash(n *number) {
	lx.pos++
	under := parse(lx.run())
	n.scale, n.part = under == 10, under != 10
	if n.part && under > 0 {
		n.low /= under // how much of it, for "2/3 done"
	}
	for lx.at(0) == '/' && isDigit(lx.at(1)) {
		lx.pos++
		lx.run()
		n.date, n.scale = true, false
	}
}

// parse reads digits and at most one point; what is too long is infinite,
// and so never a score.
func parse(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return math.Inf(1)
	}
	return v
}
