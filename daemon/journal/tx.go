package journal

import (
	"bytes"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	bolt "go.etcd.io/bbolt"

	"stepgate/rules"
)

// Tx is the journal inside one update or view. It must not be kept or used
// by another goroutine. What it returns is copied and may be kept. Functions
// handed to its iterators must not append.
type Tx struct {
	c        *core
	writable bool
	wrote    bool  // this update has changed something
	broken   error // a write failed halfway: the transaction must not commit
}

// core is what the updates of one bbolt transaction share. All that is cached
// lives and dies with the transaction, so that a rollback leaves nothing
// stale behind.
type core struct {
	btx      *bolt.Tx
	buckets  [bucketCount]*bolt.Bucket
	cursors  [bucketCount]*bolt.Cursor // for get
	subjects map[string]*subject
	head     head
	headRead bool
	dirty    bool               // head is to be written
	letters  map[uint64]*Letter // read before, by the intent; see Know
	replayed *core              // of the journal that is replayed into this one; nil: none
	lately   lately
	ops      []op    // of the event that is planned,
	sheet    sheet   // its days,
	out      jsonOut // buffers of what is being written,
	plain    jsonOut // and of the payload
}

// lately is what was read since something was written: whoever looks at a message,
// or a person, before appending an event of theirs need not have it read twice.
type lately struct {
	row    *row
	id     string
	person *person
}

func newCore(btx *bolt.Tx) *core {
	return &core{btx: btx, subjects: map[string]*subject{}}
}

// in returns a bucket.
func (c *core) in(id bucketID) *bolt.Bucket {
	if c.buckets[id] == nil {
		b := c.btx.Bucket(bucketNames[id])
		switch id {
		case inEvents, inWatched:
			b.FillPercent = 0.95 // keys only ever grow, so pages need no room for more
		case inOutbox:
			b.FillPercent = 0.75 // these too, but rows get longer
		}
		c.buckets[id] = b
	}
	return c.buckets[id]
}

// get returns the value of a key, or nil. It does what the bucket's Get does, but
// that makes a cursor each time: several allocations, and there are a dozen reads
// to an event.
func (c *core) get(in bucketID, key []byte) []byte {
	if c.cursors[in] == nil {
		c.cursors[in] = c.in(in).Cursor()
	}
	k, v := c.cursors[in].Seek(key)
	if !bytes.Equal(k, key) {
		return nil
	}
	return v
}

func (c *core) readHead() (head, error) {
	if c.headRead {
		return c.head, nil
	}
	h, err := parseHead(c.get(inMeta, keyHead))
	if err != nil {
		return head{}, err
	}
	c.head, c.headRead = h, true
	return h, nil
}

// flush writes what is written once a transaction only.
func (c *core) flush() error {
	if !c.dirty {
		return nil
	}
	c.dirty = false
	if err := c.in(inMeta).Put(keyHead, c.head.marshal()); err != nil {
		return fmt.Errorf("write head: %w", err)
	}
	return nil
}

// subject returns whom an id stands for, or nil. The empty id is the clinic.
func (c *core) subject(id string) (*subject, error) {
	if id == "" {
		id = keyClinic
	}
	if s, ok := c.subjects[id]; ok {
		return s, nil
	}
	v := c.get(inSubjects, []byte(id))
	if v == nil && id == keyClinic {
		return nil, errNoClinic
	}
	if v == nil {
		return nil, nil
	}
	s, err := parseSubject(v)
	if err != nil {
		return nil, err
	}
	c.subjects[id] = s
	return s, nil
}

// Append checks that the event fits what went before, writes it and applies
// it. An event that does not fit is refused with [ErrInvalid] or
// [ErrKeyTaken], and nothing of it is written. It returns the event's number,
// counting from 1; Event.Seq is not looked at. Event.At is the caller's and
// must be set.
//
// An event with State sets the person's state, one with Due the due instant
// (nil leaves it, the zero time ends it); whoever is gone is never due. State
// and Due need an enrollment, and one that was enrolled. Besides that:
//
//	Accepted   Files are the last accepted ones; each was given to PutFile. Clinic only.
//	Enrolled   makes the person, or takes a gone one back; needs State.
//	Removed    the person is gone and not due.
//	Intended   Out waits as a Pending row; ErrKeyTaken unless the key is new or its row was withdrawn.
//	HandedOut  Key: Pending to Handed, one try more; Next and NextDue of the row take effect.
//	           Refused if the state's revision is not the row's Rev.
//	Withdrawn  Key: Pending to TakenBack.
//	Settled    Key: Handed to what Result says; "retry" is Pending again from Result.Retry on.
//	           Pending may expire. Unknown may become sent, rejected or retry later.
//	Heard      marks In's channel and id as seen; ErrKeyTaken if they were.
//	Opted      sets or clears the opt-out of Contact. Clinic only.
//	Delivery   Key: news of a message that was sent; refused if it says no more than is known.
//	Rerouted   sets or clears the contact at which nothing arrives.
//	Polled     Channel was read up to Point. Clinic only.
//	Alerted    Alert waits for its Due; ErrKeyTaken if its key was used.
//	Acked      Alerts need no more telling. Clinic only.
//
// Erased and Pruned come of Erase and PruneFiles alone.
//
// Events about a message have the same ID as its Intended event.
func (tx *Tx) Append(e Event) (uint64, error) {
	var seq uint64
	var err error
	if e.Kind == Erased || e.Kind == Pruned {
		err = invalid("not to be appended by itself")
	} else {
		seq, err = tx.append(&e)
	}
	if err != nil {
		return 0, fmt.Errorf("append %s for %q: %w", e.Kind, e.ID, err)
	}
	return seq, nil
}

