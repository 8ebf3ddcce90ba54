package daemon

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// gate is a guard with two routes, and what was counted.
type gate struct {
	*guard
	logs    *logs
	refused map[string]int
	inside  func(*http.Request) // in the handler of /sms; may be nil
}

func newGate() *gate {
	g := &gate{logs: &logs{}, refused: map[string]int{}}
	c := &clinic{logs: g.logs}
	g.guard = newGuard(c.log(), func(reason string) { g.refused[reason]++ })
	return g
}

func (g *gate) routes() []route {
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if g.inside != nil {
			g.inside(r)
		}
		body, _ := io.ReadAll(r.Body)
		fmt.Fprintf(w, "%s %d", r.URL.Path, len(body))
	})
	return []route{{"/sms", []string{"POST"}, 100, h}, {"/r/", []string{"GET", "POST"}, 10, h}}
}

// ask asks once, from an address.
func (g *gate) ask(from, method, target, body string, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, target, strings.NewReader(body))
	r.RemoteAddr = from
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Add(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	g.handler(g.routes()).ServeHTTP(w, r)
	return w
}

const somewhere = "192.0.2.1:1000" // RFC 5737

func TestGuardServesOnlyWhatIsDocumented(t *testing.T) {
	for _, c := range []struct {
		method, target, body string
		want                 int
	}{
		{"POST", "/sms", "Body=D", 200},
		{"POST", "/sms?a=b", "Body=D", 200},
		{"GET", "/r/abc-_.9", "", 200},
		{"POST", "/r/abc", "x=1", 200},
		{"GET", "/sms", "", 405},
		{"PUT", "/r/abc", "", 405},
		{"TRACE", "/r/abc", "", 405},
		{"GET", "/", "", 404},
		{"GET", "/r/", "", 404},
		{"GET", "/r/a/b", "", 404},
		{"GET", "/r/a%2Fb", "", 404},
		{"GET", "/r/a%20b", "", 404},
		{"GET", "/r/" + strings.Repeat("a", 401), "", 404},
		{"GET", "/r//abc", "", 404},
		{"GET", "//r/abc", "", 404},
		{"GET", "/r/../sms", "", 404},
		{"POST", "/sms/", "", 404},
		{"POST", "/SMS", "", 404},
		{"GET", "/metrics", "", 404},
		{"POST", "/sms", strings.Repeat("x", 100), 200},
		{"POST", "/sms", strings.Repeat("x", 101), 413},
		{"POST", "/r/abc", strings.Repeat("x", 11), 413},
	} {
		w := newGate().ask(somewhere, c.method, c.target, c.body)
		if w.Code != c.want {
			t.Errorf("%s %.20s: %d, want %d", c.method, c.target, w.Code, c.want)
		}
		if c.want != 200 && (w.Body.Len() > 0 || w.Header().Get("Location") != "" || w.Header().Get("Server") != "") {
			t.Errorf("%s %.20s: says %q %v", c.method, c.target, w.Body, w.Header())
		}
	}
}

