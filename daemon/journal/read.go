package journal

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"time"
)

func hashOf(b []byte) [32]byte { return sha256.Sum256(b) }

// Seen tells whether an incoming message was heard before, and in which event.
func (tx *Tx) Seen(channel, id string) (seq uint64, ok bool) {
	v := tx.c.get(inSeen, inSeenAt(seenKey(channel, id)))
	if len(v) != 8 {
		return 0, false
	}
	return binary.BigEndian.Uint64(v), true
}

// Owned tells whether a message on record at a carrier is one of ours: then no
// other message of ours may be taken for it.
func (tx *Tx) Owned(channel, id string) bool {
	return tx.KeyOf(channel, id) != ""
}

// ContactHash is what an opt-out knows a contact by: HMAC-SHA-256 under a key
// made with the journal. The caller brings contacts into one form first.
func (tx *Tx) ContactHash(contact string) []byte {
	h := hmac.New(sha256.New, tx.c.get(inMeta, keyContact))
	h.Write([]byte(contact))
	return h.Sum(nil)
}

// OptedOut tells whether the contact of this hash has opted out.
func (tx *Tx) OptedOut(contact []byte) bool {
	return tx.c.get(inOptOut, contact) != nil
}

// OptOutOf is the event by which a contact opted out, or nil.
func (tx *Tx) OptOutOf(contact []byte) (*Event, error) {
	v := tx.c.get(inOptOut, contact)
	if len(v) != 8 {
		return nil, nil
	}
	return tx.Event(binary.BigEndian.Uint64(v), "")
}

// AnyOptedOut tells whether one of a patient's contacts has opted out: that
// covers all of them.
func (tx *Tx) AnyOptedOut(contacts []string) bool {
	for _, c := range contacts {
		if tx.OptedOut(tx.ContactHash(c)) {
			return true
		}
	}
	return false
}

// PutFile keeps a file of the clinic's folder under its hash, hex SHA-256. A
// file that is there already is not written again.
func (tx *Tx) PutFile(data []byte) (hash string, err error) {
	if !tx.writable {
		return "", fmt.Errorf("put file: %w", errReadOnly)
	}
	sum := hashOf(data)
	hash = hex.EncodeToString(sum[:])
	if tx.c.get(inFiles, sum[:]) != nil {
		return hash, nil
	}
	tx.wrote = true
	if err := tx.c.in(inFiles).Put(sum[:], append([]byte{}, data...)); err != nil {
		tx.broken = fmt.Errorf("put file: %w", err)
		return "", tx.broken
	}
	return hash, nil
}

// File returns a kept file. One that is not there is [fs.ErrNotExist].
func (tx *Tx) File(hash string) ([]byte, error) {
	key, err := hex.DecodeString(hash)
	if err != nil || len(key) != sha256.Size {
		return nil, fmt.Errorf("file %q: not a hex SHA-256", hash)
	}
	v := tx.c.get(inFiles, key)
	if v == nil {
		return nil, fmt.Errorf("file %s: %w", hash, fs.ErrNotExist)
	}
	if hashOf(v) != [32]byte(key) {
		return nil, fmt.Errorf("file %s: %w: content does not match", hash, ErrDamaged)
	}
	return append([]byte{}, v...), nil
}

// haveFiles refuses a file set that could not be read back.
func (tx *Tx) haveFiles(files []FileRef) error {
	for _, f := range files {
		if _, err := tx.File(f.Hash); err != nil {
			return fmt.Errorf("%w: %s: %w", ErrInvalid, f.Path, err)
		}
	}
	return nil
}

// LastAccepted returns the newest accepted file set and when it was accepted;
// nothing and the zero time if there is none.
func (tx *Tx) LastAccepted() ([]FileRef, time.Time, error) {
	v := tx.c.get(inAccepted, keyAccepted)
	if v == nil {
		return nil, time.Time{}, nil
	}
	var s fileSet
	if err := json.Unmarshal(v, &s); err != nil {
		return nil, time.Time{}, fmt.Errorf("%w: read file set: %w", ErrDamaged, err)
	}
	return s.Files, s.At, nil
}

// Events calls fn with the events of one enrollment in order, and stops at
// its first error. The empty id is the clinic. An id that is not known, or
// was erased, has no events; of the clinic's those that were let go of by
// PruneFiles are left out.
func (tx *Tx) Events(id string, fn func(Event) error) error {
	sub, err := tx.c.subject(id)
	if err != nil || sub == nil {
		return err
	}
	seqs, err := tx.c.trail(id, sub)
	if err != nil {
		return err
	}
	for _, seq := range seqs {
		r, plain, err := tx.c.read(u64(seq), func([sidSize]byte) *subject { return sub })
		if err != nil {
			return err
		}
		if plain == nil {
			continue
		}
		if err := give(r, id, plain, fn); err != nil {
			return err
		}
	}
	return nil
}

// All calls fn with every event that can be read, in order, and stops at its
// first error. Events of whom was erased are left out.
func (tx *Tx) All(fn func(Event) error) error {
	who, err := tx.c.everyone()
	if err != nil {
		return err
	}
	cur := tx.c.in(inEvents).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		r, plain, err := tx.c.read(k, who.subject)
		if err != nil {
			return err
		}
		if plain == nil {
			continue
		}
		if err := give(r, who.ids[r.sid], plain, fn); err != nil {
			return err
		}
	}
	return nil
}

func give(r record, id string, plain []byte, fn func(Event) error) error {
	var e Event
	if err := json.Unmarshal(plain, &e); err != nil {
		return fmt.Errorf("%w: read payload of event %d: %w", ErrDamaged, r.seq, err)
	}
	e.Seq, e.Kind, e.ID, e.At, e.Engine = r.seq, r.kind, id, r.time(), r.engine
	return fn(e)
}

// read reads one event. An event whose subject is nil was erased and has no
// payload to give, nor has an accepted set that was let go of.
func (c *core) read(key []byte, who func([sidSize]byte) *subject) (record, []byte, error) {
	r, _, stored, err := c.event(key)
	if err != nil {
		return r, nil, err
	}
	sub := who(r.sid)
	if sub == nil {
		return r, nil, nil
	}
	if mayLack(&r, stored) {
		return r, nil, nil
	}
	plain, err := sub.open(&r, stored)
	return r, plain, err
}

// everyone knows all subjects by their subject id.
type everyone struct {
	ids      map[[sidSize]byte]string
	subjects map[[sidSize]byte]*subject
}

func (w *everyone) subject(sid [sidSize]byte) *subject { return w.subjects[sid] }

func (c *core) everyone() (*everyone, error) {
	w := &everyone{ids: map[[sidSize]byte]string{}, subjects: map[[sidSize]byte]*subject{}}
	cur := c.in(inSubjects).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		sub, err := parseSubject(v)
		if err != nil {
			return nil, err
		}
		if _, double := w.ids[sub.sid]; double {
			return nil, fmt.Errorf("%w: two subjects have one subject id", ErrDamaged)
		}
		id := string(k)
		if id == keyClinic {
			id = ""
		}
		w.ids[sub.sid], w.subjects[sub.sid] = id, sub
	}
	if c.get(inSubjects, []byte(keyClinic)) == nil {
		return nil, errNoClinic
	}
	return w, nil
}
