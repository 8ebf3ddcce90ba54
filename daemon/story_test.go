package daemon

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"stepgate/notify"
	"stepgate/rules"
)

// What happens in a story: time passes, the service ticks, patients answer,
// the clinician writes.

// enter adds a clinician's entry to a patient's file and has it read.
func (c *clinic) enter(id, entry string) {
	c.t.Helper()
	p := c.patient(id)
	p.entries = append(p.entries, entry)
	c.mustReload()
}

// at sets the clock to a time in New York.
func (c *clinic) at(local string) {
	c.t.Helper()
	t, err := time.ParseInLocation("2006-01-02 15:04", local, c.zone)
	if err != nil {
		c.t.Fatal(err)
	}
	c.set.Set(t)
}

// tick is what the service does once a minute.
func (c *clinic) tick() {
	c.t.Helper()
	c.decide()
	c.lookUp()
	c.send()
}

// lookUp is what the running service does beside its ticks.
func (c *clinic) lookUp() {
	c.t.Helper()
	if err := c.s.LookUp(context.Background()); err != nil {
		c.t.Fatalf("look up: %v", err)
	}
	for name := range c.channels {
		c.s.askNews(context.Background(), name)
	}
}

// decide is the half of a tick that decides and sends nothing.
func (c *clinic) decide() {
	c.t.Helper()
	c.s.Collect(context.Background())
	if err := c.s.Tick(context.Background()); err != nil {
		c.t.Fatalf("tick: %v", err)
	}
}

// send is the other half.
func (c *clinic) send() {
	c.t.Helper()
	if err := c.s.SendWaiting(context.Background()); err != nil {
		c.t.Fatalf("send: %v", err)
	}
}

// ticks lets the clock run from where it stands, a tick at a time.
func (c *clinic) ticks(until string, every time.Duration) {
	c.t.Helper()
	end, err := time.ParseInLocation("2006-01-02 15:04", until, c.zone)
	if err != nil {
		c.t.Fatal(err)
	}
	for now := c.clock.Now(); now.Before(end); now = now.Add(every) {
		c.set.Set(now)
		c.tick()
	}
	c.set.Set(end)
	c.tick()
}

// morning is the tick at nine on a date.
func (c *clinic) morning(date string) {
	c.t.Helper()
	c.at(date + " 09:00")
	c.tick()
}

// mornings are the dates from..to, each with a tick at nine and, in the
// evening, a reply (none where it is empty).
func (c *clinic) mornings(id, from, to, reply string) {
	c.t.Helper()
	for d := c.date(from); d <= c.date(to); d++ {
		c.morning(d.String())
		if reply != "" {
			c.at(d.String() + " 18:00")
			c.reply(id, reply)
		}
	}
}

func (c *clinic) date(s string) rules.Date {
	c.t.Helper()
	d, err := rules.ParseDate(s)
	if err != nil {
		c.t.Fatal(err)
	}
	return d
}

// box is a patient's folder on the spool.
func (c *clinic) box(to, folder string) string {
	return filepath.Join(c.data(), "spool", to, folder)
}

// drop puts an answer where the service has not read it yet. The name is
// the file's; empty: the next in order.
func (c *clinic) drop(to, name, text string) {
	c.t.Helper()
	c.replies++
	if name == "" {
		name = fmt.Sprintf("%04d.txt", c.replies)
	}
	dir := c.box(to, "in")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		c.t.Fatal(err)
	}
	part := filepath.Join(dir, "."+name)
	if err := os.WriteFile(part, []byte(text), 0o600); err != nil {
		c.t.Fatal(err)
	}
	if err := os.Rename(part, filepath.Join(dir, name)); err != nil {
		c.t.Fatal(err)
	}
}

// reply is a patient's answer, taken and answered.
func (c *clinic) reply(id, text string) {
	c.t.Helper()
	p := c.patient(id)
	c.replyFrom(p.channel, p.to, text)
}

func (c *clinic) replyFrom(channel, from, text string) {
	c.t.Helper()
	if channel == "spool" {
		c.drop(from, "", text+"\n")
		c.s.Collect(context.Background())
	} else {
		c.replies++
		c.take(channel, notify.Incoming{ID: fmt.Sprintf("IN%04d", c.replies), From: from, Text: text})
	}
	c.send()
}

// take gives the service one incoming message, as a web hook does.
func (c *clinic) take(channel string, in notify.Incoming) {
	c.t.Helper()
	in.At = c.clock.Now()
	if err := c.s.Take(channel)(context.Background(), in); err != nil {
		c.t.Fatalf("take: %v", err)
	}
}
