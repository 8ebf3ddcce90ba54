package journal

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"time"
)

// Erasure says that one enrollment was erased. Subject tells it from a later
// enrollment under the same id.
type Erasure struct {
	Hash    []byte    `json:"hash"`    // keyed hash of the enrollment id
	Subject []byte    `json:"subject"` // subject id of the events that were erased
	At      time.Time `json:"at"`      // when it was erased first
	// Seen are the keys of the incoming messages that were theirs, hashes of what a
	// channel calls them: a list that is read again must not bring them back as a
	// stranger's. Of very many the oldest are left out.
	Seen [][]byte `json:"seen,omitempty"`
}

// mostSeen is how many incoming messages an erasure remembers: five a day for a
// year. No channel lists so many again.
const mostSeen = 2000

// idHash is what an erasure knows an enrollment id by. The 0 in front keeps it
// apart from the hashes of contacts, none of which begins with one.
func (tx *Tx) idHash(id string) []byte {
	h := hmac.New(sha256.New, tx.c.get(inMeta, keyContact))
	h.Write([]byte("\x00enrollment\x00"))
	h.Write([]byte(id))
	return h.Sum(nil)
}

// Erase destroys the key of an enrollment, the payloads of its events and all
// that is derived of them, and puts down an Erased event. An opt-out stays. by
// and why stay too, so they must not name the person. The freed pages of the
// file keep the old bytes until [Compact].
//
// The id may be enrolled again: it is the clinic's to give, and stands for
// somebody new, with a key of their own. A message that was being handed over
// is not there any more to be settled.
func (tx *Tx) Erase(id string, at time.Time, by, why string) error {
	sub, err := tx.c.subject(id)
	switch {
	case err != nil:
	case id == "" || sub == nil:
		err = invalid("never enrolled, or erased before")
	default:
		e := Event{Kind: Erased, At: at, By: by, Why: why, Erasure: &Erasure{Hash: tx.idHash(id), Subject: sub.sid[:], At: at}}
		err = tx.erase(id, sub, e)
	}
	if err != nil {
		return fmt.Errorf("erase %q: %w", id, err)
	}
	return nil
}

func (tx *Tx) erase(id string, sub *subject, e Event) error {
	if !tx.writable {
		return errReadOnly
	}
	ops, seen, err := tx.c.forget(id, sub)
	if err != nil {
		return err
	}
	e.Erasure.Seen = union(e.Erasure.Seen, seen)
	if _, err := tx.append(&e); err != nil {
		return err
	}
	delete(tx.c.subjects, id)
	return tx.destroy(ops)
}

// union adds keys to those of an erasure elsewhere, each once.
func union(a, b [][]byte) [][]byte {
	a = slices.Clone(a)
	for _, key := range b {
		if !slices.ContainsFunc(a, func(k []byte) bool { return bytes.Equal(k, key) }) {
			a = append(a, key)
		}
	}
	return a
}

// destroy carries out what goes with an event that was just appended.
func (tx *Tx) destroy(ops []op) error {
	if err := tx.c.apply(ops); err != nil {
		tx.broken = fmt.Errorf("destroy: %w", err)
		return tx.broken
	}
	return nil
}

// forgetting works out what an erasure changes: afterwards all that is derived
// must be what the events of the others give.
type forgetting struct {
	fold
	outs  map[string]*rawOut // messages by key, as last intended
	rows  []uint64           // their intents
	spent map[string]uint64  // what their hand-overs added, by key of the index
	seen  [][]byte           // keys of what they wrote, oldest first
}

func (c *core) forget(id string, sub *subject) ([]op, [][]byte, error) {
	f := &forgetting{fold: fold{c: c}, outs: map[string]*rawOut{}, spent: map[string]uint64{}}
	seqs, err := c.trail(id, sub)
	if err != nil {
		return nil, nil, err
	}
	for _, seq := range seqs {
		key := u64(seq)
		r, plain, err := c.read(key, func([sidSize]byte) *subject { return sub })
		if err != nil {
			return nil, nil, err
		}
		b, err := parseBody(plain)
		if err == nil {
			err = f.event(&r, &b)
		}
		if err != nil {
			return nil, nil, err
		}
		gone, err := c.bare(key)
		if err != nil {
			return nil, nil, err
		}
		f.ops = append(f.ops, gone)
	}
	for _, seq := range f.rows {
		if err := f.message(seq); err != nil {
			return nil, nil, err
		}
	}
	for key := range f.outs {
		f.del(inKeys, turned(key))
	}
	f.unspend()
	p, err := c.person(id)
	if err != nil {
		return nil, nil, err
	}
	if p != nil && !p.Due.IsZero() {
		f.del(inDue, dueKey(p.Due, id))
	}
	f.del(inPeople, []byte(id))
	f.forgetDays(id)
	f.del(inSubjects, []byte(id))
	if old := len(f.seen) - mostSeen; old > 0 {
		for _, key := range f.seen[:old] {
			f.del(inSeen, inSeenAt(key))
		}
		f.seen = f.seen[old:]
	}
	return f.ops, f.seen, nil
}

