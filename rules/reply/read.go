package reply

import (
	"slices"
	"unicode"

	"stepgate/rules"
)

// pieceRunes is how much is read at a time, well over the longest text a
// carrier delivers (1,600 characters); overlapRunes of each piece are read
// again with the next, so that a danger sign on the seam is seen whole.
const (
	pieceRunes   = 4000
	overlapRunes = 200
)

// Read tells what a patient's text says. asked is the number our last text
// asked for: a bare number answers it. Of a very long text (a mail) the first
// piece is read in full; from the rest the complaints are taken, and the whole
// is marked unread.
func (r *Reader) Read(s string, asked rules.Question) rules.Reading {
	if r.echo(s) {
		return rules.Reading{Echo: true}
	}
	runes := []rune(s)
	if len(runes) <= pieceRunes {
		return r.read(s, asked)
	}
	cut := seam(runes)
	o := r.read(string(runes[:cut]), asked)
	for cut < len(runes) {
		runes = runes[cut-overlapRunes:]
		cut = seam(runes)
		worsen(&o, r.read(string(runes[:cut]), rules.AskNothing))
	}
	o.Unread, o.SkinOK = true, false
	if o.Stop && o.Report() {
		o.Stop, o.AskStop = false, true
	}
	return o
}

// seam is where the next piece ends: at a space if there is one.
func seam(runes []rune) int {
	if len(runes) <= pieceRunes {
		return len(runes)
	}
	for i := pieceRunes; i > pieceRunes-overlapRunes; i-- {
		if unicode.IsSpace(runes[i]) {
			return i
		}
	}
	return pieceRunes
}

// worsen takes over what is worse in more.
func worsen(o *rules.Reading, more rules.Reading) {
	if more.Pain != nil && (o.Pain == nil || *more.Pain > *o.Pain) {
		o.Pain, o.Side = more.Pain, more.Side
	}
	if more.FirstStep != nil && (o.FirstStep == nil || *more.FirstStep > *o.FirstStep) {
		o.FirstStep = more.FirstStep
	}
	o.Skin = o.Skin || more.Skin
	o.Call = o.Call || more.Call
	o.Wrong = o.Wrong || more.Wrong
	o.AskStop = o.AskStop || more.AskStop || more.Stop
	for _, f := range more.Flags {
		if !slices.Contains(o.Flags, f) {
			o.Flags = append(o.Flags, f)
		}
	}
	for _, f := range more.Denied {
		if !slices.Contains(o.Denied, f) {
			o.Denied = append(o.Denied, f)
		}
	}
	o.Denied = slices.DeleteFunc(o.Denied, func(f rules.RedFlag) bool { return slices.Contains(o.Flags, f) })
}

// read reads one piece.
func (r *Reader) read(s string, asked rules.Question) rules.Reading {
	t := r.parse(s, asked)
	k, signed, ok := t.keyword()
	if ok && !signed {
		return k
	}
	t.wrong()
	t.danger()
	t.numbers()
	t.strong()
	t.day()
	t.others()
	t.noPain()
	t.deaths()
	plain, unclear := t.stopWords()
	t.unread()
	t.skinFine()
	if ok && !t.complains() { // what looks like a signature may be a complaint
		return k
	}
	t.stop(plain, unclear)
	return t.out
}
