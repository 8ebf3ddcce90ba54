package journal

import (
	"encoding/binary"
	"fmt"
	"slices"
	"time"

	"stepgate/rules"
)

// rowWords are the words that rows are full of, by their number. Part of the
// file format: new ones are added at the end.
var rowWords = []string{"", "daily", "answer", "alert", "sms", "email", "spool", string(Pending), string(Handed), string(Sent), string(Rejected),
	string(Unknown), string(TakenBack), string(Expired), NoNews, Undelivered, Delivered, "digest", "confirm", "visit", "paused"}

// rowWordsRoom is the first number that stands for a string of its own, of that
// many bytes less this.
const rowWordsRoom = 64

// strings are a row's, in the order they are written.
func (r *row) strings() [11]*string {
	return [11]*string{&r.Key, &r.Kind, &r.Channel, &r.From, &r.ReplyTo, &r.Enrollment, (*string)(&r.Status), &r.CarrierID, &r.Code, &r.News, &r.NewsCode}
}

// times are a row's, in the order they are written.
func (r *row) times() [6]*time.Time {
	return [6]*time.Time{&r.Made, &r.Until, &r.NextDue, &r.Again, &r.NotBefore, &r.SentAt}
}

// numbers are a row's, in the order they are written.
func (r *row) numbers() [4]*int {
	return [4]*int{&r.Rev, &r.Rank, &r.Segments, &r.Tries}
}

// What a row has besides its strings and numbers, as bits behind those of its
// times.
const (
	rowHasDay = 1 << (6 + iota)
	rowHasLast
	rowHasAlerts
)

// marshal writes a row in the form that format.go describes. Its place is its
// key in the file and not in it.
func (r *row) marshal() []byte {
	b := make([]byte, 0, 160)
	for _, s := range r.strings() {
		if n := slices.Index(rowWords, *s); n >= 0 {
			b = append(b, byte(n))
			continue
		}
		b = binary.AppendUvarint(b, uint64(len(*s))+rowWordsRoom)
		b = append(b, *s...)
	}
	for _, n := range r.numbers() {
		b = binary.AppendVarint(b, int64(*n))
	}
	var has uint64
	for i, t := range r.times() {
		if !t.IsZero() {
			has |= 1 << i
		}
	}
	if r.Day != 0 {
		has |= rowHasDay
	}
	if r.Last != 0 {
		has |= rowHasLast
	}
	if len(r.Alerts) > 0 {
		has |= rowHasAlerts
	}
	b = binary.AppendUvarint(b, has)
	for _, t := range r.times() {
		if !t.IsZero() {
			b = binary.AppendVarint(b, t.Unix())
			b = binary.AppendUvarint(b, uint64(t.Nanosecond()))
		}
	}
	if r.Day != 0 {
		b = binary.AppendVarint(b, int64(r.Day))
	}
	if r.Last != 0 {
		b = binary.AppendUvarint(b, r.Last-r.Seq)
	}
	if len(r.Alerts) > 0 {
		b = binary.AppendUvarint(b, uint64(len(r.Alerts)))
		for _, n := range r.Alerts {
			b = binary.AppendUvarint(b, n)
		}
	}
	return b
}

// parseRow reads the row of an intent.
func parseRow(seq uint64, v []byte) (*row, error) {
	r, in := &row{Seq: seq}, reader{b: v}
	for _, s := range r.strings() {
		switch n := in.uint(); {
		case n < uint64(len(rowWords)):
			*s = rowWords[n]
		case n < rowWordsRoom:
			in.bad = true
		default:
			*s = string(in.take(int(min(n-rowWordsRoom, 1<<30))))
		}
	}
	for _, n := range r.numbers() {
		*n = in.int()
	}
	has := in.uint()
	for i, t := range r.times() {
		if has&(1<<i) != 0 {
			sec := in.int()
			*t = time.Unix(int64(sec), int64(in.uint())).UTC()
		}
	}
	if has&rowHasDay != 0 {
		r.Day = rules.Date(in.int())
	}
	if has&rowHasLast != 0 {
		r.Last = seq + in.uint()
	}
	if has&rowHasAlerts != 0 {
		r.Alerts = make([]uint64, in.count())
		for i := range r.Alerts {
			r.Alerts[i] = in.uint()
		}
	}
	if in.bad || len(in.b) > 0 {
		return nil, fmt.Errorf("%w: outbox row %d", ErrDamaged, seq)
	}
	return r, nil
}
