package journal

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
)

// The events of a person hang together by threads, so that nothing but the rows
// that an event changes anyway has to be written to find them again. Each names
// the one before it on its thread: those about a message, from its hand-over on,
// are on the message's own, which begins with the intent and whose newest event
// the row in the outbox has; all others are on the person's. What was written
// before version 4 has no thread and stands in the index by subject, and so does
// everything of the clinic.

// ofMessage tells whether a kind of event is on the thread of its message.
func (k Kind) ofMessage() bool {
	switch k {
	case HandedOut, Withdrawn, Settled, Delivery:
		return true
	}
	return false
}

// trail returns the numbers of all events of a subject, rising.
func (c *core) trail(id string, sub *subject) ([]uint64, error) {
	t := &trail{c: c, sub: sub}
	cur := c.in(inBySubject).Cursor()
	for k, _ := cur.Seek(sub.sid[:]); len(k) == sidSize+8 && [sidSize]byte(k) == sub.sid; k, _ = cur.Next() {
		t.seqs = append(t.seqs, binary.BigEndian.Uint64(k[sidSize:]))
	}
	if id == "" {
		return t.seqs, nil
	}
	for _, seq := range slices.Clone(t.seqs) { // their messages may have gone on since
		r, err := t.record(seq)
		if err == nil && r.kind == Intended {
			err = t.message(seq)
		}
		if err != nil {
			return nil, err
		}
	}
	p, err := c.person(id)
	if err != nil || p == nil {
		return t.seqs, err
	}
	if err := t.follow(p.Last, t.message); err != nil {
		return nil, err
	}
	slices.Sort(t.seqs)
	return t.seqs, nil
}

// trail collects the events of a subject.
type trail struct {
	c    *core
	sub  *subject
	seqs []uint64
}

func (t *trail) record(seq uint64) (record, error) {
	key := u64(seq)
	r, _, err := parseRecord(key, t.c.get(inEvents, key))
	if err == nil && r.sid != t.sub.sid {
		err = fmt.Errorf("%w: event %d is on the thread of somebody else", ErrDamaged, seq)
	}
	return r, err
}

// follow collects the events of a thread from one back to the first, or to
// where the index has the rest. Of each intent it calls intent, if there is one.
func (t *trail) follow(seq uint64, intent func(uint64) error) error {
	for seq > 0 {
		r, err := t.record(seq)
		if err != nil || r.version == 1 {
			return err
		}
		switch {
		case r.link >= seq:
			return fmt.Errorf("%w: event %d is on a thread that goes forward", ErrDamaged, seq)
		case r.kind == Intended && intent == nil:
			return nil // where the thread of a message begins
		case r.kind == Intended:
			err = intent(seq)
		}
		if err != nil {
			return err
		}
		t.seqs = append(t.seqs, seq)
		seq = r.link
	}
	return nil
}

// message collects the events of a message after its intent.
func (t *trail) message(intent uint64) error {
	v := t.c.get(inOutbox, u64(intent))
	if v == nil {
		return nil
	}
	r, err := parseRow(intent, v)
	if err != nil || r.Last == 0 {
		return err
	}
	return t.follow(r.Last, nil)
}

// inIndex tells whether an event stands in the index by subject.
func (r *record) inIndex(clinic bool) bool { return r.version == 1 || clinic }

// lineOf is a line of the index by subject.
func lineOf(sid [sidSize]byte, key []byte) []byte { return append(bytes.Clone(sid[:]), key...) }