// event takes back what one event left in the indexes.
func (f *forgetting) event(r *record, b *body) error {
	switch {
	case r.kind == Intended && b.Out != nil:
		f.outs[b.Out.Key] = b.Out
		f.rows = append(f.rows, r.seq)
	case r.kind == HandedOut && f.outs[b.Key] != nil:
		if out := f.outs[b.Key]; out.From != "" {
			f.spent[string(spentKey(out.From, r.time()))] += uint64(out.Segments)
		}
	case r.kind == Settled && f.outs[b.Key] != nil && b.Result != nil && b.Result.ID != "":
		f.del(inTaken, takenKey(f.outs[b.Key].Channel, b.Result.ID, r.seq))
	case r.kind == Heard && b.Incoming != nil:
		f.seen = append(f.seen, seenKey(b.Incoming.Channel, b.Incoming.ID))
	case r.kind == Alerted && b.Alert != nil:
		row, err := f.c.alertOf(r.seq)
		if err != nil {
			return err
		}
		if row != nil && !row.Due.IsZero() {
			f.del(inAlertsDue, atKey(row.Due, r.seq))
		}
		f.del(inAlerts, u64(r.seq))
		f.del(inAlertKeys, alertKey(b.Alert.Key))
	}
	return nil
}

// message takes the row of an intent out of the outbox and of whatever index it
// is in.
func (f *forgetting) message(seq uint64) error {
	key := u64(seq)
	v := f.c.get(inOutbox, key)
	if v == nil {
		return nil
	}
	r, err := parseRow(seq, v)
	if err != nil {
		return err
	}
	f.del(inOutbox, key)
	f.del(inHanded, key)
	if r.Status == Pending {
		f.del(inWaiting, waitKey(r))
	}
	if !r.NotBefore.IsZero() {
		f.del(inLookups, atKey(r.NotBefore, r.Seq))
	}
	if !r.SentAt.IsZero() {
		f.del(inWatched, atKey(r.SentAt, r.Seq))
	}
	return nil
}

func (f *forgetting) unspend() {
	for key, n := range f.spent {
		v := f.c.get(inSpent, []byte(key))
		if len(v) != 8 {
			continue
		}
		if left := binary.BigEndian.Uint64(v); left > n {
			f.put(inSpent, []byte(key), u64(left-n))
		} else {
			f.del(inSpent, []byte(key))
		}
	}
}

func erasureKey(e *Erasure) []byte { return append(bytes.Clone(e.Hash), e.Subject...) }

func (e *Erasure) sound() bool {
	return e != nil && len(e.Hash) == sha256.Size && len(e.Subject) == sidSize
}

// erased notes an erasure; what it destroyed does not come up in a replay.
func (f *fold) erased() error {
	if !f.body.Erasure.sound() {
		return invalid("needs the hash of an enrollment id and a subject")
	}
	key := erasureKey(f.body.Erasure)
	if f.c.get(inErased, key) != nil {
		return fmt.Errorf("%w: this enrollment was erased before", ErrKeyTaken)
	}
	f.put(inErased, key, u64(f.seq))
	for _, seen := range f.body.Erasure.Seen {
		if len(seen) != sha256.Size {
			return invalid("an incoming message is known by a hash")
		}
		f.put(inSeen, inSeenAt(seen), u64(f.seq))
	}
	return nil
}

// IsErased tells whether anybody was erased who was enrolled under this id.
// Somebody else may be enrolled under it now.
func (tx *Tx) IsErased(id string) bool {
	hash := tx.idHash(id)
	k, _ := tx.c.in(inErased).Cursor().Seek(hash)
	return bytes.HasPrefix(k, hash)
}

// Erasures returns all erasures, for [Tx.ReapplyErasures] of a journal that is
// restored from an older copy.
func (tx *Tx) Erasures() ([]Erasure, error) {
	var list []Erasure
	cur := tx.c.in(inErased).Cursor()
	for _, v := cur.First(); len(v) == 8; _, v = cur.Next() {
		e, err := tx.Event(binary.BigEndian.Uint64(v), "")
		if err != nil {
			return nil, err
		}
		if e == nil || e.Erasure == nil {
			return nil, fmt.Errorf("%w: an erasure has no event", ErrDamaged)
		}
		list = append(list, *e.Erasure)
	}
	return list, nil
}

// ReapplyErasures erases whom a newer journal, or a list kept elsewhere, says
// was erased, and returns the ids of those who were there. An erasure of
// somebody this journal never had is noted as well, so that the next copy
// knows of it. What is known already is left alone. [Compact] is due after it.
func (tx *Tx) ReapplyErasures(list []Erasure, at time.Time) ([]string, error) {
	who, err := tx.c.everyone()
	if err != nil {
		return nil, fmt.Errorf("reapply erasures: %w", err)
	}
	var ids []string
	for _, e := range list {
		e.At = e.At.UTC()
		if !e.sound() {
			return nil, fmt.Errorf("reapply erasures: %w", invalid("not an erasure"))
		}
		if tx.c.get(inErased, erasureKey(&e)) != nil {
			continue
		}
		ev := Event{Kind: Erased, At: at, Why: "restored", Erasure: &e}
		sid := [sidSize]byte(e.Subject)
		id, there := who.ids[sid]
		switch {
		case there && id == "":
			err = invalid("the clinic cannot be erased")
		case there:
			err = tx.erase(id, who.subjects[sid], ev)
			ids = append(ids, id)
			delete(who.ids, sid)
		default:
			_, err = tx.append(&ev)
		}
		if err != nil {
			return nil, fmt.Errorf("reapply erasures: %w", err)
		}
	}
	return ids, nil
}
