package daemon

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// logs keeps what the service logs.
type logs struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *logs) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(p)
}

func (l *logs) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

// logged counts the log lines of an event.
func (c *clinic) logged(event string) int {
	return strings.Count(c.logs.String(), "msg="+event+" ") + strings.Count(c.logs.String(), "msg="+event+"\n")
}

// texts are what lies on a contact's phone, in order of time.
func (c *clinic) texts(channel, to string) []string {
	c.t.Helper()
	var out []string
	switch channel {
	case "sms":
		return c.sms.textsTo(to)
	case "email":
		return c.email.textsTo(to)
	}
	files, err := filepath.Glob(filepath.Join(c.box(to, "out"), "*.txt"))
	if err != nil {
		c.t.Fatal(err)
	}
	slices.Sort(files)
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			c.t.Fatal(err)
		}
		// Mail parts have a subject, which no phone shows.
		text := string(b)
		if strings.HasPrefix(text, "Subject: ") && to != "clinician-box" {
			_, text, _ = strings.Cut(text, "\n\n")
		}
		out = append(out, strings.TrimSpace(text))
	}
	return out
}

func (c *clinic) sent(id string) []string {
	c.t.Helper()
	p := c.patient(id)
	return c.texts(p.channel, p.to)
}

// dailyDate is how a daily message begins; no other text does.
var dailyDate = regexp.MustCompile(`^(?:Sun|Mon|Tue|Wed|Thu|Fri|Sat) [A-Z][a-z]{2} \d+`)

// daily lists the local dates of the daily messages on a patient's phone.
func (c *clinic) daily(id string) []string {
	c.t.Helper()
	var days []string
	for _, text := range c.sent(id) {
		if d := dailyDate.FindString(text); d != "" && !strings.Contains(text, "has not yet said that you can go on") {
			days = append(days, d)
		}
	}
	return days
}

func (c *clinic) wantDaily(id string, days ...string) {
	c.t.Helper()
	if got := c.daily(id); !slices.Equal(got, days) {
		c.t.Fatalf("daily messages on the phone of %s: %q, want %q", id, got, days)
	}
}

// answers are the texts of a patient that are no daily messages.
func (c *clinic) answers(id string) []string {
	c.t.Helper()
	return slices.DeleteFunc(c.sent(id), dailyDate.MatchString)
}

func (c *clinic) wantAnswers(id string, parts ...string) {
	c.t.Helper()
	wantEach(c, "answers to "+id, c.answers(id), parts)
}

// wantEach checks a list against a piece of each of its items.
func wantEach(c *clinic, what string, got, parts []string) {
	c.t.Helper()
	if len(got) != len(parts) {
		c.t.Fatalf("%s: %d, want %d\n%s", what, len(got), len(parts), strings.Join(got, "\n--\n"))
	}
	for i, part := range parts {
		if !strings.Contains(got[i], part) {
			c.t.Fatalf("%s, number %d: want %q in\n%s", what, i+1, part, got[i])
		}
	}
}

// alerts are what the clinic's people are told of, each as a mail would say it
// today; when and in which mails it goes out is another matter.
func (c *clinic) alerts() []string {
	c.t.Helper()
	var out []string
	c.view(func(tx *journal.Tx) error {
		w := &work{s: c.s, tx: tx, r: c.s.roster.Load(), now: c.clock.Now()}
		return tx.Alerts(func(r *journal.AlertRow) error {
			data, err := w.alertData(r)
			if err != nil || data == nil {
				return err
			}
			m := c.s.o.Words.Alert(words(w.r.clinic), *data)
			out = append(out, "Subject: "+m.Subject+"\n\n"+m.Text)
			return nil
		})
	})
	slices.Reverse(out) // oldest first
	return out
}

// inbox are the mails in the clinician's box.
func (c *clinic) inbox() []string {
	c.t.Helper()
	return c.texts("spool", "clinician-box")
}

func (c *clinic) wantAlerts(parts ...string) {
	c.t.Helper()
	wantEach(c, "alerts", c.alerts(), parts)
}

