//go:build proof

package main

import (
	"fmt"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/notify/carriertest"
	"stepgate/rules"
)

// newMorning makes a clinic whose patients' first text is due now, and a
// carrier.
func newMorning(t *testing.T, patients int, seed uint64) *morning {
	t.Helper()
	x := &morning{
		t: t, rnd: &dice{rnd: rand.New(rand.NewPCG(seed, 1))}, env: []string{"TEXT_TOKEN=" + token}, begun: time.Now(),
		carrier: carriertest.Make(account, token),
		said:    map[string]string{}, spoken: map[string]bool{}, whole: map[string]bool{}, hooked: map[string]int{}, struck: map[moment]int{},
	}
	x.faulty.Store(true)
	x.api = httptest.NewServer(http.HandlerFunc(x.door))
	x.hook = httptest.NewServer(http.HandlerFunc(x.passOn))
	t.Cleanup(func() {
		x.carrier.Close()
		x.api.Close()
		x.hook.Close()
	})
	x.carrier.SetNumbers(sender)
	x.carrier.SetDelivery(carriertest.Delivery{Status: "delivered", Wait: 30 * time.Millisecond})
	if err := x.carrier.Route(public, x.hook.URL); err != nil {
		t.Fatal(err)
	}
	x.watch()
	zone := zoneAtNoon(x.begun)
	loc, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	x.dir = folderOf(t, map[string]string{
		"programs/settling-in.yaml": read(t, "..", "..", "testdata", "clinic", "programs", "settling-in.yaml"),
		"enrollments.yaml":          x.enroll(patients, rules.DateOf(x.begun.In(loc))),
		"zone":                      zone,
	})
	return x
}

// enroll writes the patients. Their numbers are of those that are kept for
// fiction in each area code: 555-0100 to 555-0199 (North American Numbering
// Plan).
func (x *morning) enroll(patients int, today rules.Date) string {
	var b strings.Builder
	b.WriteString("enrollments:\n")
	for n := range patients {
		to := fmt.Sprintf("+1%d55501%02d", 712+n/100, n%100)
		x.numbers = append(x.numbers, to)
		x.said[to] = answers[x.rnd.n(len(answers))]
		one := enrollment(fmt.Sprintf("p-%04d", n+1), "Quillon", to, today)
		b.WriteString(one)
	}
	return b.String()
}

// fullRate, in segments a second, is the most a number can have.
const fullRate = 1000

// settings writes stepgate.yaml for one life.
func (x *morning) settings(p plan) {
	x.t.Helper()
	hook := ""
	if x.carrier.SetHook(""); p.hook {
		listen := quietAddress(x.t, x.rnd)
		x.listens.Store(&listen)
		x.carrier.SetHook(public)
		hook = "  listen: " + listen + "\n  public: " + public + "\n"
	}
	write(x.t, x.dir, "stepgate.yaml", fmt.Sprintf(`clinic:
  name: Harbor Foot Clinic
  phone: 503-555-0110
  hours: Mon-Fri 8:30-5
  after hours: 503-555-0111
  emergency: 911
  zone: %s
alerts: {spool: clinician}
grace: 1m
sms:
  account: %s
  token: {env: TEXT_TOKEN}
  from: "%s"
  api: %s
  rate: %d
  poll: 1s
  look again: 1s
%s`, read(x.t, filepath.Join(x.dir, "zone")), account, sender, x.api.URL, p.rate, hook))
}

// quietAddress is one that nobody listens on, below the ports that outgoing
// connections get (Linux, ip_local_port_range: from 32768 on): those of the
// carrier's many connections must not take it before the service does.
func quietAddress(t *testing.T, rnd *dice) string {
	t.Helper()
	for range 100 {
		address := fmt.Sprintf("127.0.0.1:%d", 20000+rnd.n(10000))
		if l, err := net.Listen("tcp", address); err == nil {
			_ = l.Close()
			return address
		}
	}
	t.Fatal("no free address")
	return ""
}
