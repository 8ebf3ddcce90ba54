package daemon

import (
	"hash/maphash"
	"time"

	"stepgate/config"
)

// contacts find the enrollment that a contact belongs to. They are a table of
// places in the list of all, by hash: a tenth of what a map takes, which keeps
// every contact a second time.
type contacts struct {
	seed  maphash.Seed
	all   []*config.Enrollment
	slots []uint64 // the upper half of the hash, and the place from 1; 0: free. A power of two of them
}

// contactAt is a contact as it writes to one of our numbers; with no number, to
// any.
type contactAt struct {
	config.Address
	number string
}

// has tells whether an enrollment is reached at a contact.
func (at contactAt) has(e *config.Enrollment) bool {
	if at.Address == e.Address && (at.number == "" || at.number == e.Sender) {
		return true
	}
	return at.number == "" && at.To != "" && at.Address == e.Fallback
}

// contactsOf are those of an enrollment, each as it may write to us.
func contactsOf(e *config.Enrollment) [3]contactAt {
	out := [3]contactAt{{e.Address, ""}}
	if e.Sender != "" {
		out[1] = contactAt{e.Address, e.Sender}
	}
	if e.Fallback.To != "" {
		out[2] = contactAt{e.Fallback, ""}
	}
	return out
}

func newContacts(all []*config.Enrollment, now time.Time) *contacts {
	n, room := 0, 16
	for _, e := range all {
		for _, at := range contactsOf(e) {
			if at.To != "" {
				n++
			}
		}
	}
	for 2*room < 3*n {
		room *= 2
	}
	c := &contacts{seed: maphash.MakeSeed(), all: all, slots: make([]uint64, room)}
	for i, e := range all {
		for _, at := range contactsOf(e) {
			if at.To != "" {
				c.put(at, i, now)
			}
		}
	}
	return c
}

// put lets an enrollment answer for a contact. Of several enrollments of one
// contact all but one are discharged; the open one answers, or else the latest.
func (c *contacts) put(at contactAt, i int, now time.Time) {
	hash := c.hash(at)
	slot, e := c.slot(at, hash), c.all[i]
	if old := c.at(slot); old != nil && (!discharged(old, today(now, old)) || discharged(e, today(now, e)) && e.Dispensed <= old.Dispensed) {
		return
	}
	c.slots[slot] = hash>>32<<32 | uint64(i+1)
}

func (c *contacts) hash(at contactAt) uint64 { return maphash.Comparable(c.seed, at) }

// slot is the one that a contact has, or the free one where it belongs.
func (c *contacts) slot(at contactAt, hash uint64) int {
	for i := int(hash) & (len(c.slots) - 1); ; i = (i + 1) & (len(c.slots) - 1) {
		if e := c.at(i); e == nil || c.slots[i]>>32 == hash>>32 && at.has(e) {
			return i
		}
	}
}

// at is the enrollment in a slot, or nil.
func (c *contacts) at(slot int) *config.Enrollment {
	if s := c.slots[slot]; s != 0 {
		return c.all[uint32(s)-1]
	}
	return nil
}

// of is the enrollment that answers for a contact, or nil.
func (c *contacts) of(at contactAt) *config.Enrollment {
	if c == nil || at.To == "" {
		return nil
	}
	return c.at(c.slot(at, c.hash(at)))
}
