package daemon

import (
	"context"
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base64"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// How much comes to the door: texts of patients, which the carrier posts from
// a few addresses, and crowds that are up to no good for as long as that takes.
const (
	loadPatients = 40
	loadTexts    = 600
	loadCarriers = 12
	loadHostile  = 12   // at a time
	loadSlow     = 1100 // slow connections, more than there is room for
)

// openDoor serves a clinic's web hook and pages as [Serve] does, at a free
// port, and returns its address.
func (c *clinic) openDoor(change func(*config.Clinic)) string {
	c.t.Helper()
	sms, err := notify.NewSMS(notify.SMSConfig{Account: "ACdemo0001", Token: clinicToken, Numbers: []string{ourNumber}})
	if err != nil {
		c.t.Fatal(err)
	}
	served := *c.s.Clinic()
	own := *served.SMS
	own.Listen = "127.0.0.1:0"
	served.SMS = &own
	if change != nil {
		change(&served)
	}
	sites, err := (&channels{sms: sms}).sites(c.s, &served)
	if err != nil {
		c.t.Fatal(err)
	}
	web, err := c.s.openDoors(&served, sites)
	if err != nil {
		c.t.Fatal(err)
	}
	open := c.s.openWeb(RunOptions{Web: web})
	c.t.Cleanup(func() { closeWeb(open, time.Second) })
	return web[0].Listener.Addr().String()
}

// signedText is a text as the carrier posts it.
func signedText(id, from, text string) (form url.Values, signature string) {
	mac := hmac.New(sha1.New, []byte(clinicToken))
	mac.Write([]byte(hookAddress + "Body" + text + "From" + from + "MessageSid" + id))
	return url.Values{"Body": {text}, "From": {from}, "MessageSid": {id}}, base64.StdEncoding.EncodeToString(mac.Sum(nil))
}

func textID(kind string, i int) string { return fmt.Sprintf("SM%s%030d", kind, i) }

// send sends one request to the door, and returns how it was answered.
func send(client *http.Client, method, to, from string, body string, signature string) (int, int, error) {
	r, err := http.NewRequest(method, to, strings.NewReader(body))
	if err != nil {
		return 0, 0, err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Forwarded-For", from)
	if signature != "" {
		r.Header.Set("X-Twilio-Signature", signature)
	}
	res, err := client.Do(r)
	if err != nil {
		return 0, 0, err
	}
	n, _ := io.Copy(io.Discard, res.Body)
	return res.StatusCode, int(n), res.Body.Close()
}

// hostile sends one request of a kind that is not to be served. Addresses are
// of the networks kept for documentation and for benchmarks (RFC 5737, RFC
// 2544).
func hostile(client *http.Client, door string, rnd *rand.Rand, i int) (int, int, error) {
	from := fmt.Sprintf("203.0.113.%d", rnd.IntN(40))
	if rnd.IntN(2) == 0 { // a crowd that comes from everywhere
		from = fmt.Sprintf("198.%d.%d.%d", 18+rnd.IntN(2), rnd.IntN(256), rnd.IntN(256))
	}
	form, good := signedText(textID("ba", i), phone1, "9")
	forged := form.Encode()
	switch rnd.IntN(6) {
	case 0:
		return send(client, "POST", door+"/sms", from, forged, "")
	case 1:
		return send(client, "POST", door+"/sms", from, forged, base64.StdEncoding.EncodeToString([]byte("twenty bytes of no use")))
	case 2:
		return send(client, "POST", door+"/sms", from, strings.Replace(forged, "Body=9", "Body=0", 1), good)
	case 3:
		return send(client, "POST", door+"/sms", from, strings.Repeat("x", 70<<10), good)
	case 4:
		return send(client, "GET", door+"/sms", from, "", "")
	}
	return send(client, "GET", door+"/admin/../.env?"+strings.Repeat("a", 2000), from, "", "")
}

// slow holds a connection open with a request that never ends, and comes again
// when it is cut off, until ctx is done.
func slow(ctx context.Context, address string, began *atomic.Int64, i int) {
	text := "POST /sms HTTP/1.1\r\nHost: clinic.example.com\r\nX-Forwarded-For: 203.0.113.200\r\n"
	if i%2 == 0 {
		text += "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 5000\r\n\r\nBody="
	}
	for ctx.Err() == nil {
		var d net.Dialer
		c, err := d.DialContext(ctx, "tcp", address)
		if err != nil {
			return
		}
		began.Add(1)
		end := context.AfterFunc(ctx, func() { _ = c.Close() })
		_, _ = io.WriteString(c, text)
		_, _ = io.Copy(io.Discard, c) // until it is cut off
		end()
		_ = c.Close()
	}
}

// Valid and hostile requests come together: all the valid ones land, each at
// its first try, and none of the others.
func TestTheValidLandAmongTheHostile(t *testing.T) {
	var patients []*enrolled
	for i := range loadPatients {
		patients = append(patients, onSMS(fmt.Sprintf("p-%02d", i), fmt.Sprintf("+121255501%02d", 30+i)))
	}
	c := loneClinic(t, patients...)
	address := c.openDoor(nil)
	door := "http://" + address
	crowd, stop := context.WithCancel(t.Context())
	var bad sync.WaitGroup
	var slowOnes, sent, served atomic.Int64
	for i := range loadSlow {
		bad.Go(func() { slow(crowd, address, &slowOnes, i) })
	}
	waitFor(t, "all slow connections", func() bool { return slowOnes.Load() >= loadSlow })
	for w := range loadHostile {
		bad.Go(func() {
			rnd := rand.New(rand.NewPCG(1, uint64(w)))
			client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
			for crowd.Err() == nil {
				status, said, err := hostile(client, door, rnd, int(sent.Add(1)))
				if err == nil && (status < 400 || said > 0) {
					t.Errorf("a hostile request is answered %d with %d bytes", status, said)
					served.Add(1)
				}
			}
		})
	}
	before, began := heap(), time.Now()
	var worst atomic.Int64
	var good sync.WaitGroup
	for w := range loadCarriers {
		good.Go(func() {
			client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
			for i := w; i < loadTexts; i += loadCarriers {
				form, signature := signedText(textID("aa", i), patients[i%loadPatients].to, "D P1")
				at := time.Now()
				status, _, err := send(client, "POST", door+"/sms", fmt.Sprintf("192.0.2.%d", 1+w), form.Encode(), signature)
				if err != nil || status != http.StatusOK {
					t.Errorf("text %d is answered %d, %v", i, status, err)
				}
				if took := int64(time.Since(at)); took > worst.Load() {
					worst.Store(took)
				}
			}
		})
	}
	good.Wait()
	took, grown := time.Since(began), heap()-before
	stop()
	bad.Wait()
	landed, others := c.landed(int(sent.Load()))
	if landed != loadTexts || others != 0 {
		t.Errorf("%d of %d texts landed, and %d that were not signed", landed, loadTexts, others)
	}
	if grown > 100<<20 {
		t.Errorf("the heap grew by %d MiB", grown>>20)
	}
	refused := c.figure("stepgate_hook_refused_total")
	for _, reason := range []string{"unsigned", "signature", "size", "method", "path", "rate", "connections"} {
		if refused[reason] == 0 {
			t.Errorf("none was refused for its %s: %v", reason, refused)
		}
	}
	if n := c.logged("hook.limited"); n < 1 || n > 2 { // by rate, and perhaps by work at a time
		t.Errorf("hook.limited is logged %d times", n)
	}
	if n := c.logged("hook.refused"); n < 1 || n > 70+int(time.Since(began).Seconds()) {
		t.Errorf("hook.refused is logged %d times", n)
	}
	t.Logf("valid %d, landed %d in %s (worst %s); hostile %d, served %d; slow connections %d; heap grew by %d MiB; refused by reason: %v",
		loadTexts, landed, took.Round(time.Millisecond), time.Duration(worst.Load()).Round(time.Millisecond),
		sent.Load(), served.Load(), slowOnes.Load(), grown>>20, refused)
}

// landed counts the texts that were committed: the valid ones, and others.
func (c *clinic) landed(hostile int) (valid, others int) {
	c.t.Helper()
	err := c.j.View(func(tx *journal.Tx) error {
		for i := range loadTexts {
			if _, ok := tx.Seen("sms", textID("aa", i)); ok {
				valid++
			}
		}
		for i := range hostile + 1 {
			if _, ok := tx.Seen("sms", textID("ba", i)); ok {
				others++
			}
		}
		return nil
	})
	if err != nil {
		c.t.Fatal(err)
	}
	return valid, others
}

func heap() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// waitFor polls what can't be waited on, for a bounded time.
func waitFor(t *testing.T, what string, ok func() bool) {
	t.Helper()
	late := time.NewTimer(30 * time.Second)
	defer late.Stop()
	look := time.NewTicker(5 * time.Millisecond)
	defer look.Stop()
	for !ok() {
		select {
		case <-look.C:
		case <-late.C:
			t.Fatalf("waited for %s", what)
		}
	}
}
