// # File format, version 5
//
// This is a contract: a file of this version stays readable for ever. What
// is said here changes only together with the format version. The file is a bbolt
// database of mode 0600. Integers are big-endian, times are nanoseconds or
// seconds since 1970-01-01 UTC as said, JSON is compact and not escaped for
// HTML. Its buckets:
//
//	meta       "format"      -> uint32 format version
//	           "head"        -> uint64 last seq | int64 its time, ns | 32 bytes SHA-256 of its record
//	           "contact key" -> 32 random bytes, the key of the contact hashes
//	events     uint64 seq, from 1 without a gap -> record | stored payload
//	payloads   uint64 seq -> stored payload of a record of version 1
//	subjects   enrollment id -> 16-byte random subject id | 32-byte random key;
//	           the clinic itself stands under the single byte 0
//	bysubject  16-byte subject id | uint64 seq -> empty; of the clinic's events, and of
//	           every event whose record has version 1
//	files      32 bytes SHA-256 -> content of a file of the clinic's folder
//
// and the derived ones, which hold nothing that a replay does not give again,
// byte for byte:
//
//	people     enrollment id -> JSON of the person, with the newest event of their thread
//	due        uint64 seconds | enrollment id -> empty
//	outbox     uint64 seq of the intent -> row, without what only the event has: To, Subject, Text, HTML, Decision, Next
//	keys       message key, what follows its last slash first | 0 | the rest -> uint64 seq of the latest intent
//	waiting    lane | 0 | uint8 rank | uint64 not before, ns (0: at once) | uint32 minute it was made |
//	           uint16 lot | uint64 seq of the intent -> uint16 segments | message key
//	handed     uint64 seq of the intent -> uint64 seq of the hand-over
//	seen       first half of the SHA-256 of channel | 0 | incoming id -> uint64 seq
//	taken      first half of the SHA-256 of channel | 0 | outgoing id, and uint64 seq of the outcome -> uint64 seq of the intent
//	optout     contact hash -> uint64 seq
//	accepted   "last" -> JSON of time and files
//	lookups    uint64 when to look, ns | uint64 seq of the intent -> empty
//	watched    uint64 when the carrier took it, ns | uint64 seq of the intent -> empty
//	spent      number of ours | 0 | uint64 hours since 1970 -> uint64 segments handed over in the hour
//	polled     channel -> uint64 point, ns
//	alerts     uint64 seq of the Alerted event -> JSON of the row
//	alertkeys  SHA-256 of the alert's key -> uint64 seq
//	alertsdue  uint64 when it is to go out, ns | uint64 seq -> empty
//	erased     HMAC-SHA-256 of 0 | "enrollment" | 0 | enrollment id | 16-byte subject id -> uint64 seq
//	days       enrollment id | 0 | uint32 date/28 -> sheet of days
//
// A lane is the channel, or for texts the channel, a slash and the number of
// ours: what queues up behind one another. The lot is, for texts, made of
// the SHA-256 of seq/16 as a uint64: its first 12 bits, and the last four of its byte
// 2+seq%16, counted from 0. For the rest it is 0. Of those due in the same minute
// another one is last every day.
//
// Dates are days since 1970-01-01. A sheet holds the decided dates of four weeks:
// the number of its words, each word as its length and bytes, in order of first
// use; then the days, rising, each with one byte for the date within the sheet,
// the yes and no of it as bits, its numbers, and its words by index: program,
// state, two reasons, question, fate, how many exercises were due, and these.
// Numbers are varints, zigzag where they may be under nought (encoding/binary);
// sheet.go has their order, which is that of version 3 for ever.
//
// A row has its strings, its numbers as zigzag varints, a varint of bits that say
// what follows, its times as zigzag varint of seconds and varint of nanoseconds,
// the date it decided, how far behind the intent its newest event is, and the
// alerts it tells of. Once its status is final it has no rank, revision, last time
// and next due instant any more. A string is the number of a common word, or 64 and
// its length and then its bytes, these numbers being varints. rowform.go has words
// and order, which are those of version 4 for ever, but for words added at the end.
//
// Version 4 had the first two bytes of the SHA-256 of the message key as the lot of a
// text, and a bucket drafts, uint64 seq of the intent -> JSON of what its row lacks.
// Version 3 had records of version 1 only, JSON in the outbox, message keys where
// the seq of the intent is now, whole hashes in seen and taken, and no threads.
// Version 2 lacked the bucket days as well, the day of a message in the outbox, and
// what a person was told last. Version 1 also had other keys for waiting (uint64 not
// before | uint64 seq -> message key) and taken (no seq), and lacked the eight
// buckets from lookups to erased. The events are the same, so opening such a file
// replays them and writes version 5, in one commit. Their records stay as they are.
//
// The record of an event, in this order and with nothing after it but the stored
// payload:
//
//	 1 byte   record version, 2
//	 8 bytes  time, ns
//	16 bytes  subject id
//	 1 byte   number of the kind; event.go has them
//	 varint   how far before this one the event before it on its thread is; 0: none
//	 1 byte   length of the engine's version, then the version
//	32 bytes  SHA-256 of the stored payload
//
// The head's hash after an event is the SHA-256 of the head's hash before it
// (zeros before the first), the seq and the record. An event of a person is on the
// thread of its message, if it is a hand-over, a withdrawal, an outcome or news of
// one, and on the person's own otherwise: a message's begins with its intent, whose
// row has the newest; a person's row has the newest of theirs. Events of the clinic
// have no thread. A record of version 1 was this, and its SHA-256 the head's hash:
//
//	 1 byte   record version, 1
//	32 bytes  SHA-256 of the record before, all of it; zeros before the first
//	 8 bytes  seq
//	 8 bytes  time, ns
//	16 bytes  subject id
//	 1 byte   length of the kind, then the kind
//	 1 byte   length of the engine's version, then the version
//	32 bytes  SHA-256 of the value in payloads
//
// A stored payload is the random part of a nonce and AES-256-GCM of the payload.
// The nonce is 4 random bytes and the seq; with version 1 it was 12 random bytes.
// Everything of the record but its last 32 bytes is the additional data, with the
// seq before it since version 2, so that a payload cannot be moved to another event.
//
// A payload is the JSON of [Event] as tagged, or the byte 1 and an S2 block (the
// extension of Snappy in github.com/klauspost/compress) of it, with payload1.dict
// as the dictionary.
//
// Neither the enrollment id nor anything else of a person is in the record:
// erasing someone deletes their line in subjects and their payloads, and what
// remains is a chain that still verifies and names nobody. Opt-outs are events of the clinic, so they
// outlive that. A contact hash is HMAC-SHA-256 under the contact key, and so is
// that of an id that was erased: who has the file and guesses an id can tell
// that it was erased, when, and at what times there were events of it.
//
// What an event of one subject changes of another subject's, a later erasure
// could not take back. So a message key stays with the subject that had it
// first, and a message of a person tells of no alert but their own.
//
// Only these lack a payload: events whose subject has an Erased event, and
// Accepted events that a Pruned event names. Whatever file the others name is
// in files. A page that bbolt freed keeps its bytes until the file is compacted,
// and so does a copy of it that was not made by Backup.
//
// The chain finds a record or payload that was changed, removed, added or
// moved. It cannot find that the newest events were cut off together with a
// new head; only a head noted elsewhere could.
package journal

