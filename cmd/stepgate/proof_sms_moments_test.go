//go:build proof

package main

import (
	"net/url"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"stepgate/notify/carriertest"
)

// moment is a step of a send or a receive at which the service is killed.
type moment int

// The moments, in the order of a text and of a reply.
const (
	atMark     moment = iota // marked as handed over, and not at the carrier: it never gets there
	atArrival                // at the carrier, nothing has come of it
	atAccept                 // on the carrier's list, not answered
	atAnswer                 // answered, the outcome is not committed
	atOutcome                // a moment later
	atLookUp                 // the list is being asked for a text of unknown outcome
	atLookedUp               // the list has answered, what follows is not committed
	atList                   // the list of replies is being asked for
	atListed                 // the list has answered, the replies are not committed
	atPost                   // a reply is being posted to the web hook
	atTaken                  // it was committed, and is not acknowledged
	atRandom                 // any moment
	moments
)

func (m moment) String() string {
	return [...]string{"before the create arrived", "arrived", "accepted", "answered", "just after", "looking up", "looked up",
		"listing", "listed", "posting a reply", "taken and not acknowledged", "by chance"}[m]
}

// plan is how one life goes.
type plan struct {
	moment  moment
	nth     int           // time that the moment comes
	latest  time.Duration // if it does not come until then it is killed all the same
	hook    bool          // hears by web hook too
	rate    int           // segments a second
	replies int           // that patients may send
}

// plans are as many lives, every moment in turn, in a random order and with the
// web hook open in half of them. The rate spreads the morning's texts over all
// lives, but for one in the middle that has as many in flight as there can be.
func (x *morning) plans(kills int) []plan {
	var plans []plan
	var bag []moment
	hooks, crowded := 0, false
	share := len(x.numbers)/kills + 1
	for i := range kills {
		if len(bag) == 0 {
			for m := range moments {
				bag = append(bag, m)
			}
		}
		at := x.rnd.n(len(bag))
		if i == 0 { // nobody can answer yet, and nothing is to be looked up
			at = int(atArrival)
		}
		m := bag[at]
		bag = append(bag[:at], bag[at+1:]...)
		p := plan{moment: m, nth: 1 + x.rnd.n(10), latest: 2500 * time.Millisecond, hook: m == atPost || m == atTaken || 2*hooks <= i,
			replies: share + 1, rate: max(3*share, 12)}
		if m <= atOutcome {
			p.nth = 1 + x.rnd.n(2*share)
		}
		switch {
		case m == atRandom:
			p.latest = x.rnd.within(2 * time.Second)
		case m == atList || m == atListed:
			p.nth = 1 + x.rnd.n(2)
		case m <= atOutcome && i >= kills/2 && !crowded:
			p.rate, p.nth, crowded = fullRate, 1+x.rnd.n(2*share), true
		}
		if p.hook {
			hooks++
		}
		plans = append(plans, p)
	}
	return plans
}

// life is one run of the service.
type life struct {
	svc    *process
	began  chan struct{} // closed once svc is there
	moment moment
	left   atomic.Int32 // times the moment is still to come
	once   sync.Once
	over   chan struct{} // closed once it was killed
}

// at kills the service if this is the moment, after at most wait. Then it
// returns true, once the service is dead.
func (x *morning) at(m moment, wait time.Duration) bool {
	l := x.life.Load()
	if l == nil || l.moment != m || l.left.Add(-1) != 0 {
		return false
	}
	if wait > 0 {
		<-time.After(x.rnd.within(wait))
	}
	x.strike(l, m)
	return true
}

func (x *morning) strike(l *life, m moment) {
	<-l.began
	l.once.Do(func() {
		_ = l.svc.cmd.Process.Signal(syscall.SIGKILL) // one that has ended by itself is found out later
		<-l.svc.ended
		x.mu.Lock()
		x.struck[m]++
		x.mu.Unlock()
		close(l.over)
	})
}

// dead tells whether this life is over.
func (x *morning) dead() bool {
	l := x.life.Load()
	if l == nil {
		return false
	}
	select {
	case <-l.over:
		return true
	default:
		return false
	}
}

// outcomeTime is about what it takes to write an outcome down.
const outcomeTime = 3 * time.Millisecond

// watch strikes at the moments that the carrier sees.
func (x *morning) watch() {
	ours := func(q url.Values) bool { return q.Get("To") == sender }
	x.carrier.OnArrive(func(carriertest.Message) {
		x.at(atArrival, 0)
		if x.takesTime(); x.dead() && x.rnd.n(2) == 0 {
			cut() // else it is taken though nobody waits for it any more
		}
	})
	x.carrier.OnAccept(func(carriertest.Message) {
		x.at(atAccept, 0)
		x.takesTime()
	})
	x.carrier.OnAnswer(func(carriertest.Message) {
		x.at(atAnswer, 0)
		x.at(atOutcome, outcomeTime)
	})
	x.carrier.OnList(func(q url.Values) {
		if ours(q) {
			x.at(atList, 0)
		} else if q.Has("To") {
			x.at(atLookUp, 0)
		}
	})
	x.carrier.OnListed(func(q url.Values) {
		if ours(q) {
			x.at(atListed, outcomeTime)
		} else if q.Has("To") {
			x.at(atLookedUp, outcomeTime)
		}
	})
}

// takesTime is what a carrier needs, so that several requests are under way at
// once.
func (x *morning) takesTime() {
	if x.faulty.Load() {
		<-time.After(x.rnd.within(60 * time.Millisecond))
	}
}
