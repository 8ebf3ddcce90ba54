package journal

import (
	"bytes"
	"encoding/hex"
	"fmt"
)

// Mention is a place under the clinic's own key that holds words one looked for.
type Mention struct {
	Seq  uint64 // of the event; 0: a kept file
	Kind Kind
	File string // hash of the kept file
}

// Mentions finds the events of the clinic and the kept files that hold one of
// words, in capitals or not. What is under a person's own key goes with the key
// when they are erased; what this finds does not: words of somebody whom nobody
// is enrolled with, what a clinician wrote, a complaint about a file that quotes
// it. It reads every event of the clinic.
func (tx *Tx) Mentions(words []string) ([]Mention, error) {
	list, err := tx.mentions(words)
	if err != nil {
		return nil, fmt.Errorf("look for words: %w", err)
	}
	return list, nil
}

func (tx *Tx) mentions(words []string) (list []Mention, err error) {
	var forms [][]byte
	for _, w := range words {
		form, err := toJSON(w)
		if err != nil {
			return nil, err
		}
		for _, b := range [][]byte{[]byte(w), bytes.Trim(form, `"`)} {
			if len(b) > 0 {
				forms = append(forms, bytes.ToLower(b))
			}
		}
	}
	holds := func(data []byte) bool {
		data = bytes.ToLower(data)
		for _, f := range forms {
			if bytes.Contains(data, f) {
				return true
			}
		}
		return false
	}
	clinic, err := tx.c.subject("")
	if err != nil {
		return nil, err
	}
	seqs, err := tx.c.trail("", clinic)
	if err != nil {
		return nil, err
	}
	for _, seq := range seqs {
		r, plain, err := tx.c.read(u64(seq), func([sidSize]byte) *subject { return clinic })
		if err != nil {
			return nil, err
		}
		if holds(plain) {
			list = append(list, Mention{Seq: r.seq, Kind: r.kind})
		}
	}
	cur := tx.c.in(inFiles).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if holds(v) {
			list = append(list, Mention{File: hex.EncodeToString(k)})
		}
	}
	return list, nil
}
