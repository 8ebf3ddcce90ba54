package main

import (
	"bytes"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify/carriertest"
	"stepgate/rules"
)

// The account is invented, and the numbers are of the range kept for fiction.
const (
	account  = "AC00112233445566778899aabbccddeeff"
	token    = "c4n4rytoken0123456789abcdef01234"
	sender   = "+15035550100"
	patient  = "+15035550120"
	early    = "+15035550121" // enrolled, and not yet begun
	stranger = "+15035550199"
	public   = "https://texts.example.org/in"
)

// texting is a clinic in real time with a stand-in for the carrier.
type texting struct {
	t       *testing.T
	dir     string
	env     []string
	svc     *process
	carrier *carriertest.Server
	hook    string // where the web hook listens
	sids    int
}

// zoneAtNoon is a zone in which it is between 12:00 and 13:00 now, so that a
// message due at 12:00 has just come due, well inside texting hours. In the
// names of these zones the sign is turned around: Etc/GMT-3 is three hours
// ahead of UTC (IANA time zone database, file etcetera).
func zoneAtNoon(now time.Time) string {
	switch ahead := 12 - now.UTC().Hour(); {
	case ahead > 0:
		return fmt.Sprintf("Etc/GMT-%d", ahead)
	case ahead < 0:
		return fmt.Sprintf("Etc/GMT+%d", -ahead)
	}
	return "Etc/UTC"
}

// newTexting starts a clinic with one patient whose devices were dispensed
// today, and one who begins in ten days.
func newTexting(t *testing.T) *texting {
	t.Helper()
	now := time.Now()
	name := zoneAtNoon(now)
	zone, err := time.LoadLocation(name)
	if err != nil || now.In(zone).Hour() != 12 {
		t.Fatalf("in %s it is %s (%v), want noon", name, now.In(zone), err)
	}
	today := rules.DateOf(now.In(zone))
	x := &texting{t: t, carrier: carriertest.New(account, token), env: []string{"TEXT_TOKEN=" + token}}
	t.Cleanup(x.carrier.Close)
	listen := freeAddress(t)
	x.hook = "http://" + listen + "/in"
	program := read(t, "..", "..", "testdata", "clinic", "programs", "settling-in.yaml")
	x.dir = folderOf(t, map[string]string{
		"programs/settling-in.yaml": program,
		"stepgate.yaml": fmt.Sprintf(`clinic:
  name: Harbor Foot Clinic
  phone: 503-555-0110
  hours: Mon-Fri 8:30-5
  after hours: 503-555-0111
  emergency: 911
  zone: %s
alerts: {spool: clinician}
sms:
  account: %s
  token: {env: TEXT_TOKEN}
  from: "%s"
  api: %s
  listen: %s
  public: %s
`, name, account, sender, x.carrier.URL(), listen, public),
		"enrollments.yaml": enrollment("rosa-01", "Quillon", patient, today) + enrollment("emil-02", "Zephyrine", early, today+10),
	})
	x.svc = serve(t, x.env, x.dir)
	return x
}

func enrollment(id, name, number string, dispensed rules.Date) string {
	head := ""
	if id == "rosa-01" {
		head = "enrollments:\n"
	}
	return head + fmt.Sprintf(`  - id: %s
    name: %s
    program: settling-in
    dispensed: %s
    affected: left
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    sms: "%s"
    time: "12:00"
`, id, name, dispensed, number)
}

// freeAddress is one that nobody listens on now. The service logs no address,
// so the test has to choose it.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// texts waits until the carrier has taken n texts to a number, and returns
// them. It fails if there are more.
func (x *texting) texts(number string, n int) []string {
	x.t.Helper()
	var list []string
	waitUntil(x.t, fmt.Sprintf("%d texts to %s", n, number), func() bool {
		list = nil
		for _, m := range x.carrier.Messages() {
			if m.To == number {
				list = append(list, m.Body)
			}
		}
		return len(list) >= n
	})
	if len(list) > n {
		x.t.Fatalf("%d texts to %s, want %d:\n%s", len(list), number, n, strings.Join(list, "\n--\n"))
	}
	return list
}

// says posts a patient's text as the carrier does and returns its id.
func (x *texting) says(from, body string) string {
	x.t.Helper()
	x.sids++
	sid := fmt.Sprintf("SM%032x", 0xabc000+x.sids)
	x.post(sid, from, body)
	return sid
}