func TestGuardLimitsByAddress(t *testing.T) {
	g := newGate()
	turned := func(from, header string) int {
		n := 0
		for range 40 {
			args := []string{}
			if header != "" {
				args = []string{"X-Forwarded-For", header}
			}
			if g.ask(from, "GET", "/admin.php", "", args...).Code == http.StatusTooManyRequests {
				n++
			}
		}
		return n
	}
	// 500 / 25 are turned away as what they are, and then no more are looked at.
	if n := turned(somewhere, ""); n < 15 || n > 21 {
		t.Errorf("an address that asks for nonsense 40 times was held off %d times", n)
	}
	if w := g.ask(somewhere, "POST", "/sms", "x"); w.Code != 429 || w.Header().Get("Retry-After") == "" {
		t.Errorf("it is still served: %d", w.Code)
	}
	if w := g.ask("192.0.2.2:1", "POST", "/sms", "x"); w.Code != 200 {
		t.Errorf("another address: %d", w.Code)
	}
	// Behind a proxy here the last hop is the address, whatever stands before it.
	if n := turned("127.0.0.1:9", "198.51.100.7, 192.0.2.9"); n == 0 {
		t.Error("behind a proxy nobody is held off")
	}
	if w := g.ask("[::1]:9", "POST", "/sms", "x", "X-Forwarded-For", "198.51.100.8,192.0.2.9"); w.Code != 429 {
		t.Errorf("another first hop gets it in: %d", w.Code)
	}
	if w := g.ask("127.0.0.1:9", "POST", "/sms", "x", "X-Forwarded-For", "192.0.2.9, 198.51.100.7"); w.Code != 200 {
		t.Errorf("another last hop: %d", w.Code)
	}
	// A header of a peer elsewhere is nobody's word.
	if w := g.ask(somewhere, "POST", "/sms", "x", "X-Forwarded-For", "198.51.100.99"); w.Code != 429 {
		t.Errorf("a made-up header gets it in: %d", w.Code)
	}
	// IPv6 goes by the network (documentation range: RFC 3849).
	if n := turned("[2001:db8:1:1::5]:80", ""); n == 0 {
		t.Error("IPv6 is not limited")
	}
	if w := g.ask("[2001:db8:1:1:ffff::1]:80", "POST", "/sms", "x"); w.Code != 429 {
		t.Errorf("a neighbor in the network: %d", w.Code)
	}
	if w := g.ask("[2001:db8:1:2::5]:80", "POST", "/sms", "x"); w.Code != 200 {
		t.Errorf("another network: %d", w.Code)
	}
	// Who is on this machine and no proxy.
	if n := turned("127.0.0.1:9", ""); n != 0 {
		t.Errorf("this machine itself was held off %d times", n)
	}
	if g.refused["rate"] == 0 || g.refused["path"] == 0 {
		t.Errorf("counted: %v", g.refused)
	}
	log := g.logs.String()
	if n := strings.Count(log, "msg=hook.limited"); n != 2 {
		t.Errorf("%d lines for two kinds of address in a minute:\n%s", n, log)
	}
	for _, word := range []string{"192.0.2", "198.51", "2001:db8"} {
		if strings.Contains(log, word) {
			t.Errorf("the log has %s in it", word)
		}
	}
}

// The times are made up: nothing waits.
func TestAddressBook(t *testing.T) {
	b := newAddressBook(100)
	now := time.Unix(1_000_000, 0)
	carrier := addressOf("192.0.2.1")
	for i := range 10_000 {
		now = now.Add(time.Millisecond)
		leave, ok := b.enter(addressOf(fmt.Sprintf("198.51.%d.%d", 100+i/256, i%256)), now)
		if !ok {
			t.Fatalf("address %d was held off at its first request", i)
		}
		leave(true, now)
		if i%20 > 0 {
			continue
		}
		if leave, ok = b.enter(carrier, now); !ok {
			t.Fatalf("a carrier is held off after %d hostile addresses", i)
		}
		leave(false, now)
	}
	if len(b.of) != 100 || b.recent.Len() != 100 {
		t.Errorf("%d addresses are remembered", len(b.of))
	}

	// Good requests come at their rate for ever, refused ones at a 25th of it.
	for name, c := range map[string]struct {
		refused bool
		want    int
	}{"good": {false, addressBurst + 10*addressRate}, "refused": {true, (addressBurst + 10*addressRate) / refusedCost}} {
		b, let := newAddressBook(1), 0
		for i := range 10_000 { // in ten seconds
			at := now.Add(time.Duration(i) * time.Millisecond)
			if leave, ok := b.enter(carrier, at); ok {
				let++
				leave(c.refused, at)
			}
		}
		if let < c.want-c.want/20-1 || let > c.want+c.want/20+1 {
			t.Errorf("%s: %d were let in, want %d", name, let, c.want)
		}
	}

	// So many at a time, and the book never forgets who is inside.
	b = newAddressBook(1)
	var leaves []func(bool, time.Time)
	for range addressWork {
		leave, ok := b.enter(carrier, now)
		if !ok {
			t.Fatal("held off too early")
		}
		leaves = append(leaves, leave)
	}
	if leave, ok := b.enter(addressOf("192.0.2.3"), now); ok {
		leave(false, now)
	}
	if _, ok := b.enter(carrier, now); ok {
		t.Error("one more at a time was let in")
	}
	leaves[0](false, now)
	if _, ok := b.enter(carrier, now); !ok {
		t.Error("held off though one has left")
	}
}

// A fault in a handler is no detail for who asked, nor for the log.
func TestGuardKeepsFaultsToItself(t *testing.T) {
	g := newGate()
	g.inside = func(*http.Request) { panic("Quillon at 12 Canary Row") }
	w := g.ask(somewhere, "POST", "/sms", "x")
	if w.Code != http.StatusInternalServerError || w.Body.Len() > 0 {
		t.Errorf("answered %d %q", w.Code, w.Body)
	}
	if log := g.logs.String(); !strings.Contains(log, "msg=hook.failed") || strings.Contains(log, "Canary") {
		t.Errorf("the log:\n%s", log)
	}
	if len(g.slots) != 0 {
		t.Error("a slot is lost")
	}
}
