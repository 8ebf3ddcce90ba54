package daemon

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepgate/notify"
	"stepgate/rules"
)

// copied makes a backup, and returns what loses the journal with its disk and
// starts anew from that backup.
func (c *clinic) copied() (startAnew func()) {
	c.t.Helper()
	to := filepath.Join(c.t.TempDir(), "copy.db")
	if _, err := makeCopy(c.t.Context(), c.j, nil, to, c.clock.Now()); err != nil {
		c.t.Fatal(err)
	}
	return func() {
		c.t.Helper()
		c.die()
		if err := os.Remove(filepath.Join(c.data(), "journal.db")); err != nil {
			c.t.Fatal(err)
		}
		if _, err := Restore(c.t.Context(), to, c.dir, "", false, env); err != nil {
			c.t.Fatal(err)
		}
		c.start()
	}
}

// A reply that came in since the copy was made is read from the carrier's list
// again. It counts, and it is answered a second time, at whatever hour that is.
// The message of a day that is over is not.
func TestARestoredClinicAnswersAgain(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.at("2026-10-06 02:30")
	startAnew := c.copied()
	c.morning("2026-10-06")
	in := notify.Incoming{ID: "IN1", From: phone1, To: ourNumber, Text: "P8", At: c.clock.Now()}
	c.take("sms", in)
	c.send()
	answers := len(c.answersOut())
	c.at("2026-10-06 21:30")
	startAnew()
	c.take("sms", in) // as the list has it
	c.tick()
	if got := len(c.answersOut()); got != 2*answers || answers != 1 {
		t.Errorf("%d answers, %d before", got, answers)
	}
	if n := len(c.texts("sms", phone1)); n != 2+2*answers {
		t.Errorf("%d texts: today's went out again", n)
	}
	c.morning("2026-10-07")
	if d := c.last("p-01"); d.State != rules.InPaused {
		t.Errorf("the pain does not count: %s", d.State)
	}
}

func (c *clinic) answersOut() (out []string) {
	for _, m := range c.sms.all() {
		if strings.HasPrefix(m.Key, "answer/") {
			out = append(out, m.Text)
		}
	}
	return out
}

// An answer by link stands nowhere but in the journal: a pause and an end of
// messages are lost with it. What is left of them are the mails of alerts.
func TestARestoredClinicForgetsLinks(t *testing.T) {
	c, before, startAnew := lostLinks(t)
	startAnew()
	c.morning("2026-10-07")
	// The program goes on, where the pause would have kept it and taken it back.
	if st := c.state("p-01"); st.Pause != nil || st.P != before.P+1 {
		t.Errorf("p-01 was at %d, and after the restore: %+v", before.P, st)
	}
	for _, to := range []string{"rosa@example.net", "emil@example.net"} {
		if n := len(c.texts("email", to)); n < 3 {
			t.Errorf("%d mails to %s: the restore knew more than its copy", n, to)
		}
	}
}

// Whoever had pain by those mails is noted as having called, and whoever sent a
// stop word is taken out of the files, before anything goes out.
func TestARestoredClinicIsToldAgain(t *testing.T) {
	c, _, startAnew := lostLinks(t)
	p := c.patient("p-01")
	p.entries = append(p.entries, "report: 2026-10-06, said: P8")
	c.patients = []*enrolled{p}
	c.write()
	sent := len(c.texts("email", "emil@example.net"))
	startAnew()
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 1, 2, rules.Paused)
	if n := len(c.texts("email", "emil@example.net")); n != sent {
		t.Errorf("%d mails to emil, %d before", n, sent)
	}
}

// lostLinks is a clinic of which a copy was made before one patient reported
// pain by link and another ended the messages, and what loses the rest.
func lostLinks(t *testing.T) (c *clinic, before rules.State, startAnew func()) {
	t.Helper()
	c, web := linked(t)
	c.morning("2026-10-05")
	c.morning("2026-10-06")
	startAnew = c.copied()
	links := map[string]string{}
	for _, l := range c.hrefs("rosa@example.net") {
		links[c.said(l)] = l
	}
	for _, m := range c.email.all() {
		if m.To == "emil@example.net" {
			links["stop"] = strings.TrimPrefix(m.Unsubscribe, publicAddress)
		}
	}
	for _, what := range []string{"p8", "stop"} {
		if status, _ := ask(t, web, "POST", links[what], url.Values{}); status != http.StatusOK {
			t.Fatalf("%s: %d", what, status)
		}
	}
	before = c.state("p-01")
	c.at("2026-10-06 21:30")
	c.tick()
	mails := strings.Join(c.mails(), "\n")
	if before.Pause == nil || !strings.Contains(mails, "pain 8") || !strings.Contains(mails, "sent a stop word") {
		t.Fatalf("not paused and told before the loss: %+v\n%s", before.Pause, mails)
	}
	return c, before, startAnew
}