import (
	"encoding/binary"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// formatVersion is the version of the file format that this program writes.
const formatVersion = 5

// draftsUntil4 is a bucket that files had up to version 4.
var draftsUntil4 = []byte("drafts")

// oldestFormat is the oldest version that is taken over.
const oldestFormat = 1

// recordVersion is the first byte of every record that this program writes.
const recordVersion = 2

// growBy is by how much the file grows at a time, in bytes: each time costs a
// sync, and a small clinic's file should not be mostly room.
const growBy = 4 << 20

// bucketID numbers the buckets, so that one transaction looks each up once.
type bucketID int

const (
	inMeta bucketID = iota
	inEvents
	inPayloads
	inSubjects
	inBySubject
	inFiles
	inPeople
	inDue
	inOutbox
	inWaiting
	inHanded
	inSeen
	inTaken
	inOptOut
	inAccepted
	inLookups
	inWatched
	inSpent
	inPolled
	inAlerts
	inAlertKeys
	inAlertsDue
	inErased
	inDays
	inKeys
	bucketCount
)

// firstDerived begins the buckets that a replay gives again.
const firstDerived = inPeople

var bucketNames = [bucketCount][]byte{
	[]byte("meta"), []byte("events"), []byte("payloads"), []byte("subjects"), []byte("bysubject"), []byte("files"),
	[]byte("people"), []byte("due"), []byte("outbox"), []byte("waiting"), []byte("handed"), []byte("seen"),
	[]byte("taken"), []byte("optout"), []byte("accepted"), []byte("lookups"), []byte("watched"), []byte("spent"),
	[]byte("polled"), []byte("alerts"), []byte("alertkeys"), []byte("alertsdue"), []byte("erased"),
	[]byte("days"), []byte("keys"),
}

var (
	keyFormat   = []byte("format")
	keyHead     = []byte("head")
	keyContact  = []byte("contact key")
	keyAccepted = []byte("last")
	keyClinic   = "\x00"
)

// maxKey is the longest enrollment id or message key, in bytes: what bbolt
// allows less the 8 bytes put before it in an index.
const maxKey = bolt.MaxKeySize - 8

// head is the newest event, as meta keeps it.
type head struct {
	seq  uint64
	at   int64 // ns
	hash [32]byte
}

func (h head) marshal() []byte {
	b := binary.BigEndian.AppendUint64(nil, h.seq)
	b = binary.BigEndian.AppendUint64(b, uint64(h.at))
	return append(b, h.hash[:]...)
}

func parseHead(b []byte) (head, error) {
	if len(b) != 48 {
		return head{}, fmt.Errorf("%w: head has %d bytes, want 48", ErrDamaged, len(b))
	}
	h := head{seq: binary.BigEndian.Uint64(b), at: int64(binary.BigEndian.Uint64(b[8:]))}
	copy(h.hash[:], b[16:])
	return h, nil
}

// u64 is a number as a key.
func u64(n uint64) []byte { return binary.BigEndian.AppendUint64(nil, n) }

// dueKey is a person's place in the due index. at is whole seconds.
func dueKey(at time.Time, id string) []byte {
	return append(u64(uint64(at.Unix())), id...)
}

// atKey is a row's place in an index by time: the earlier first, then in the
// order of the intents. The zero time comes first of all.
func atKey(at time.Time, seq uint64) []byte {
	return binary.BigEndian.AppendUint64(u64(nanos(at)), seq)
}

// keyTime is the time an index key of [atKey] begins with.
func keyTime(key []byte) time.Time {
	if len(key) < 8 {
		return time.Time{} // looked at too soon rather than never; Verify tells
	}
	return fromNanos(binary.BigEndian.Uint64(key))
}

func nanos(t time.Time) uint64 {
	if t.IsZero() {
		return 0
	}
	return uint64(t.UnixNano())
}

func fromNanos(ns uint64) time.Time {
	if ns == 0 {
		return time.Time{}
	}
	return time.Unix(0, int64(ns)).UTC()
}
