package daemon

import (
	"container/list"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// What one address may ask for: ours to choose. A carrier posts up to three
// times for each text, and sends tens a second; so a good request costs one of
// a hundred a second. One that is turned away costs as much as 25, which
// leaves four of them a second.
const (
	addressRate  = 100
	addressBurst = 500
	refusedCost  = 25
	addressWork  = 32 // requests of one address at a time
)

// mostAddresses is how many addresses are remembered, about 300 bytes each. The
// one that was quiet for the longest time is forgotten first, so that a crowd
// of new ones does not shut out who was there before, nor who comes next.
const mostAddresses = 10_000

// addressBook knows what each address has asked for.
type addressBook struct {
	mu     sync.Mutex
	most   int
	of     map[netip.Prefix]*list.Element
	recent *list.List // of *visitor, the latest first
}

type visitor struct {
	net    netip.Prefix
	limit  *rate.Limiter
	inside int
}

func newAddressBook(most int) *addressBook {
	return &addressBook{most: most, of: map[netip.Prefix]*list.Element{}, recent: list.New()}
}

// enter lets a request in, or not. The caller says when it leaves, and whether
// it was turned away. Who is on this machine is not counted: a proxy that does
// not say for whom it asks would be one address for all.
func (b *addressBook) enter(from remote, now time.Time) (leave func(refused bool, now time.Time), ok bool) {
	if from.class == "local" {
		return func(bool, time.Time) {}, true
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	v := b.visitor(from.net)
	if v.inside >= addressWork || !v.limit.AllowN(now, 1) {
		return nil, false
	}
	v.inside++
	return func(refused bool, now time.Time) {
		b.mu.Lock()
		defer b.mu.Unlock()
		v.inside--
		if refused {
			v.limit.ReserveN(now, refusedCost-1)
		}
	}, true
}

func (b *addressBook) visitor(of netip.Prefix) *visitor {
	if e := b.of[of]; e != nil {
		b.recent.MoveToFront(e)
		return e.Value.(*visitor)
	}
	for e := b.recent.Back(); e != nil && len(b.of) >= b.most; {
		old := e
		e = e.Prev()
		if v := old.Value.(*visitor); v.inside == 0 {
			b.recent.Remove(old)
			delete(b.of, v.net)
		}
	}
	v := &visitor{net: of, limit: rate.NewLimiter(addressRate, addressBurst)}
	b.of[of] = b.recent.PushFront(v)
	return v
}
