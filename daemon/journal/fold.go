package journal

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"stepgate/rules"
)

// entry is an event as the fold sees it, new or replayed.
type entry struct {
	seq  uint64
	at   time.Time
	kind Kind
	id   string
	link uint64 // the event before on its thread, see trail; plan finds it
	// threaded: it was written with its link, so that is the one to be found.
	threaded bool
	body     body
}

// body is a payload as far as the fold needs it. What the rules say is kept
// as the bytes that were written: a later version of the rules, with other
// fields, must replay to the same bytes.
type body struct {
	Files    []FileRef       `json:"files"`
	State    json.RawMessage `json:"state"`
	Due      *time.Time      `json:"due"`
	Out      *rawOut         `json:"out"`
	Key      string          `json:"key"`
	Result   *Result         `json:"result"`
	Contact  []byte          `json:"contact"`
	OptOut   bool            `json:"opt_out"`
	Channel  string          `json:"channel"`
	Point    time.Time       `json:"point"`
	Alerts   []uint64        `json:"alerts"`
	By       string          `json:"by"`
	Erasure  *Erasure        `json:"erasure"`
	Sets     []uint64        `json:"sets"`
	Why      string          `json:"why"`
	Alert    *alertBody      `json:"alert"`
	Decision json.RawMessage `json:"decision"`
	Entry    *entryBody      `json:"entry"`
	Incoming *incoming       `json:"in"`
}

// incoming is an In as far as the fold needs it.
type incoming struct {
	Channel string     `json:"channel"`
	ID      string     `json:"id"`
	Day     rules.Date `json:"day"`
	Reading said       `json:"reading"`
}

// rawOut is an Out whose decision and next state are kept as bytes; its own
// two fields go before those of Out with the same names.
type rawOut struct {
	Out
	Decision json.RawMessage `json:"decision,omitempty"`
	Next     json.RawMessage `json:"next,omitempty"`
}

func parseBody(plain []byte) (body, error) {
	var b body
	if err := json.Unmarshal(plain, &b); err != nil {
		return b, fmt.Errorf("%w: read payload: %w", ErrDamaged, err)
	}
	b.State, b.Decision = closeUp(b.State), closeUp(b.Decision)
	if b.Out != nil {
		b.Out.Decision, b.Out.Next = closeUp(b.Out.Decision), closeUp(b.Out.Next)
	}
	return b, nil
}

// op is one change of something derived; no value: delete.
type op struct {
	in         bucketID
	key, value []byte
}

// fold works out what one event changes. It reads what is derived so far and
// writes nothing.
type fold struct {
	*entry
	c      *core
	ops    []op
	was    *person // as stored; nil: never enrolled
	now    person  // as it will be
	change bool    // now is to be written
	link   uint64  // the event before on the same thread; see trail
	sheet  *sheet  // the last that day changed
}

// plan checks that an event fits and returns the changes that follow from it:
// they are good until the next plan. Live events and replayed ones both come
// through here.
func (c *core) plan(e *entry) ([]op, error) {
	f := &fold{entry: e, c: c, ops: c.ops[:0]}
	if err := f.who(); err != nil {
		return nil, err
	}
	if err := f.byKind(); err != nil {
		return nil, err
	}
	if err := f.general(); err != nil {
		return nil, err
	}
	e.link, c.ops = f.link, f.ops
	return f.ops, nil
}

func invalid(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrInvalid, fmt.Sprintf(format, args...))
}

func (f *fold) put(in bucketID, key, value []byte) { f.ops = append(f.ops, op{in, key, value}) }
func (f *fold) del(in bucketID, key []byte)        { f.ops = append(f.ops, op{in, key, nil}) }

// who loads the person and checks that the kind is one for them, or for the
// clinic.
func (f *fold) who() error {
	if f.id == "" {
		switch f.kind {
		case Enrolled, Revised, Removed, Decided, Skipped, Rerouted:
			return invalid("needs an enrollment")
		}
		if f.body.State != nil || f.body.Due != nil {
			return invalid("the clinic has no state and is never due")
		}
		return nil
	}
	switch f.kind {
	case Accepted, Opted, Polled, Acked, Erased, Pruned:
		return invalid("belongs to the clinic: leave the id empty")
	}
	if f.aside() {
		if f.c.get(inPeople, []byte(f.id)) == nil {
			return invalid("never enrolled")
		}
		return nil
	}
	p, err := f.c.person(f.id)
	if err != nil {
		return err
	}
	if p == nil && f.kind != Enrolled {
		return invalid("never enrolled")
	}
	if p != nil {
		f.was, f.now = p, *p
	}
	if !f.kind.ofMessage() {
		f.link, f.now.Last, f.change = f.now.Last, f.seq, true
	}
	return nil
}

// aside tells whether the event leaves the person as they are, so that they
// need not be read.
func (f *fold) aside() bool {
	switch f.kind {
	case Settled, Delivery:
		return f.body.State == nil && f.body.Due == nil
	}
	return false
}

