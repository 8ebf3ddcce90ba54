package daemon

import (
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/notify"
)

// Every test holds its whole log against names, contacts, secrets and texts;
// see [clinic.keepsQuiet]. Here the log sees every path and every fault that
// the others may not.
func TestTheLogKeepsQuietAboutPeople(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1), onSpool("p-02"), onSMS("p-03", "+12125550124"),
		onSMS("p-04", "+12125550125"), onSMS("p-05", "+12125550126"))
	p := onSpool("p-06")
	p.channel, p.to = "email", "pat.canary@example.net"
	c.patients = append(c.patients, p)
	c.mustReload()

	c.sms.next(busy, noSuch, optedOff, cutOff)
	c.morning("2026-10-05")
	c.ticks("2026-10-05 10:00", 5*time.Minute)
	c.reply("p-02", "xyzzy plugh my address is 12 Canary Row")
	c.reply("p-02", "I have chest pain, call Quillon on "+stranger)
	c.reply("p-05", "sorry, wrong number, this is Abernathy")
	c.reply("p-06", "D P1 all is well")
	c.replyFrom("sms", stranger, "who is this Quillon?")
	in := notify.Incoming{ID: "IN-AGAIN", From: phone1, Text: "done, 3/10 thank you"}
	c.take("sms", in)
	c.take("sms", in)
	c.drop("box-p-02", "half.txt", "half a sentence of mine")
	c.drop("box-p-02", "long.txt", strings.Repeat("a very long sentence of mine ", 1000)+"\n")
	c.sms.failing = errUnreadable // its words hold a number
	c.tick()
	c.sms.failing = nil
	c.fileFaults()
	c.hookFaults()
	c.morning("2026-10-07")
	c.at("2026-10-08 22:00")
	c.tick()

	// The journal is gone under the service: nothing can be committed.
	c.drop("box-p-02", "last.txt", "a last sentence of mine\n")
	if err := c.j.Close(); err != nil {
		t.Fatal(err)
	}
	c.s.Collect(t.Context())
	const sid = "SM00000000000000000000000000000001"
	if got := c.text(sid, phone1, "another sentence of mine"); got != http.StatusServiceUnavailable {
		t.Errorf("a text that was not committed is answered %d", got)
	}
	if err := c.s.Tick(t.Context()); err == nil {
		t.Error("a tick without a journal")
	}
	c.die()
	c.start()
	for range 2 { // the carrier tries again, and again
		if got := c.text(sid, phone1, "another sentence of mine"); got != http.StatusOK {
			t.Errorf("a text that was committed is answered %d", got)
		}
	}
	c.tick()

	for _, event := range []string{
		"files.accepted", "files.problem", "files.refused", "files.restart_needed", "day.decided", "day.slept",
		"out.sent", "out.retry", "out.rejected", "out.unknown", "in.taken", "in.duplicate", "in.stranger",
		"in.failed", "alert.made", "hook.refused", "hook.failed", "spool.refused", "spool.half_written",
	} {
		if c.logged(event) == 0 {
			t.Errorf("the story never logged %s", event)
		}
	}
	for _, word := range []string{"Abernathy", "Canary Row", "pat.canary", "sentence of mine", "Quillon", phone1, stranger} {
		if strings.Contains(c.logs.String(), word) {
			t.Errorf("the log has %q in it:\n%s", word, grep(c.logs.String(), word))
		}
	}
}

func grep(text, word string) string {
	var found strings.Builder
	for line := range strings.Lines(text) {
		if strings.Contains(line, word) {
			found.WriteString(line)
		}
	}
	return found.String()
}

