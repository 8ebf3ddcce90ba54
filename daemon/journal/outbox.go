package journal

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"stepgate/rules"
)

// Status says how far a message has come.
type Status string

// The statuses of a row. Sent, Rejected, Expired and TakenBack are final; a
// key whose row was taken back may be used again.
const (
	Pending   Status = "pending"   // to be handed over
	Handed    Status = "handed"    // about to be handed over, or was: no outcome yet
	Sent      Status = "sent"      // the carrier took it
	Rejected  Status = "rejected"  // the carrier never will
	Unknown   Status = "unknown"   // may or may not have been taken
	TakenBack Status = "withdrawn" // by a Withdrawn event, before hand-over
	Expired   Status = "expired"   // its time was over
)

// retry is a Result's status only: the row becomes Pending again.
const retry Status = "retry"

func (s Status) final() bool {
	return s == Sent || s == Rejected || s == Expired || s == TakenBack
}

// Row is a message in the outbox. What it says (Text, HTML, Subject, To) and the
// Decision and Next it comes with are in its Intended event alone: [Tx.Row] reads
// that too while the status is not final, [Tx.Progress] does not. Until, Rev and
// Rank go once the status is final, Decision, Next and NextDue with the first
// hand-over.
type Row struct {
	Out
	Enrollment string    `json:"enrollment,omitempty"` // empty: the clinic's
	Status     Status    `json:"status"`
	Tries      int       `json:"tries,omitempty"`     // hand-overs so far
	NotBefore  time.Time `json:"not_before,omitzero"` // zero: at once
	CarrierID  string    `json:"carrier_id,omitempty"`
	Code       string    `json:"code,omitempty"` // of the last outcome
	Seq        uint64    `json:"seq"`            // of the Intended event
	// SentAt is when the carrier took it, News what it said of it later and
	// NewsCode why not: for texts only.
	SentAt   time.Time `json:"sent_at,omitzero"`
	News     string    `json:"news,omitempty"`
	NewsCode string    `json:"news_code,omitempty"`
	// Day is the date that a daily message decided, once it is final.
	Day rules.Date `json:"day,omitzero"`
}

// row is a Row as the fold handles it, without what is in the letter.
type row struct {
	rawOut
	Enrollment string
	Status     Status
	Tries      int
	NotBefore  time.Time
	CarrierID  string
	Code       string
	Seq        uint64
	SentAt     time.Time
	News       string
	NewsCode   string
	Day        rules.Date
	Last       uint64 // newest event of the message; 0: the intent. See trail
}

// row returns a message by its key, or nil.
func (c *core) row(key string) (*row, error) {
	if c.lately.row != nil && c.lately.row.Key == key {
		again := *c.lately.row
		return &again, nil
	}
	r, err := c.rowOf(key)
	if r != nil {
		kept := *r
		c.lately.row = &kept
	}
	return r, err
}

func (c *core) rowOf(key string) (*row, error) {
	v := c.get(inKeys, turned(key))
	if v == nil {
		return nil, nil
	}
	if len(v) != 8 {
		return nil, fmt.Errorf("%w: index of message keys", ErrDamaged)
	}
	return c.rowAt(v)
}

// rowAt returns the message of an intent, by its number as a key.
func (c *core) rowAt(seq []byte) (*row, error) {
	v := c.get(inOutbox, seq)
	if v == nil || len(seq) != 8 {
		return nil, fmt.Errorf("%w: an index names a message that is not there", ErrDamaged)
	}
	return parseRow(binary.BigEndian.Uint64(seq), v)
}

// turned is a message key as the index has it: what follows the last slash goes
// first. That is the date of a daily one, so that those of a day lie together.
func turned(key string) []byte {
	at := strings.LastIndexByte(key, '/') + 1
	b := make([]byte, 0, len(key)+1)
	b = append(append(b, key[at:]...), 0)
	return append(b, key[:at]...)
}

// putRow writes a row. Where it is final, what it has for hand-overs alone ends.
func (f *fold) putRow(r *row) error {
	if r.Tries > 0 {
		r.NextDue = time.Time{}
	}
	if r.Status.final() {
		r.Until, r.NextDue, r.Rev, r.Rank = time.Time{}, time.Time{}, 0, 0
	}
	f.put(inOutbox, u64(r.Seq), r.marshal())
	return nil
}

func (f *fold) intended() error {
	out := f.body.Out
	switch {
	case out == nil || out.Key == "":
		return invalid("needs a message with a key")
	case len(out.Key) > maxKey || !utf8.ValidString(out.Key):
		return invalid("message key cannot be kept")
	case out.Next != nil && f.id == "":
		return invalid("a message of the clinic has no next state")
	case !out.NextDue.IsZero() && !inRange(out.NextDue):
		return invalid("next due instant is out of range")
	case !laneName(out.Channel) || !laneName(out.From):
		return invalid("channel or sender cannot be kept")
	case out.Rank < 0 || out.Rank > 255 || out.Segments < 0 || out.Segments > 65535:
		return invalid("rank or segments out of range")
	}
	old, err := f.c.row(out.Key)
	if err != nil {
		return err
	}
	if old != nil && (old.Status != TakenBack || old.Enrollment != f.id) {
		return fmt.Errorf("%w: message %q is %s", ErrKeyTaken, out.Key, old.Status)
	}
	r := &row{rawOut: *out, Enrollment: f.id, Status: Pending, Seq: f.seq}
	if err := f.waits(r); err != nil {
		return err
	}
	if err := f.mailed(out); err != nil {
		return err
	}
	if out.Kind == "daily" && f.id != "" && out.From != "" && out.From != f.now.From {
		f.now.From, f.change = out.From, true
	}
	f.put(inKeys, turned(out.Key), u64(f.seq))
	return f.putRow(r)
}

