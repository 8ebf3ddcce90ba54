package journal

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
	"time"
)

// Lane names what messages queue up behind: a channel, or one number of ours
// on it.
func (o *Out) Lane() string {
	if o.From == "" {
		return o.Channel
	}
	return o.Channel + "/" + o.From
}

// laneName tells whether a name can stand in a lane's.
func laneName(s string) bool { return len(s) <= 256 && strings.IndexByte(s, 0) < 0 }

// laneTail is how long a waiting key is behind its lane and the 0.
const laneTail = 1 + 8 + 4 + 2 + 8

// waitKey is a pending row's place among those waiting; see the file format.
func waitKey(r *row) []byte {
	key := append([]byte(r.Lane()), 0, byte(r.Rank))
	key = binary.BigEndian.AppendUint64(key, nanos(r.NotBefore))
	minute, lot := uint32(0), uint16(0)
	if r.From != "" {
		if inRange(r.Made) {
			minute = uint32(r.Made.Unix() / 60)
		}
		lot = lotOf(r.Seq)
	}
	key = binary.BigEndian.AppendUint32(key, minute)
	key = binary.BigEndian.AppendUint16(key, lot)
	return binary.BigEndian.AppendUint64(key, r.Seq)
}

// lotOf is the lot of a text: sixteen intents that follow one another draw one
// together, and each of them its last four bits, so that of any number of texts
// another one is last every day. They stay together because what is handed over
// together then lies together in the file: with a lot of its own for each text a
// commit wrote nearly a page for every row.
func lotOf(seq uint64) uint16 {
	sum := sha256.Sum256(u64(seq / 16))
	return binary.BigEndian.Uint16(sum[:])&^15 | uint16(sum[2+seq%16])&15
}

// waitNotBefore reads a waiting key's time; prefix is its lane and the 0.
func waitNotBefore(key, prefix []byte) time.Time {
	return fromNanos(binary.BigEndian.Uint64(key[len(prefix)+1:]))
}

// waits puts a pending row among those waiting.
func (f *fold) waits(r *row) error {
	if !r.NotBefore.IsZero() && !inRange(r.NotBefore) {
		return invalid("retry time is out of range")
	}
	f.put(inWaiting, waitKey(r), append(binary.BigEndian.AppendUint16(nil, uint16(r.Segments)), r.Key...))
	return nil
}

// Lanes returns the lanes in which anything is waiting, by name.
func (tx *Tx) Lanes() []string {
	var lanes []string
	cur := tx.c.in(inWaiting).Cursor()
	for k, _ := cur.First(); k != nil; {
		lane, _, ok := bytes.Cut(k, []byte{0})
		if !ok {
			break
		}
		lanes = append(lanes, string(lane))
		k, _ = cur.Seek(append(bytes.Clone(lane), 1))
	}
	return lanes
}

// Queued is a message that waits in a lane, as far as its turn goes.
type Queued struct {
	Key      string
	Rank     int
	Segments int
}

// Queue returns up to limit (0: all) pending messages of a lane whose
// NotBefore is not after now: by rank, within a rank those without one first,
// then the earliest. Texts without one go by the minute they were made and by
// lot within it, everything else in the order of the intents. Only the index
// is read.
func (tx *Tx) Queue(lane string, now time.Time, limit int) ([]Queued, error) {
	var list []Queued
	prefix := append([]byte(lane), 0)
	cur := tx.c.in(inWaiting).Cursor()
	for k, v := cur.Seek(prefix); bytes.HasPrefix(k, prefix) && len(k) == len(prefix)+laneTail; {
		if limit > 0 && len(list) == limit {
			break
		}
		rank := k[len(prefix)]
		if waitNotBefore(k, prefix).After(now) { // and so is the rest of its rank
			if rank == 255 {
				break
			}
			k, v = cur.Seek(append(bytes.Clone(prefix), rank+1))
			continue
		}
		if len(v) < 2 {
			return nil, fmt.Errorf("%w: an index names no message", ErrDamaged)
		}
		list = append(list, Queued{Key: string(v[2:]), Rank: int(rank), Segments: int(binary.BigEndian.Uint16(v))})
		k, v = cur.Next()
	}
	return list, nil
}

// Waiting returns the messages that [Tx.Queue] names.
func (tx *Tx) Waiting(lane string, now time.Time, limit int) ([]Row, error) {
	list, err := tx.Queue(lane, now, limit)
	if err != nil {
		return nil, err
	}
	var rows []Row
	for _, q := range list {
		r, err := tx.Row(q.Key)
		if err == nil && r == nil {
			err = fmt.Errorf("%w: an index names a message that is not there", ErrDamaged)
		}
		if err != nil {
			return nil, err
		}
		rows = append(rows, *r)
	}
	return rows, nil
}

// Backlog counts the messages pending in a lane, and their segments, whatever
// their time.
func (tx *Tx) Backlog(lane string) (messages, segments int) {
	prefix := append([]byte(lane), 0)
	cur := tx.c.in(inWaiting).Cursor()
	for k, v := cur.Seek(prefix); bytes.HasPrefix(k, prefix); k, v = cur.Next() {
		messages++
		if len(v) >= 2 {
			segments += int(binary.BigEndian.Uint16(v))
		}
	}
	return messages, segments
}
