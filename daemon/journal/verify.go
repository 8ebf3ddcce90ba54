package journal

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	bolt "go.etcd.io/bbolt"
)

// Report counts what Verify went through.
type Report struct {
	Format   int `json:"format"`   // version of the file; an older one is upgraded once it is opened
	Events   int `json:"events"`   // in the chain
	Subjects int `json:"subjects"` // whose key is there, the clinic being one
	Erased   int `json:"erased"`   // events whose subject was erased, so that they stay unread
	Pruned   int `json:"pruned"`   // accepted sets that were let go of
	Files    int `json:"files"`    // kept files
}

// replayBatch is how many events a replay into a temporary file holds in
// memory before it commits.
const replayBatch = 5000

// Verify reads the whole journal as it is now: the chain of the records, the
// hash of every payload, the decryption of every payload whose key is there,
// the index by subject, the kept files. Then it replays the events into a
// temporary file beside the journal and compares what is derived byte for
// byte. Updates go on meanwhile, except that one for which bbolt has to map a
// longer file waits until Verify is done. What it finds wrong is [ErrDamaged].
func (j *Journal) Verify() (rep Report, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("verify journal: %w", err)
		}
	}()
	defer caught(&err)()
	err = j.View(func(tx *Tx) error { return tx.c.verify(&rep, filepath.Dir(j.path)) })
	return rep, err
}

// verify is Verify in one transaction; dir is where to replay. An older format
// has other things derived, which are not compared.
func (c *core) verify(rep *Report, dir string) (err error) {
	rep.Format = int(formatOf(c.btx))
	fresh, err := c.newReplay(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, fresh.close()) }()
	if err := c.walk(rep, fresh.apply); err != nil {
		return err
	}
	if err := c.checkFiles(rep); err != nil {
		return err
	}
	for id := firstDerived; id < bucketCount && rep.Format == formatVersion; id++ {
		if err := same(id, c.in(id), fresh.c.in(id)); err != nil {
			return err
		}
	}
	return nil
}

// Rebuild drops everything derived and replays the events, in one commit. It
// holds all that is derived in memory while it runs.
func (j *Journal) Rebuild() error {
	err := j.Update(context.Background(), func(tx *Tx) error {
		tx.wrote = true
		return tx.c.rebuild(filepath.Dir(j.path))
	})
	if err != nil {
		return fmt.Errorf("rebuild journal: %w", err)
	}
	return nil
}

// rebuild replays the events into a temporary file in a folder, in many small
// commits, and then takes over what came of it in the order of the keys. In one
// transaction bbolt splits no page before the commit, so that to replay into
// this one would take time by the square of the events.
func (c *core) rebuild(dir string) (err error) {
	fresh, err := c.newReplay(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, fresh.close()) }()
	if err := c.walk(&Report{}, fresh.apply); err != nil {
		return err
	}
	for _, name := range append(bucketNames[firstDerived:], draftsUntil4) {
		if c.btx.Bucket(name) != nil {
			if err := c.btx.DeleteBucket(name); err != nil {
				return err
			}
		}
	}
	c.lately = lately{}
	for id := firstDerived; id < bucketCount; id++ {
		to, err := c.btx.CreateBucket(bucketNames[id])
		if err != nil {
			return err
		}
		c.buckets[id], c.cursors[id] = nil, nil
		cur := fresh.c.in(id).Cursor()
		for k, v := cur.First(); k != nil; k, v = cur.Next() {
			if err := to.Put(k, append([]byte{}, v...)); err != nil { // the key is copied by Put
				return err
			}
		}
	}
	return nil
}

// replay applies an event that is in the journal already.
func (c *core) replay(e *entry) error {
	link := e.link
	ops, err := c.plan(e)
	if err != nil {
		return fmt.Errorf("%w: event %d (%s) does not replay: %w", ErrDamaged, e.seq, e.kind, err)
	}
	if link != e.link && e.threaded {
		return fmt.Errorf("%w: event %d is on another thread than it should be", ErrDamaged, e.seq)
	}
	return c.apply(ops)
}

// walk goes through the chain from the first event to the head, checks all of
// it, and calls fn with every event that can be read.
func (c *core) walk(rep *Report, fn func(*entry) error) error {
	who, err := c.everyone()
	if err != nil {
		return err
	}
	rep.Subjects = len(who.subjects)
	for sid, id := range who.ids {
		c.subjects[cmp.Or(id, keyClinic)] = who.subjects[sid] // for letters: they need not be made twice
	}
	end, err := c.readHead()
	if err != nil {
		return err
	}
	var at head                   // the event before
	gone, lines := newAbsent(), 0 // of the index by subject
	cur := c.in(inEvents).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		r, rec, plain, err := c.link(at, k, who)
		if err != nil {
			return err
		}
		at = head{seq: r.seq, at: r.at, hash: r.hash(at.hash, rec)}
		rep.Events++
		if id, known := who.ids[r.sid]; r.inIndex(known && id == "") {
			lines++
		}
		if plain == nil {
			gone.unread(&r, who.subject(r.sid) != nil)
			continue
		}
		b, err := parseBody(plain)
		if err != nil {
			return err
		}
		e := &entry{seq: r.seq, at: r.time(), kind: r.kind, id: who.ids[r.sid], link: r.link, threaded: r.version > 1, body: b}
		if err := gone.event(c, e); err != nil {
			return err
		}
		if err := fn(e); err != nil {
			return err
		}
	}
	rep.Pruned = len(gone.sets)
	rep.Erased = gone.events
	if err := gone.check(who); err != nil {
		return err
	}
	if at != end {
		return fmt.Errorf("%w: the chain ends at event %d, the head says %d or another hash", ErrDamaged, at.seq, end.seq)
	}
	return c.checkStrays(lines)
}

