package journal

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"time"
)

const (
	sidSize   = 16
	keySize   = 32 // AES-256
	nonceSize = 12
	fixedSize = 1 + 32 + 8 + 8 + sidSize // of a record of version 1, up to the kind
)

// record is the metadata of one event, as it is chained.
type record struct {
	version byte
	prev    [32]byte // version 1: hash of the record before
	seq     uint64
	at      int64 // ns
	sid     [sidSize]byte
	kind    Kind
	link    uint64 // since version 2: seq of the event before on the same thread; 0: none
	engine  string
	payload [32]byte // SHA-256 of the stored payload
}

// metadata is the record without the hash of its payload: what the payload's
// encryption is bound to. One of version 2 lies in the file without the seq,
// which is its key.
func (r *record) metadata() []byte {
	b := make([]byte, 0, fixedSize+3+binary.MaxVarintLen64+len(r.kind)+len(r.engine)+32)
	if r.version == 1 {
		b = append(append(b, 1), r.prev[:]...)
		b = binary.BigEndian.AppendUint64(b, r.seq)
		b = binary.BigEndian.AppendUint64(b, uint64(r.at))
		b = append(b, r.sid[:]...)
		b = append(append(b, byte(len(r.kind))), r.kind...)
		return append(append(b, byte(len(r.engine))), r.engine...)
	}
	b = binary.BigEndian.AppendUint64(b, r.seq)
	b = append(b, 2)
	b = binary.BigEndian.AppendUint64(b, uint64(r.at))
	b = append(b, r.sid[:]...)
	b = append(b, numberOf(r.kind))
	back := uint64(0)
	if r.link > 0 {
		back = r.seq - r.link
	}
	b = binary.AppendUvarint(b, back)
	return append(append(b, byte(len(r.engine))), r.engine...)
}

// marshal is the record as it lies in the file.
func (r *record) marshal() []byte {
	b := r.metadata()
	if r.version == 2 {
		b = b[8:]
	}
	return append(b, r.payload[:]...)
}

// hash is what the record after it follows from: it covers all of the chain up
// to this record, which lies in the file as b.
func (r *record) hash(before [32]byte, b []byte) [32]byte {
	if r.version == 1 {
		return hashOf(b)
	}
	all := make([]byte, 0, 256)
	all = append(all, before[:]...)
	all = binary.BigEndian.AppendUint64(all, r.seq)
	return hashOf(append(all, b...))
}

// parseRecord reads the record of a key, and what lies behind it: since version
// 2 that is the payload, if it has one still. It refuses anything but the exact
// form.
func parseRecord(key, b []byte) (r record, payload []byte, err error) {
	if len(b) > 0 && b[0] == 1 {
		r, err = parseRecord1(b)
		return r, nil, err
	}
	switch {
	case len(key) != 8 || len(b) == 0:
		return r, nil, fmt.Errorf("%w: record has %d bytes, its key %d", ErrDamaged, len(b), len(key))
	case b[0] != 2:
		return r, nil, fmt.Errorf("%w: record version %d", ErrFormat, b[0])
	}
	r.version, r.seq = 2, binary.BigEndian.Uint64(key)
	in := reader{b: b[1:]}
	r.at = int64(binary.BigEndian.Uint64(in.fixed(8)))
	copy(r.sid[:], in.fixed(sidSize))
	r.kind = kindOf(in.fixed(1)[0])
	back := in.uint()
	r.engine = string(in.take(int(in.fixed(1)[0])))
	copy(r.payload[:], in.fixed(32))
	if back > 0 {
		r.link = r.seq - back
	}
	if in.bad || back > 0 && back >= r.seq || !bytes.Equal(r.marshal(), b[:len(b)-len(in.b)]) {
		return r, nil, fmt.Errorf("%w: record of event %d is cut short or not in its form", ErrDamaged, r.seq)
	}
	if len(in.b) > 0 {
		payload = in.b
	}
	return r, payload, nil
}

// event reads the event of a key: its record, also as it lies in the file, and
// its stored payload, if it has one still.
func (c *core) event(key []byte) (r record, rec, stored []byte, err error) {
	v := c.get(inEvents, key)
	r, stored, err = parseRecord(key, v)
	if err == nil && r.version == 1 {
		stored = c.get(inPayloads, key)
		return r, v, stored, nil
	}
	return r, v[:len(v)-len(stored)], stored, err
}