func (tx *Tx) append(e *Event) (uint64, error) {
	if !tx.writable {
		return 0, errReadOnly
	}
	if tx.broken != nil {
		return 0, tx.broken
	}
	if err := checkEvent(e); err != nil {
		return 0, err
	}
	h, err := tx.c.readHead()
	if err != nil {
		return 0, err
	}
	packed, body, err := tx.c.payload(e)
	if err != nil {
		return 0, err
	}
	if e.Kind == Accepted {
		if err := tx.haveFiles(e.Files); err != nil {
			return 0, err
		}
	}
	r := record{version: recordVersion, seq: h.seq + 1, at: e.At.UnixNano(), kind: e.Kind, engine: rules.Engine}
	en := &entry{seq: r.seq, at: r.time(), kind: e.Kind, id: e.ID, body: body}
	ops, err := tx.c.plan(en)
	if err != nil {
		return 0, err
	}
	r.link = en.link
	sub, err := tx.c.subject(e.ID)
	if err == nil && sub == nil { // only Enrolled gets here for someone new
		sub, err = newSubject()
	}
	if err != nil {
		return 0, err
	}

	// Every check has passed. From here on a failure spoils the transaction.
	tx.wrote = true
	if err := tx.c.put(sub, &r, e.ID, packed, ops); err != nil {
		tx.broken = fmt.Errorf("write event %d: %w", r.seq, err)
		return 0, tx.broken
	}
	return r.seq, nil
}

// checkEvent refuses what the file could not hold.
func checkEvent(e *Event) error {
	switch {
	case !e.Kind.known():
		return fmt.Errorf("%w: no such kind of event", ErrInvalid)
	case !inRange(e.At):
		return fmt.Errorf("%w: time of the event is not set or out of range", ErrInvalid)
	case strings.ContainsRune(e.ID, 0) || !utf8.ValidString(e.ID) || len(e.ID) > maxKey:
		return fmt.Errorf("%w: enrollment id cannot be kept", ErrInvalid)
	}
	return nil
}

// inRange tells whether an index can hold a time: nanoseconds since 1970 in
// 63 bits, less a day for rounding.
func inRange(t time.Time) bool { return t.Unix() > 0 && t.Unix() < 1<<33 }

// inUTC returns the event with its times in UTC, without touching what its
// pointers show to.
func inUTC(e Event) Event {
	if e.Due != nil {
		due := e.Due.UTC()
		e.Due = &due
	}
	if e.Out != nil {
		out := *e.Out
		out.Made, out.Until, out.NextDue, out.Again = out.Made.UTC(), out.Until.UTC(), out.NextDue.UTC(), out.Again.UTC()
		e.Out = &out
	}
	if e.Alert != nil {
		a := *e.Alert
		a.Due = a.Due.UTC()
		e.Alert = &a
	}
	if e.Erasure != nil {
		er := *e.Erasure
		er.At = er.At.UTC()
		e.Erasure = &er
	}
	if e.Result != nil {
		res := *e.Result
		res.Retry = res.Retry.UTC()
		e.Result = &res
	}
	if e.In != nil {
		in := *e.In
		in.Came = in.Came.UTC()
		e.In = &in
	}
	return e
}

// put writes one event and what follows from it.
func (c *core) put(sub *subject, r *record, id string, packed []byte, ops []op) error {
	if sub.fresh != nil {
		if err := c.in(inSubjects).Put([]byte(id), sub.fresh); err != nil {
			return err
		}
		sub.fresh = nil
		c.subjects[id] = sub
	}
	r.sid = sub.sid
	stored := sub.seal(r, packed)
	key, rec := u64(r.seq), r.marshal()
	if err := c.in(inEvents).Put(key, append(rec, stored...)); err != nil {
		return err
	}
	if id == "" {
		if err := c.in(inBySubject).Put(lineOf(sub.sid, key), []byte{}); err != nil {
			return err
		}
	}
	c.head, c.headRead, c.dirty = head{seq: r.seq, at: r.at, hash: r.hash(c.head.hash, rec)}, true, true
	return c.apply(ops)
}

// apply carries out what was planned.
func (c *core) apply(ops []op) error {
	c.lately = lately{}
	for _, o := range ops {
		var err error
		if o.value == nil {
			err = c.in(o.in).Delete(o.key)
		} else {
			err = c.in(o.in).Put(o.key, o.value)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// LastSeq is the number of the newest event; 0: there is none.
func (tx *Tx) LastSeq() uint64 {
	h, _ := tx.c.readHead() // a spoiled head is told by Append and Verify
	return h.seq
}

// LastAt is the time of the newest event; zero: there is none. Clocks are set
// back, so an older event may have a later time.
func (tx *Tx) LastAt() time.Time {
	h, _ := tx.c.readHead()
	if h.seq == 0 {
		return time.Time{}
	}
	return time.Unix(0, h.at).UTC()
}
