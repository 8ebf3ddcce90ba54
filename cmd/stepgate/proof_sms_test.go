//go:build proof

package main

import (
	"fmt"
	"math/rand/v2"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

// morning is a clinic that texts, whose service is killed over and over while
// the carrier fails now and then.
type morning struct {
	t       *testing.T
	dir     string
	env     []string
	rnd     *dice
	carrier *carriertest.Server
	api     *httptest.Server // the carrier, behind a door of the test's own
	hook    *httptest.Server // the way from the carrier to the web hook

	life    atomic.Pointer[life]
	calls   sync.WaitGroup // requests at the carrier
	late    sync.WaitGroup // texts taken after their connection was lost
	faulty  atomic.Bool
	listens atomic.Pointer[string] // where the web hook listens
	numbers []string               // of the patients
	begun   time.Time
	log     strings.Builder // of all lives so far

	mu     sync.Mutex
	said   map[string]string // number: what the patient answers with; one text each
	spoken map[string]bool   // numbers that have answered
	whole  map[string]bool   // carrier ids of texts whose create was answered in full
	hooked map[string]int    // carrier ids of replies: how often the web hook took it
	faults int
	struck map[moment]int
}

// dice is a source of random numbers for several goroutines.
type dice struct {
	mu  sync.Mutex
	rnd *rand.Rand
}

func (d *dice) n(n int) int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.rnd.IntN(n)
}

// within is a random time under d.
func (d *dice) within(most time.Duration) time.Duration { return time.Duration(d.n(int(most))) }

// TestProofTexts is a morning of texts and replies in real time. The service is
// killed with SIGKILL at every step of a send and of a receive, over and over,
// while the carrier fails: it takes a text and does not say so, says so and did
// not, cuts connections, takes a text after the connection was lost. Half of
// the lives hear by web hook and list, the others by the list alone. Then the
// carrier's own record is held against the journal: one daily text a patient,
// every reply once, one answer to each, no message unaccounted for.
//
// STEPGATE_KILLS is how often (20), STEPGATE_PATIENTS how many (500),
// STEPGATE_SEED which random moments, faults and replies.
func TestProofTexts(t *testing.T) {
	kills, patients := number(t, "STEPGATE_KILLS", 20), number(t, "STEPGATE_PATIENTS", 500)
	seed := number(t, "STEPGATE_SEED", int(time.Now().UnixNano()))
	t.Logf("STEPGATE_KILLS=%d STEPGATE_PATIENTS=%d STEPGATE_SEED=%d", kills, patients, seed)
	x := newMorning(t, patients, uint64(seed))
	for i, plan := range x.plans(kills) {
		x.carrier.Faulty(uint64(seed+i), faultChance, faults(i)...)
		x.live(plan)
	}
	t.Logf("the last kill came after %.0f s", time.Since(x.begun).Seconds())
	x.carrier.Faulty(0, 0)
	x.faulty.Store(false)
	x.settle()
	x.check(kills)
}

// faultChance is how likely a create or a listing fails.
const faultChance = 0.12

// faults are the ways the carrier fails in a life. A text that met "too many
// requests" waits a minute for its second try and two for its third, so that
// comes in the first life only, and there it is the usual fault.
func faults(i int) []carriertest.Fault {
	// The first of the usual ones is "too many requests".
	busy, others := carriertest.Usual()[:1], carriertest.Usual()[1:]
	if i > 0 {
		return others
	}
	return slices.Concat(others, busy, busy, busy)
}

// live starts the service as planned, lets patients answer, and returns when
// it was killed and nothing of that life is under way any more.
func (x *morning) live(p plan) {
	x.t.Helper()
	x.settings(p)
	l := &life{moment: p.moment, over: make(chan struct{}), began: make(chan struct{})}
	l.left.Store(int32(p.nth))
	x.life.Store(l)
	l.svc = start(x.t, x.env, "serve", x.dir)
	close(l.began)
	var talking sync.WaitGroup
	talking.Go(func() { x.talk(l.over, p.replies) })
	select {
	case <-l.over:
	case <-time.After(p.latest):
		x.strike(l, atRandom)
	case <-l.svc.ended:
		x.strike(l, p.moment) // that is what ended it, or nothing did
	}
	talking.Wait()
	x.calls.Wait()
	if l.svc.cmd.ProcessState.Exited() {
		l.svc.fail("it ended by itself")
	}
	x.log.WriteString(l.svc.log.String())
	whole(x.t, filepath.Join(x.dir, "data", "journal.db"))
}

// settle has services run at a healthy carrier until nothing is left to do.
func (x *morning) settle() {
	x.t.Helper()
	x.life.Store(nil)
	x.late.Wait()
	ends := time.Now().Add(settleFor)
	for {
		p := plan{rate: fullRate, hook: true}
		x.settings(p)
		svc := serve(x.t, x.env, x.dir)
		over := make(chan struct{})
		var talking sync.WaitGroup
		talking.Go(func() { x.talk(over, len(x.numbers)) })
		waitAsLong(x.t, time.Until(ends), "every text and answer to reach the carrier", x.complete)
		close(over)
		talking.Wait()
		svc.stop()
		x.log.WriteString(svc.log.String())
		open := x.open()
		if open == "" {
			return
		}
		if time.Now().After(ends) {
			x.t.Fatalf("%s after the last kill there is still %s", settleFor, open)
		}
	}
}

// settleFor is how long what is left may take. A text that met "too many
// requests" on its first try waits a minute, give or take a fifth.
const settleFor = 3 * time.Minute

func waitAsLong(t *testing.T, most time.Duration, what string, ok func() bool) {
	t.Helper()
	late := time.NewTimer(most)
	defer late.Stop()
	look := time.NewTicker(50 * time.Millisecond)
	defer look.Stop()
	for !ok() {
		select {
		case <-look.C:
		case <-late.C:
			t.Errorf("waited %s for %s", most, what) // what is missing is counted all the same
			return
		}
	}
}

// kills says how often the service was killed at which moment.
func (x *morning) kills() string {
	var parts []string
	for m := range moments {
		parts = append(parts, fmt.Sprintf("%d %s", x.struck[m], m))
	}
	return strings.Join(parts, ", ")
}