// byKind applies what is special about each kind.
func (f *fold) byKind() error {
	switch f.kind {
	case Accepted:
		return f.accepted()
	case Enrolled:
		switch {
		case f.body.State == nil:
			return invalid("needs a state")
		case f.was != nil && !f.was.Gone:
			return invalid("is enrolled already")
		case f.was == nil:
			f.now.Since = f.at
		}
		f.now.Gone = false
	case Decided:
		return f.decided()
	case Revised:
		return f.corrects(f.body.Entry)
	case Removed:
		if f.was.Gone {
			return invalid("is gone already")
		}
		f.now.Gone, f.change = true, true
	case Intended:
		return f.intended()
	case HandedOut:
		return f.handedOut()
	case Withdrawn:
		return f.withdrawn()
	case Settled:
		return f.settled()
	case Heard:
		return f.heard()
	case Opted:
		return f.opted()
	case Delivery:
		return f.delivery()
	case Rerouted:
		f.now.Dead, f.change = f.body.Contact, true
	case Polled:
		return f.polled()
	case Alerted:
		return f.alerted()
	case Acked:
		return f.acked()
	case Erased:
		return f.erased()
	case Pruned:
		return f.pruned()
	}
	return nil
}

// general applies what any kind may carry: a state and a due instant. An
// event's own due instant goes before a message's NextDue. Whoever is gone is
// never due, whatever the event says.
func (f *fold) general() error {
	if f.body.State != nil {
		f.now.State, f.change = f.body.State, true
	}
	if f.body.Due != nil {
		if err := f.due(*f.body.Due); err != nil {
			return err
		}
	}
	if f.now.Gone {
		f.now.Due = time.Time{}
	}
	if !f.change {
		return nil
	}
	v, err := f.c.personJSON(&f.now)
	if err != nil {
		return fmt.Errorf("write person: %w", err)
	}
	f.put(inPeople, []byte(f.id), v)
	if f.was != nil && f.was.Due.Equal(f.now.Due) {
		return nil
	}
	if f.was != nil && !f.was.Due.IsZero() {
		f.del(inDue, dueKey(f.was.Due, f.id))
	}
	if !f.now.Due.IsZero() {
		f.put(inDue, dueKey(f.now.Due, f.id), []byte{})
	}
	return nil
}

// due sets the due instant. The index holds whole seconds; a part of one is
// rounded up, so that nobody is due early.
func (f *fold) due(at time.Time) error {
	f.change = true
	if at.IsZero() {
		f.now.Due = time.Time{}
		return nil
	}
	if !inRange(at) {
		return invalid("due instant is out of range")
	}
	whole := at.UTC().Truncate(time.Second)
	if whole.Before(at) {
		whole = whole.Add(time.Second)
	}
	f.now.Due = whole
	return nil
}

// fileSet is what the accepted bucket holds.
type fileSet struct {
	At    time.Time `json:"at"`
	Files []FileRef `json:"files"`
}

func (f *fold) accepted() error {
	if len(f.body.Files) == 0 {
		return invalid("needs files")
	}
	v, err := toJSON(fileSet{At: f.at, Files: f.body.Files})
	if err != nil {
		return fmt.Errorf("write file set: %w", err)
	}
	f.put(inAccepted, keyAccepted, v)
	return nil
}

// seenKey is of one length for any id a carrier or a mail may bring.
func seenKey(channel, id string) []byte {
	b := make([]byte, 0, 128)
	b = append(append(append(b, channel...), 0), id...)
	sum := sha256.Sum256(b)
	return sum[:]
}

// inSeenAt is where a seenKey is in the index: half of it is enough to tell
// messages apart.
func inSeenAt(key []byte) []byte { return key[:16:16] }

func (f *fold) heard() error {
	in := f.body.Incoming
	if in == nil || in.Channel == "" || in.ID == "" || strings.ContainsRune(in.Channel, 0) {
		return invalid("needs an incoming message with channel and id")
	}
	key := seenKey(in.Channel, in.ID)
	if f.c.get(inSeen, inSeenAt(key)) != nil {
		return fmt.Errorf("%w: incoming %s message was heard before", ErrKeyTaken, in.Channel)
	}
	f.put(inSeen, inSeenAt(key), u64(f.seq))
	return f.reported(in.Day, &in.Reading)
}

func (f *fold) decided() error {
	if len(f.body.Decision) == 0 {
		return nil
	}
	dec, err := parseDecision(f.body.Decision)
	if err != nil {
		return err
	}
	return f.settles(dec, f.body.State)
}

func (f *fold) opted() error {
	if n := len(f.body.Contact); n == 0 || n > maxKey {
		return invalid("needs the hash of a contact")
	}
	if f.body.OptOut {
		f.put(inOptOut, f.body.Contact, u64(f.seq))
	} else {
		f.del(inOptOut, f.body.Contact)
	}
	return nil
}