// bare is the change that takes the payload of an event away.
func (c *core) bare(key []byte) (op, error) {
	r, rec, _, err := c.event(key)
	if r.version == 1 {
		return op{inPayloads, key, nil}, err
	}
	return op{inEvents, key, bytes.Clone(rec)}, err
}

// parseRecord1 reads a record of version 1.
func parseRecord1(b []byte) (record, error) {
	r := record{version: 1}
	if len(b) < fixedSize+2+32 {
		return r, fmt.Errorf("%w: record has %d bytes", ErrDamaged, len(b))
	}
	copy(r.prev[:], b[1:])
	r.seq = binary.BigEndian.Uint64(b[33:])
	r.at = int64(binary.BigEndian.Uint64(b[41:]))
	copy(r.sid[:], b[49:])
	rest := b[fixedSize:]
	kind, rest, ok := cutString(rest)
	engine, rest, ok2 := cutString(rest)
	if !ok || !ok2 || len(rest) != 32 {
		return r, fmt.Errorf("%w: record of event %d is cut short or too long", ErrDamaged, r.seq)
	}
	r.kind, r.engine = Kind(kind), engine
	copy(r.payload[:], rest)
	return r, nil
}

// cutString takes a string with its length before it off the front of b.
func cutString(b []byte) (string, []byte, bool) {
	if len(b) == 0 || len(b) < 1+int(b[0]) {
		return "", nil, false
	}
	n := 1 + int(b[0])
	return string(b[1:n]), b[n:], true
}

// time is when the event happened, UTC.
func (r *record) time() time.Time { return time.Unix(0, r.at).UTC() }

// errNoClinic: people can be erased, the clinic cannot.
var errNoClinic = fmt.Errorf("%w: the clinic's own key is missing", ErrDamaged)

// subject is who an event is about, with the cipher of their payloads.
type subject struct {
	sid   [sidSize]byte
	aead  cipher.AEAD
	fresh []byte // value for the subjects bucket, not written yet; else nil
}

func newSubject() (*subject, error) {
	b := make([]byte, sidSize+keySize)
	rand.Read(b) // never fails; ends the process if the system has no randomness
	s, err := parseSubject(b)
	if err != nil {
		return nil, err
	}
	s.fresh = b
	return s, nil
}

func parseSubject(b []byte) (*subject, error) {
	if len(b) != sidSize+keySize {
		return nil, fmt.Errorf("%w: subject has %d bytes", ErrDamaged, len(b))
	}
	block, err := aes.NewCipher(b[sidSize:])
	if err != nil {
		return nil, fmt.Errorf("make cipher: %w", err)
	}
	s := &subject{}
	copy(s.sid[:], b)
	s.aead, err = cipher.NewGCM(block)
	if err != nil {
		return nil, fmt.Errorf("make cipher: %w", err)
	}
	return s, nil
}

// nonce is that of an event's encryption, of which the stored payload begins
// with the random part. Since version 2 the rest is the seq: an event of the same
// number can be encrypted again only if its transaction was undone.
func (r *record) nonce(random []byte) []byte {
	if r.version == 1 {
		return random
	}
	return binary.BigEndian.AppendUint64(append(make([]byte, 0, nonceSize), random...), r.seq)
}

// randomSize is how long the random part of a nonce is, in bytes.
func (r *record) randomSize() int {
	if r.version == 1 {
		return nonceSize
	}
	return nonceSize - 8
}

// seal encrypts a packed payload under the subject's key and completes the record.
func (s *subject) seal(r *record, packed []byte) (stored []byte) {
	random := r.randomSize()
	stored = make([]byte, random, random+len(packed)+s.aead.Overhead())
	rand.Read(stored)
	stored = s.aead.Seal(stored, r.nonce(stored), packed, r.metadata())
	r.payload = sha256.Sum256(stored)
	return stored
}

// open decrypts a stored payload.
func (s *subject) open(r *record, stored []byte) ([]byte, error) {
	random := r.randomSize()
	if len(stored) < random {
		return nil, fmt.Errorf("%w: payload of event %d is missing or cut short", ErrDamaged, r.seq)
	}
	packed, err := s.aead.Open(nil, r.nonce(stored[:random]), stored[random:], r.metadata())
	if err != nil {
		return nil, fmt.Errorf("%w: payload of event %d does not decrypt", ErrDamaged, r.seq)
	}
	plain, err := unpack(packed)
	if err != nil {
		return nil, fmt.Errorf("%w: payload of event %d: %w", ErrDamaged, r.seq, err)
	}
	return plain, nil
}

// toJSON is the one JSON form of the file: compact, not escaped for HTML.
func toJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}
