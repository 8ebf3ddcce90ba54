package daemon

import (
	"hash/maphash"
	"time"

	"stepgate/config"
)

// contacts find the enrollment that a contact belongs to. They are a table of
// places in the roll, by hash: a tenth of what a map takes, which keeps every
// contact a second time.
type contacts struct {
	seed  maphash.Seed
	all   config.Roll
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

// claim is a contact that somebody has.
type claim struct {
	hash  uint64
	place int32 // in the roll
	which int32 // of [contactsOf]
}

func newContacts(all config.Roll, now time.Time) *contacts {
	c := &contacts{seed: maphash.MakeSeed(), all: all}
	claims, i := make([]claim, 0, all.Len()), int32(0)
	for e := range all.All() {
		for which, at := range contactsOf(e) {
			if at.To != "" {
				claims = append(claims, claim{c.hash(at), i, int32(which)})
			}
		}
		i++
	}
	room := 16
	for 2*room < 3*len(claims) {
		room *= 2
	}
	c.slots = make([]uint64, room)
	for _, x := range claims {
		c.put(x, now)
	}
	return c
}

// put lets an enrollment answer for a contact. Of several enrollments of one
// contact all but one are discharged; the open one answers, or else the latest.
func (c *contacts) put(x claim, now time.Time) {
	slot := int(x.hash) & (len(c.slots) - 1)
	for c.slots[slot] != 0 && c.slots[slot]>>32 != x.hash>>32 {
		slot = c.next(slot)
	}
	if c.slots[slot] != 0 { // most often the contact is another's as well
		e := c.all.At(int(x.place))
		var old *config.Enrollment
		slot, old = c.slot(contactsOf(e)[x.which], x.hash)
		if old != nil && (!discharged(old, today(now, old)) || discharged(e, today(now, e)) && e.Dispensed <= old.Dispensed) {
			return
		}
	}
	c.slots[slot] = x.hash>>32<<32 | uint64(x.place+1)
}

func (c *contacts) hash(at contactAt) uint64 { return maphash.Comparable(c.seed, at) }

// slot is the one that a contact has, with the enrollment there, or the free one
// where it belongs.
func (c *contacts) slot(at contactAt, hash uint64) (int, *config.Enrollment) {
	for i := int(hash) & (len(c.slots) - 1); ; i = c.next(i) {
		s := c.slots[i]
		if s == 0 {
			return i, nil
		}
		if s>>32 != hash>>32 {
			continue
		}
		if e := c.all.At(int(uint32(s)) - 1); at.has(e) {
			return i, e
		}
	}
}

func (c *contacts) next(slot int) int { return (slot + 1) & (len(c.slots) - 1) }

// of is the enrollment that answers for a contact, or nil.
func (c *contacts) of(at contactAt) *config.Enrollment {
	if c == nil || at.To == "" {
		return nil
	}
	_, e := c.slot(at, c.hash(at))
	return e
}