// fileFaults are edits that went wrong, with what is private in the wrong
// place.
func (c *clinic) fileFaults() {
	c.t.Helper()
	good := c.settings
	for _, bad := range []string{
		strings.Replace(good, "{env: SMS_TOKEN}", clinicToken, 1),
		strings.Replace(good, "{env: SMS_TOKEN}", "{env: "+clinicToken+"}", 1),
		strings.Replace(good, `"+12125550100"`, `"+1 212 555 0100 ext 7"`, 1),
		strings.Replace(good, "clinic@example.com", "Canary Row <pat.canary@example.com>", 1),
	} {
		c.settings = bad
		if err := c.reload(); err == nil {
			c.t.Errorf("accepted:\n%s", bad)
		}
	}
	c.settings = strings.Replace(good, `"+12125550100"`, `"+12125550101"`, 1)
	p := c.patient("p-01")
	was := p.to
	for _, to := range []string{"+1212555012", "+12125550124", "Quillon"} {
		p.to = to
		if err := c.reload(); err == nil {
			c.t.Errorf("accepted %s", to)
		}
	}
	p.to = was
	c.mustReload()
}

// hook is the real web hook, signed with the clinic's token.
func (c *clinic) hook() http.Handler {
	c.t.Helper()
	sms, err := notify.NewSMS(notify.SMSConfig{Account: "ACdemo0001", Token: clinicToken, Numbers: []string{ourNumber}})
	if err != nil {
		c.t.Fatal(err)
	}
	return sms.Hook(hookAddress, c.s.Take("sms"), c.log())
}

const hookAddress = "https://clinic.example.com/sms"

// post gives the web hook a form and returns how it was answered.
func (c *clinic) post(body, signature string) int {
	r := httptest.NewRequest(http.MethodPost, "/sms", strings.NewReader(body))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Twilio-Signature", signature)
	w := httptest.NewRecorder()
	c.hook().ServeHTTP(w, r)
	return w.Code
}

// text is a signed text: HMAC-SHA-1 over the address and the sorted
// parameters, as the carrier documents it.
func (c *clinic) text(id, from, text string) int {
	mac := hmac.New(sha1.New, []byte(clinicToken))
	mac.Write([]byte(hookAddress + "Body" + text + "From" + from + "MessageSid" + id))
	form := url.Values{"Body": {text}, "From": {from}, "MessageSid": {id}}
	return c.post(form.Encode(), base64.StdEncoding.EncodeToString(mac.Sum(nil)))
}

// hookFaults are requests that are no texts.
func (c *clinic) hookFaults() {
	c.t.Helper()
	for body, want := range map[string]int{
		"From=%2B12125550111&Body=a+sentence+of+mine": http.StatusForbidden,
		"%zz":                      http.StatusBadRequest,
		strings.Repeat("x", 2<<20): http.StatusRequestEntityTooLarge,
	} {
		if got := c.post(body, "bm90IHNpZ25lZA=="); got != want {
			c.t.Errorf("answered %d, want %d", got, want)
		}
	}
}

// TestLogEventsAreListed holds the events that the sources name against the
// list in the README, which is a contract.
func TestLogEventsAreListed(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	listed := map[string]bool{}
	name := regexp.MustCompile("`([a-z]+\\.[a-z_]+)`")
	for line := range strings.Lines(string(readme)) {
		if !strings.HasPrefix(line, "| `") {
			continue
		}
		first, _, _ := strings.Cut(line[2:], "|")
		for _, m := range name.FindAllStringSubmatch(first, -1) {
			listed[m[1]] = true
		}
	}
	said := map[string]bool{}
	call := regexp.MustCompile(`(?:Log|log)\.(?:Info|Warn|Error)(?:Context)?\((?:ctx, )?"([^"]+)"|w\.log\([^"]*"([^"]+)"`)
	for _, dir := range []string{".", "../notify"} {
		files, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if !strings.HasSuffix(f.Name(), ".go") || strings.HasSuffix(f.Name(), "_test.go") {
				continue
			}
			text, err := os.ReadFile(dir + "/" + f.Name())
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range call.FindAllStringSubmatch(string(text), -1) {
				said[m[1]+m[2]] = true
			}
		}
	}
	if len(said) < 20 {
		t.Fatalf("only %d events found in the sources: %v", len(said), said)
	}
	for event := range said {
		if event != "out." && !listed[event] {
			t.Errorf("%s is logged and not listed in README.md", event)
		}
	}
	for event := range listed {
		if !said[event] && !strings.HasPrefix(event, "out.") {
			t.Errorf("%s is listed in README.md and never logged", event)
		}
	}
}
