package journal

import (
	"encoding/hex"
	"fmt"
	"slices"
	"time"
)

// acceptedSet is an Accepted event that can still be read.
type acceptedSet struct {
	seq   uint64
	files []FileRef
}

// PruneFiles lets go of files about people that the clinic no longer has: of
// the content of those for whose path people is true and that are not in the
// newest accepted set, and of every older set that names one, as a path may
// name somebody too. Everything else those sets named, programs and their
// approvals, stays and is named by the Pruned event, if the newest set does not name it. It returns how many
// contents went. With nothing to let go of it writes nothing.
//
// The freed pages of the file keep the old bytes until [Compact].
func (tx *Tx) PruneFiles(at time.Time, people func(path string) bool) (int, error) {
	n, err := tx.pruneFiles(at, people)
	if err != nil {
		return 0, fmt.Errorf("prune files: %w", err)
	}
	return n, nil
}

func (tx *Tx) pruneFiles(at time.Time, people func(path string) bool) (int, error) {
	if !tx.writable {
		return 0, errReadOnly
	}
	sets, kept, err := tx.c.acceptedSets()
	if err != nil || len(sets) == 0 {
		return 0, err
	}
	last := sets[len(sets)-1].files
	keep, drop := map[string]bool{}, map[string]bool{}
	for _, f := range append(slices.Clone(last), kept...) {
		keep[f.Hash] = true
	}
	e := Event{Kind: Pruned, At: at}
	var ops []op
	for _, s := range sets[:len(sets)-1] {
		old := func(f FileRef) bool { return people(f.Path) && !slices.Contains(last, f) }
		goes := slices.ContainsFunc(s.files, old)
		for _, f := range s.files {
			if goes && people(f.Path) {
				drop[f.Hash] = true
				continue
			}
			keep[f.Hash] = true
			if goes && !slices.Contains(slices.Concat(last, kept, e.Files), f) {
				e.Files = append(e.Files, f)
			}
		}
		if goes {
			e.Sets = append(e.Sets, s.seq)
			gone, err := tx.c.bare(u64(s.seq))
			if err != nil {
				return 0, err
			}
			ops = append(ops, gone)
		}
	}
	if len(e.Sets) == 0 {
		return 0, nil
	}
	n := 0
	for hash := range drop {
		key, err := hex.DecodeString(hash)
		if err != nil {
			return 0, fmt.Errorf("%w: hash of a file: %w", ErrDamaged, err)
		}
		if !keep[hash] && tx.c.get(inFiles, key) != nil {
			ops = append(ops, op{inFiles, key, nil})
			n++
		}
	}
	if _, err := tx.append(&e); err != nil {
		return 0, err
	}
	return n, tx.destroy(ops)
}

// acceptedSets returns the accepted sets in order, and what was kept of those
// that went. It decrypts no other event.
func (c *core) acceptedSets() (sets []acceptedSet, kept []FileRef, err error) {
	clinic, err := c.subject("")
	if err != nil {
		return nil, nil, err
	}
	seqs, err := c.trail("", clinic)
	if err != nil {
		return nil, nil, err
	}
	for _, seq := range seqs {
		key := u64(seq)
		r, _, _, err := c.event(key)
		if err != nil {
			return nil, nil, err
		}
		if r.kind != Accepted && r.kind != Pruned {
			continue
		}
		_, plain, err := c.read(key, func([sidSize]byte) *subject { return clinic })
		if err != nil {
			return nil, nil, err
		}
		if plain == nil {
			continue
		}
		b, err := parseBody(plain)
		switch {
		case err != nil:
			return nil, nil, err
		case r.kind == Pruned:
			kept = append(kept, b.Files...)
		default:
			sets = append(sets, acceptedSet{r.seq, b.Files})
		}
	}
	return sets, kept, nil
}

// pruned has nothing to derive: the newest set is never among those that went.
// Whether there is one cannot be asked here: a later Pruned event may have let
// go of it before a replay.
func (f *fold) pruned() error {
	if len(f.body.Sets) == 0 {
		return invalid("needs sets")
	}
	return nil
}

// absent collects in a walk what may be absent, and in the end tells whether
// all of it was let go of by an event, and all that was let go of is absent.
type absent struct {
	events   int                      // of those subjects
	subjects map[[sidSize]byte]uint64 // with an event of theirs
	sets     map[uint64]bool
	erased   map[[sidSize]byte]bool
	pruned   map[uint64]bool
}

func newAbsent() *absent {
	return &absent{subjects: map[[sidSize]byte]uint64{}, sets: map[uint64]bool{},
		erased: map[[sidSize]byte]bool{}, pruned: map[uint64]bool{}}
}

// unread notes an event without a payload.
func (a *absent) unread(r *record, known bool) {
	if known {
		a.sets[r.seq] = true
	} else {
		a.subjects[r.sid] = r.seq
		a.events++
	}
}

// event notes what an event let go of, and that the files it names are there.
func (a *absent) event(c *core, e *entry) error {
	switch e.kind {
	case Erased:
		if e.body.Erasure.sound() {
			a.erased[[sidSize]byte(e.body.Erasure.Subject)] = true
		}
	case Pruned:
		for _, seq := range e.body.Sets {
			a.pruned[seq] = true
		}
	}
	if e.kind != Pruned && e.kind != Accepted {
		return nil
	}
	for _, f := range e.body.Files {
		if key, err := hex.DecodeString(f.Hash); err != nil || c.get(inFiles, key) == nil {
			return fmt.Errorf("%w: event %d names a file that is not kept", ErrDamaged, e.seq)
		}
	}
	return nil
}

func (a *absent) check(who *everyone) error {
	for sid, seq := range a.subjects {
		if !a.erased[sid] {
			return fmt.Errorf("%w: the key of event %d is missing and was not erased", ErrDamaged, seq)
		}
	}
	for sid := range a.erased {
		if who.subjects[sid] != nil {
			return fmt.Errorf("%w: the key of somebody who was erased is there", ErrDamaged)
		}
	}
	for seq := range a.sets {
		if !a.pruned[seq] {
			return fmt.Errorf("%w: payload of event %d is missing", ErrDamaged, seq)
		}
	}
	for seq := range a.pruned {
		if !a.sets[seq] {
			return fmt.Errorf("%w: payload of event %d was let go of and is there", ErrDamaged, seq)
		}
	}
	return nil
}

// mayLack tells whether an event of a subject whose key is there may have lost
// its payload to PruneFiles.
func mayLack(r *record, stored []byte) bool { return stored == nil && r.kind == Accepted }