func (x *texting) post(sid, from, body string) {
	x.t.Helper()
	ctx, cancel := context.WithTimeout(x.t.Context(), patience)
	defer cancel()
	code, answer, err := x.carrier.Post(ctx, x.hook, public, x.carrier.Inbound(sid, from, sender, body))
	if err != nil || code != http.StatusOK || answer != "<Response></Response>" {
		x.t.Fatalf("text %q: %d %q, %v; want 200 and an empty response", body, code, answer, err)
	}
}

// request sends the web hook a request of the test's own making.
func (x *texting) request(method, contentType, signature string, body []byte) int {
	x.t.Helper()
	ctx, cancel := context.WithTimeout(x.t.Context(), patience)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, x.hook, bytes.NewReader(body))
	if err != nil {
		x.t.Fatal(err)
	}
	req.Header.Set("Content-Type", contentType)
	if signature != "" {
		req.Header.Set("X-Twilio-Signature", signature)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		x.t.Fatal(err)
	}
	_ = res.Body.Close()
	return res.StatusCode
}

// TestTextsEndToEnd is a day by text, in real time: the day's dose goes out
// once, answers come in over the web hook and are answered.
func TestTextsEndToEnd(t *testing.T) {
	t.Parallel()
	x := newTexting(t)
	first := x.texts(patient, 1)[0]
	if !has("This is Harbor Foot Clinic", "Wall calf stretch, back knee straight", "Reply STOP to end")(first) {
		t.Errorf("the first text:\n%s", first)
	}
	x.svc.waitLog("msg=out.sent id=rosa-01 kind=daily channel=sms")

	sid := x.says(patient, "P5")
	if got := x.texts(patient, 2)[1]; !has("5 noted. No more exercises today.", "Your plan waits")(got) {
		t.Errorf("the answer to P5:\n%s", got)
	}
	x.svc.waitLog("msg=in.taken id=rosa-01 channel=sms", "msg=out.sent id=rosa-01 kind=answer channel=sms")

	// The carrier may deliver one text several times: it counts once. Another
	// text after it shows that the answer to it is not just slow.
	x.post(sid, patient, "P5")
	x.post(sid, patient, "P5")
	x.svc.wait(x.svc.log, "two duplicates", func(s string) bool { return strings.Count(s, "msg=in.duplicate channel=sms") == 2 })
	x.says(patient, "\U0001F9B6\U0001F9B6") // nothing but emoji
	if got := x.texts(patient, 3)[2]; !strings.HasPrefix(got, "We could not read that.") {
		t.Errorf("the answer to an emoji:\n%s", got)
	}

	x.says(stranger, "D1")
	neutral := x.texts(stranger, 1)[0]
	if !strings.HasPrefix(neutral, "Sorry, we do not know this number.") || has("Harbor")(neutral) || has("exercise")(neutral) || has("plan")(neutral) {
		t.Errorf("the answer to a stranger:\n%s", neutral)
	}
	x.svc.waitLog("msg=in.stranger channel=sms")

	x.says(early, "D")
	if got := x.texts(early, 1)[0]; !strings.HasPrefix(got, "Your plan has not started yet.") {
		t.Errorf("the answer before the first text:\n%s", got)
	}

	if got := wantRun(t, exitGood, x.env, "caseload", x.dir).out; !has("rosa-01 Quillon      1   1/3", "\nNot begun (1)\nemil-02 Zephyrine")(got) {
		t.Errorf("caseload:\n%s", got)
	}
	x.svc.stop()
	before := x.svc.log.String()

	// A restart sends nothing again, and the carrier's duplicate is still one.
	x.svc = serve(t, x.env, x.dir)
	x.post(sid, patient, "P5")
	x.svc.waitLog("msg=in.duplicate channel=sms")
	x.says(patient, "D2")
	x.texts(patient, 4)
	x.svc.stop()
	x.keptQuiet(before + x.svc.log.String())
	x.heard(map[string]int{"P5": 1, "\U0001F9B6\U0001F9B6": 1, "D1": 1, "D": 1, "D2": 1})
}

// keptQuiet checks what the log must never have in it: the secret, numbers,
// names, and what was said.
func (x *texting) keptQuiet(log string) {
	x.t.Helper()
	for _, word := range []string{token, account, "5035550", "503-555", "555-01", "Quillon", "Zephyrine", "P5", "\U0001F9B6",
		"noted", "Wall calf", url.QueryEscape(patient), "Sorry"} {
		if strings.Contains(log, word) {
			x.t.Errorf("the log has %q in it:\n%s", word, log)
		}
	}
}

