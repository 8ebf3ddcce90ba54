package journal

import (
	"bytes"
	"encoding/binary"
	"time"
)

// What the journal keeps for channels whose carrier can be asked later: which
// outcomes are to be looked up, which messages are watched for news, how much
// was handed over, up to where incoming messages were read.

// goesOn puts a row that was settled into the index that says what comes next
// for it: another try, another look, or news of it.
func (f *fold) goesOn(r *row, to Status, at time.Time) error {
	switch {
	case to == retry:
		r.Status, r.NotBefore = Pending, at
		return f.waits(r)
	case to == Unknown && !at.IsZero():
		if !inRange(at) {
			return invalid("look-up time is out of range")
		}
		r.NotBefore = at
		f.put(inLookups, atKey(at, r.Seq), []byte{})
	case to == Sent && r.From != "":
		r.SentAt = f.at.UTC()
		f.put(inWatched, atKey(r.SentAt, r.Seq), []byte{})
	}
	return nil
}

// newsRank orders what a Delivery can say.
func newsRank(news string) int {
	switch news {
	case NoNews:
		return 1
	case Undelivered:
		return 2
	case Delivered:
		return 3
	}
	return 0
}

// delivery takes in what became of a message. News that says no more than what
// is known is refused: it is not news.
func (f *fold) delivery() error {
	if f.body.Result == nil {
		return invalid("needs a result")
	}
	r, err := f.its()
	if err != nil {
		return err
	}
	res := f.body.Result
	switch {
	case r.Status != Sent:
		return invalid("message %q is %s and has no news", r.Key, r.Status)
	case newsRank(res.Status) <= newsRank(r.News):
		return invalid("message %q is known to be %q", r.Key, r.News)
	}
	if r.News == "" && !r.SentAt.IsZero() {
		f.del(inWatched, atKey(r.SentAt, r.Seq))
	}
	r.News, r.NewsCode = res.Status, res.Code
	if err := f.fate(r, res.Status); err != nil {
		return err
	}
	return f.putRow(r)
}

// IsNews tells whether a Delivery with this status would be taken.
func (r *Row) IsNews(news string) bool {
	return r.Status == Sent && newsRank(news) > newsRank(r.News)
}

// spentKey is where the segments of an hour are counted.
func spentKey(number string, at time.Time) []byte {
	return binary.BigEndian.AppendUint64(append([]byte(number), 0), uint64(at.Unix()/3600))
}

// spend counts a text that is about to be handed over, on every try: whether
// the carrier took it is not known yet.
func (f *fold) spend(r *row) {
	if r.From == "" || r.Segments == 0 {
		return
	}
	key := spentKey(r.From, f.at)
	n := uint64(r.Segments)
	if v := f.c.get(inSpent, key); len(v) == 8 {
		n += binary.BigEndian.Uint64(v)
	}
	f.put(inSpent, key, u64(n))
}

// Spent is how many segments were handed over from a number of ours in the
// hours that began at or after from, hours counted in UTC.
func (tx *Tx) Spent(number string, from time.Time) int {
	n := uint64(0)
	prefix := len(number) + 1
	cur := tx.c.in(inSpent).Cursor()
	for k, v := cur.Seek(spentKey(number, from.Add(time.Hour-1))); len(k) == prefix+8 && string(k[:prefix-1]) == number; k, v = cur.Next() {
		n += binary.BigEndian.Uint64(v)
	}
	return int(n)
}

func (f *fold) polled() error {
	if f.body.Channel == "" || !laneName(f.body.Channel) || !inRange(f.body.Point) {
		return invalid("needs a channel and a point")
	}
	f.put(inPolled, []byte(f.body.Channel), u64(nanos(f.body.Point)))
	return nil
}

// Polled is the time before which all that came in on a channel was read, as
// last written down; zero: never.
func (tx *Tx) Polled(channel string) time.Time {
	v := tx.c.get(inPolled, []byte(channel))
	if len(v) != 8 {
		return time.Time{}
	}
	return fromNanos(binary.BigEndian.Uint64(v))
}

// LookUps returns up to limit (0: all) messages whose outcome is unknown and
// is to be looked up by now, the earliest first.
func (tx *Tx) LookUps(now time.Time, limit int) ([]Row, error) {
	return tx.byTime(inLookups, now, limit)
}

// Watched returns up to limit (0: all) messages the carrier took at or before
// a time and has said nothing final about, the oldest first.
func (tx *Tx) Watched(by time.Time, limit int) ([]Row, error) {
	return tx.byTime(inWatched, by, limit)
}

func (tx *Tx) byTime(index bucketID, by time.Time, limit int) ([]Row, error) {
	var rows []Row
	cur := tx.c.in(index).Cursor()
	for k, _ := cur.First(); k != nil && !keyTime(k).After(by); k, _ = cur.Next() {
		if limit > 0 && len(rows) == limit {
			break
		}
		r, err := tx.indexed(k[min(8, len(k)):])
		if err != nil {
			return nil, err
		}
		rows = append(rows, r)
	}
	return rows, nil
}

// KeyOf is the key of the message that a carrier's id was given to, or "". Of
// several it is the latest.
func (tx *Tx) KeyOf(channel, id string) string {
	var latest []byte
	prefix := takenPrefix(channel, id)
	cur := tx.c.in(inTaken).Cursor()
	for k, v := cur.Seek(prefix); bytes.HasPrefix(k, prefix); k, v = cur.Next() {
		latest = v
	}
	if latest == nil {
		return ""
	}
	r, err := tx.c.rowAt(latest)
	if err != nil {
		return "" // Verify tells
	}
	return r.Key
}