// link checks one event against the one before and returns its payload, nil
// if it has none; whether it may have none is for the end of the walk.
func (c *core) link(before head, key []byte, who *everyone) (r record, rec, plain []byte, err error) {
	r, rec, stored, err := c.event(key)
	want := before.seq + 1
	switch {
	case err != nil:
		return r, nil, nil, fmt.Errorf("event %d: %w", want, err)
	case !bytes.Equal(key, u64(want)) || r.seq != want:
		return r, nil, nil, fmt.Errorf("%w: event %d is missing or out of place", ErrDamaged, want)
	case r.version == 1 && r.prev != before.hash:
		return r, nil, nil, fmt.Errorf("%w: event %d does not follow from the one before", ErrDamaged, want)
	case !r.kind.known():
		return r, nil, nil, fmt.Errorf("%w: event %d is of a kind this program does not know", ErrFormat, want)
	}
	id, known := who.ids[r.sid]
	line := lineOf(r.sid, key)
	if k, _ := c.in(inBySubject).Cursor().Seek(line); r.inIndex(known && id == "") && !bytes.Equal(k, line) {
		return r, nil, nil, fmt.Errorf("%w: event %d is missing in the index by subject", ErrDamaged, want)
	}
	sub := who.subject(r.sid)
	if stored == nil && sub == nil || sub != nil && mayLack(&r, stored) {
		return r, rec, nil, nil
	}
	if hashOf(stored) != r.payload {
		return r, nil, nil, fmt.Errorf("%w: payload of event %d is missing or changed", ErrDamaged, want)
	}
	if sub == nil {
		return r, nil, nil, fmt.Errorf("%w: the key of event %d is missing", ErrDamaged, want)
	}
	plain, err = sub.open(&r, stored)
	return r, rec, plain, err
}

// checkStrays finds payloads and index lines without an event; every event
// has been found to have its own.
func (c *core) checkStrays(want int) error {
	lines := 0
	cur := c.in(inBySubject).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		lines++
	}
	if lines != want {
		return fmt.Errorf("%w: the index by subject has %d lines and should have %d", ErrDamaged, lines, want)
	}
	cur = c.in(inPayloads).Cursor()
	for k, _ := cur.First(); k != nil; k, _ = cur.Next() {
		if v := c.get(inEvents, k); len(v) == 0 || v[0] != 1 {
			return fmt.Errorf("%w: a payload belongs to no event", ErrDamaged)
		}
	}
	return nil
}

func (c *core) checkFiles(rep *Report) error {
	cur := c.in(inFiles).Cursor()
	for k, v := cur.First(); k != nil; k, v = cur.Next() {
		if h := hashOf(v); !bytes.Equal(k, h[:]) {
			return fmt.Errorf("%w: content of kept file %x does not match", ErrDamaged, k)
		}
		rep.Files++
	}
	return nil
}

// same compares two derived buckets byte for byte.
func same(id bucketID, stored, fresh *bolt.Bucket) error {
	a, b := stored.Cursor(), fresh.Cursor()
	ak, av := a.First()
	bk, bv := b.First()
	for ak != nil || bk != nil {
		if !bytes.Equal(ak, bk) || !bytes.Equal(av, bv) {
			return fmt.Errorf("%w: bucket %s is not what the events give", ErrDamaged, bucketNames[id])
		}
		ak, av = a.Next()
		bk, bv = b.Next()
	}
	return nil
}

// replayFile is a temporary database that the events of a journal are replayed
// into.
type replayFile struct {
	of  *core
	db  *bolt.DB
	btx *bolt.Tx
	c   *core
	n   int // events since the last commit
}

// newReplay makes the file in a folder, which guards it as well as it guards
// the journal. Its name is taken away at once where the system allows.
func (c *core) newReplay(dir string) (*replayFile, error) {
	f, err := os.CreateTemp(dir, ".verify-*")
	if err != nil {
		return nil, fmt.Errorf("make replay file: %w", err)
	}
	path := f.Name()
	defer func() { _ = os.Remove(path) }() // so that even a kill leaves nothing behind
	if err := f.Close(); err != nil {
		return nil, fmt.Errorf("make replay file: %w", err)
	}
	db, err := bolt.Open(path, 0o600, &bolt.Options{NoSync: true, NoFreelistSync: true, FreelistType: bolt.FreelistMapType})
	if err != nil {
		return nil, fmt.Errorf("make replay file: %w", err)
	}
	r := &replayFile{of: c, db: db}
	if err := r.begin(); err != nil {
		return nil, errors.Join(err, r.close())
	}
	for id := firstDerived; id < bucketCount; id++ {
		if _, err := r.btx.CreateBucket(bucketNames[id]); err != nil {
			return nil, errors.Join(fmt.Errorf("make replay file: %w", err), r.close())
		}
	}
	return r, nil
}

func (r *replayFile) begin() error {
	btx, err := r.db.Begin(true)
	if err != nil {
		return fmt.Errorf("replay: %w", err)
	}
	r.btx, r.c, r.n = btx, newCore(btx), 0
	r.c.replayed = r.of
	return nil
}

func (r *replayFile) apply(e *entry) error {
	if r.n == replayBatch {
		if err := r.btx.Commit(); err != nil {
			return fmt.Errorf("replay: %w", err)
		}
		if err := r.begin(); err != nil {
			return err
		}
	}
	r.n++
	return r.c.replay(e)
}

func (r *replayFile) close() error {
	if r.btx != nil {
		_ = r.btx.Rollback() // fails only if it is closed already
	}
	return r.db.Close()
}