// heard checks the journal for what was taken, each as often as it was said,
// and every message with an outcome.
func (x *texting) heard(want map[string]int) {
	x.t.Helper()
	got := map[string]int{}
	open := map[string]bool{}
	for _, e := range journalOf(x.t, x.dir, "data", "journal.db") {
		switch {
		case e.In != nil:
			got[e.In.Text]++
		case e.Kind == journal.Intended:
			open[e.Out.Key] = true
		case e.Kind == journal.Settled && e.Result.Status == "sent":
			delete(open, e.Key)
		}
	}
	for text, n := range want {
		if got[text] != n {
			x.t.Errorf("the journal has %q %d times, want %d", text, got[text], n)
		}
		delete(got, text)
	}
	if len(got) > 0 || len(open) > 0 {
		x.t.Errorf("the journal has heard %v beside that, and these were never sent: %v", got, open)
	}
}

// TestHookRefusals sends the web hook what it must turn away. Each gets its
// status and its log line, nothing is committed, and texts go on being taken.
func TestHookRefusals(t *testing.T) {
	t.Parallel()
	x := newTexting(t)
	x.texts(patient, 1)
	const form = "application/x-www-form-urlencoded"
	good := x.carrier.Inbound("SM0000000000000000000000000000beef", patient, sender, "P9")
	noBody := x.carrier.Inbound("SM0000000000000000000000000000beef", patient, sender, "")
	noBody.Del("Body")
	huge := []byte("Body=" + strings.Repeat("a", 2<<20))
	for _, r := range []struct {
		reason, method, kind, signature string
		body                            []byte
		status                          int
	}{
		{"unsigned", "POST", form, "", []byte(good.Encode()), http.StatusForbidden},
		{"signature", "POST", form, carriertest.Sign("another token", public, good), []byte(good.Encode()), http.StatusForbidden},
		{"signature", "POST", form, carriertest.Sign(token, "https://texts.example.org/other", good), []byte(good.Encode()), http.StatusForbidden},
		{"size", "POST", form, carriertest.Sign(token, public, good), huge, http.StatusRequestEntityTooLarge},
		{"fields", "POST", form, carriertest.Sign(token, public, noBody), []byte(noBody.Encode()), http.StatusBadRequest},
		{"form", "POST", form, carriertest.Sign(token, public, good), []byte("Body=%zz;;&=%"), http.StatusBadRequest},
		{"type", "POST", "application/json", carriertest.Sign(token, public, good), []byte(`{"Body":"P9"}`), http.StatusBadRequest},
		{"method", "GET", form, carriertest.Sign(token, public, good), nil, http.StatusMethodNotAllowed},
	} {
		if r.reason == "size" || r.reason == "method" { // turned away at the door, and only counted
			if got := x.request(r.method, r.kind, r.signature, r.body); got != r.status {
				t.Errorf("%s %s: status %d, want %d", r.method, r.reason, got, r.status)
			}
			continue
		}
		line := regexp.MustCompile(`msg=hook\.refused reason=` + r.reason + `\n`)
		before := len(line.FindAllString(x.svc.log.String(), -1))
		if got := x.request(r.method, r.kind, r.signature, r.body); got != r.status {
			t.Errorf("%s %s: status %d, want %d", r.method, r.reason, got, r.status)
		}
		x.svc.wait(x.svc.log, "a refusal for "+r.reason, func(s string) bool { return len(line.FindAllString(s, -1)) == before+1 })
	}
	x.says(patient, "P1") // and it still hears
	if got := x.texts(patient, 2)[1]; !strings.HasPrefix(got, "1 noted") {
		t.Errorf("the answer after the refusals:\n%s", got)
	}
	x.svc.stop()
	x.keptQuiet(x.svc.log.String())
	x.heard(map[string]int{"P1": 1})
	if alerts := messages(t, filepath.Join(x.dir, "data", "spool"), "clinician"); len(alerts) != 0 {
		t.Errorf("refused requests have alerted the clinician:\n%s", strings.Join(alerts, "\n--\n"))
	}
}

// TestHookAddressTaken starts a service whose web hook can't be opened: it
// says so and ends, rather than run without hearing anybody.
func TestHookAddressTaken(t *testing.T) {
	t.Parallel()
	x := newTexting(t)
	x.texts(patient, 1)
	other := folderOf(t, map[string]string{
		"stepgate.yaml":             read(t, x.dir, "stepgate.yaml"),
		"enrollments.yaml":          read(t, x.dir, "enrollments.yaml"),
		"programs/settling-in.yaml": read(t, x.dir, "programs/settling-in.yaml"),
	})
	got := wantRun(t, exitNotWell, x.env, "serve", other)
	if !has("open the web address", "address already in use")(got.log) || has("serve.begun")(got.log) {
		t.Errorf("serve on an address that is taken:\n%s", got.log)
	}
	x.texts(patient, 1) // the other sent nothing
	x.svc.stop()
}
