package daemon

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/rules"
)

// The table of contacts answers as a plain map would, also where several
// enrollments share a contact over time, or have several contacts.
func TestContactsAnswerAsAMapWould(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	rnd := rand.New(rand.NewPCG(seed, 1))
	now := time.Date(2026, time.October, 20, 12, 0, 0, 0, time.UTC)
	for range 100 {
		var all []*config.Enrollment
		for i := range rnd.IntN(200) {
			e := &config.Enrollment{Zone: time.UTC, Address: config.Address{Channel: "sms", To: fmt.Sprintf("+1212555%04d", rnd.IntN(60))}}
			e.ID, e.Dispensed = fmt.Sprint(i), rules.NewDate(2026, time.September, 1+rnd.IntN(20))
			if rnd.IntN(3) == 0 {
				e.Sender = fmt.Sprintf("+12125550%d", 100+rnd.IntN(3))
			}
			if rnd.IntN(3) == 0 {
				e.Fallback = config.Address{Channel: "email", To: fmt.Sprintf("a%d@example.com", rnd.IntN(60))}
			}
			if rnd.IntN(2) == 0 {
				e.Entries = []rules.Entry{{Kind: rules.EntryDischarge, On: rules.NewDate(2026, time.October, 15+rnd.IntN(10))}}
			}
			all = append(all, e)
		}
		roll, want := config.NewRoll(all), map[contactAt]*config.Enrollment{}
		for e := range roll.All() {
			for _, at := range contactsOf(e) {
				old := want[at]
				if at.To != "" && (old == nil || discharged(old, today(now, old)) && (!discharged(e, today(now, e)) || e.Dispensed > old.Dispensed)) {
					want[at] = e
				}
			}
		}
		c := newContacts(roll, now)
		for at, e := range want {
			if got := c.of(at); got == nil || got.ID != e.ID {
				t.Fatalf("seed %d: %v is %v, want %v", seed, at, got, e)
			}
		}
		for _, at := range []contactAt{{}, {config.Address{Channel: "sms", To: "+12125550199"}, ""}, {config.Address{Channel: "email", To: all0(all)}, ""}} {
			if got := c.of(at); got != nil {
				t.Fatalf("seed %d: %v is %v, want nobody", seed, at, got)
			}
		}
	}
}

// all0 is a number that somebody has, which is nobody's mail address.
func all0(all []*config.Enrollment) string {
	if len(all) == 0 {
		return ""
	}
	return all[0].Address.To
}