func (c *clinic) view(fn func(*journal.Tx) error) {
	c.t.Helper()
	if err := c.j.View(fn); err != nil {
		c.t.Fatal(err)
	}
}

func (c *clinic) person(id string) *journal.Person {
	c.t.Helper()
	var p *journal.Person
	c.view(func(tx *journal.Tx) (err error) { p, err = tx.Person(id); return err })
	if p == nil {
		c.t.Fatalf("%s is not in the journal", id)
	}
	return p
}

func (c *clinic) state(id string) rules.State {
	c.t.Helper()
	return c.person(id).State
}

func (c *clinic) row(key string) *journal.Row {
	c.t.Helper()
	var r *journal.Row
	c.view(func(tx *journal.Tx) (err error) { r, err = tx.Row(key); return err })
	if r == nil {
		c.t.Fatalf("no message %s in the outbox", key)
	}
	return r
}

// wantRow checks how far a patient's daily message of a date has come.
func (c *clinic) wantRow(id, date string, want journal.Status) {
	c.t.Helper()
	if r := c.row(dailyKey(id, c.date(date))); r.Status != want {
		c.t.Fatalf("message of %s to %s is %s (%s), want %s", date, id, r.Status, r.Code, want)
	}
}

// events lists what the journal has of a patient (empty: the clinic).
func (c *clinic) events(id string, kind journal.Kind) []journal.Event {
	c.t.Helper()
	var out []journal.Event
	c.view(func(tx *journal.Tx) error {
		return tx.Events(id, func(e journal.Event) error {
			if e.Kind == kind {
				out = append(out, e)
			}
			return nil
		})
	})
	return out
}

// decisions are those of a patient, in order, with those that were taken back.
func (c *clinic) decisions(id string) []rules.Decision {
	c.t.Helper()
	var out []rules.Decision
	c.view(func(tx *journal.Tx) error {
		return tx.Events(id, func(e journal.Event) error {
			switch {
			case e.Decision != nil:
				out = append(out, *e.Decision)
			case e.Out != nil && e.Out.Decision != nil:
				out = append(out, *e.Out.Decision)
			}
			return nil
		})
	})
	return out
}

// last is the latest decision.
func (c *clinic) last(id string) rules.Decision {
	c.t.Helper()
	all := c.decisions(id)
	if len(all) == 0 {
		c.t.Fatalf("nothing was decided for %s", id)
	}
	return all[len(all)-1]
}

// wantStands checks the latest decision: its date, P, W, and why P did what
// it did.
func (c *clinic) wantStands(id, date string, p, w int, why rules.Code) {
	c.t.Helper()
	d := c.last(id)
	if d.Date != c.date(date) || d.P != p || d.W != w || d.Why.Code != why {
		c.t.Fatalf("%s: decided %s P %d W %d %q (wear %q), want %s P %d W %d %q",
			id, d.Date, d.P, d.W, d.Why.Code, d.WearWhy.Code, date, p, w, why)
	}
}

// keepsQuiet checks the whole log for what must never be in it: names,
// contacts, secrets, and the words of every message in the journal.
func (c *clinic) keepsQuiet() {
	c.t.Helper()
	log := c.logs.String()
	words := map[string]string{clinicToken: "a secret"}
	for _, p := range c.patients {
		words[p.name], words[p.to] = "a name", "a contact"
	}
	c.view(func(tx *journal.Tx) error {
		return tx.All(func(e journal.Event) error {
			if e.Out != nil {
				words[e.Out.To] = "a contact"
				for line := range strings.Lines(e.Out.Text) {
					if len(line) > 12 { // an alert may have a carrier's code on a line
						words[strings.TrimSpace(line)] = "an outgoing text"
					}
				}
			}
			if e.In != nil {
				words[e.In.From], words[strings.TrimSpace(e.In.Text)] = "a contact", "an incoming text"
			}
			return nil
		})
	})
	for word, what := range words {
		if len(word) >= 6 && strings.Contains(log, word) {
			c.t.Errorf("the log has %s in it: %q\n%s", what, word, grep(log, word))
		}
	}
}