// its loads the row an event speaks of. Row and event must be of the same
// subject: erasing one subject must not leave half of a message's history.
func (f *fold) its() (*row, error) {
	r, err := f.c.row(f.body.Key)
	switch {
	case err != nil:
		return nil, err
	case r == nil:
		return nil, invalid("no message %q", f.body.Key)
	case r.Enrollment != f.id:
		return nil, invalid("message %q belongs to enrollment %q", f.body.Key, r.Enrollment)
	}
	if f.id != "" {
		f.link = cmp.Or(r.Last, r.Seq)
	}
	r.Last = f.seq
	return r, nil
}

// handedOut marks a message that is about to be handed over. With a daily
// message its decision becomes final: the state moves to Next and the due
// instant to NextDue. A decision made from another revision of the state than
// the present one is void and refused, whoever appends it: a report may have
// come in between.
func (f *fold) handedOut() error {
	r, err := f.its()
	if err != nil {
		return err
	}
	if r.Status != Pending {
		return invalid("message %q is %s, not pending", r.Key, r.Status)
	}
	f.del(inWaiting, waitKey(r))
	f.spend(r)
	r.Status = Handed
	r.Tries++
	if r.Tries == 1 {
		if err := f.takesEffect(r); err != nil {
			return err
		}
	}
	f.put(inHanded, u64(r.Seq), u64(f.seq))
	return f.putRow(r)
}

// takesEffect makes final what a message decides, at its first hand-over.
func (f *fold) takesEffect(r *row) error {
	d, err := f.c.letter(r.Seq, f.id)
	if err != nil {
		return err
	}
	if d.Next != nil {
		rev, err := f.now.rev()
		if err != nil {
			return err
		}
		if rev != r.Rev {
			return invalid("message %q was decided from revision %d of the state, now %d", r.Key, r.Rev, rev)
		}
		f.now.State, f.change = d.Next, true
		if !r.NextDue.IsZero() {
			if err := f.due(r.NextDue); err != nil {
				return err
			}
		}
	}
	return f.decidedBy(r, d, d.Next)
}

func (f *fold) withdrawn() error {
	r, err := f.its()
	if err != nil {
		return err
	}
	if r.Status != Pending {
		return invalid("message %q is %s, not pending", r.Key, r.Status)
	}
	f.del(inWaiting, waitKey(r))
	r.Status = TakenBack
	if err := f.fate(r, string(TakenBack)); err != nil {
		return err
	}
	return f.putRow(r)
}

// takenKey is of one length too: half of a seenKey is enough to tell messages
// apart. It ends with the number of the event, so that messages which a carrier
// gave the same id do not get in each other's way.
func takenKey(channel, id string, seq uint64) []byte {
	return binary.BigEndian.AppendUint64(takenPrefix(channel, id), seq)
}

func takenPrefix(channel, id string) []byte { return inSeenAt(seenKey(channel, id)) }

// maySettle tells which outcomes a row can have.
func maySettle(from, to Status) bool {
	switch from {
	case Pending:
		return to == Expired
	case Handed:
		return to == Sent || to == Rejected || to == Unknown || to == Expired || to == retry
	case Unknown: // somebody or something found out, or looked in vain
		return to == Sent || to == Rejected || to == Unknown || to == retry
	}
	return false
}

func (f *fold) settled() error {
	res := f.body.Result
	if res == nil {
		return invalid("needs a result")
	}
	r, err := f.its()
	if err != nil {
		return err
	}
	to := Status(res.Status)
	if !maySettle(r.Status, to) {
		return invalid("message %q is %s and cannot be settled as %q", r.Key, r.Status, to)
	}
	was := r.Status
	switch was {
	case Pending:
		f.del(inWaiting, waitKey(r))
	case Handed:
		f.del(inHanded, u64(r.Seq))
	case Unknown:
		if !r.NotBefore.IsZero() {
			f.del(inLookups, atKey(r.NotBefore, r.Seq))
		}
	}
	if was == Pending && r.Tries == 0 && to.final() && f.body.State != nil {
		// It was not handed over in time, and decided its date all the same.
		d, err := f.c.letter(r.Seq, f.id)
		if err == nil {
			err = f.decidedBy(r, d, f.body.State)
		}
		if err != nil {
			return err
		}
	}
	if err := f.fate(r, res.Status); err != nil {
		return err
	}
	r.Status, r.NotBefore, r.Code = to, time.Time{}, res.Code
	if res.ID != "" {
		r.CarrierID = res.ID
		f.put(inTaken, takenKey(r.Channel, res.ID, f.seq), u64(r.Seq))
	}
	if err := f.goesOn(r, to, res.Retry); err != nil {
		return err
	}
	return f.putRow(r)
}
