package daemon

import (
	"context"
	"errors"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// A process that dies in the middle of a hand-over: nothing is written to the
// journal any more. The message arrived or did not.
type dying struct {
	notify.Sender
	c       *clinic
	arrives bool
}

func (d *dying) Send(ctx context.Context, m notify.Message) notify.Result {
	res := notify.Result{Status: notify.Unknown}
	if d.arrives {
		res = d.Sender.Send(ctx, m)
	}
	if err := d.c.j.Close(); err != nil {
		d.c.t.Error(err)
	}
	return res
}

// diesIn has the process die in the next hand-over on a channel.
func (c *clinic) diesIn(channel string, arrives bool) {
	ch := c.channels[channel]
	alive := ch.Sender
	ch.Sender = &dying{Sender: alive, c: c, arrives: arrives}
	c.channels[channel] = ch
	c.revive = func() {
		ch.Sender = alive
		c.channels[channel] = ch
	}
}

// morningOfDeath is a tick at nine that the process does not survive.
func (c *clinic) morningOfDeath(date string) {
	c.t.Helper()
	c.at(date + " 09:00")
	c.decide()
	c.deathInSend()
}

func (c *clinic) deathInSend() {
	c.t.Helper()
	if err := c.s.SendWaiting(context.Background()); !errors.Is(err, journal.ErrClosed) {
		c.t.Fatalf("the process lives: %v", err)
	}
	c.revive()
	c.die()
}

func TestDeathAfterTheDecision(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-06 09:00")
	c.decide()
	c.die()
	c.at("2026-10-06 09:30")
	c.start()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	if n := len(c.decisions("p-01")); n != 2 {
		t.Fatalf("decided %d times", n)
	}
}

// A reply that came while nobody ran takes the decided message back.
func TestDeathAfterTheDecisionAndAReplyMeanwhile(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-06 09:00")
	c.decide()
	c.die()
	c.drop("box-p-01", "", "P5\n")
	c.at("2026-10-06 09:30")
	c.start()
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.PainHeld)
}

func TestDeathInTheHandOver(t *testing.T) {
	for name, arrives := range map[string]bool{"the file lies there": true, "there is no file": false} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSpool("p-01"))
			c.morning("2026-10-05")
			c.diesIn("spool", arrives)
			c.morningOfDeath("2026-10-06")
			c.at("2026-10-06 09:30")
			c.start()
			c.tick()
			c.at("2026-10-06 09:35")
			c.tick()
			c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
			c.wantRow("p-01", "2026-10-06", journal.Sent)
			c.morning("2026-10-07")
			c.wantStands("p-01", "2026-10-07", 3, 3, rules.Tick)
			if c.logged("out.recovered") != 1 {
				t.Error("the log does not tell of it")
			}
		})
	}
}

func TestDeathInTheHandOverAndBackTheNextDay(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.diesIn("spool", false)
	c.morningOfDeath("2026-10-06")
	c.at("2026-10-07 07:00")
	c.start()
	c.tick()
	c.wantRow("p-01", "2026-10-06", journal.Rejected)
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.NotSent)
	c.wantDaily("p-01", "Mon Oct 5", "Wed Oct 7")
}

// By text the carrier is asked; what two lists, a minute apart, do not show was
// not taken and goes out.
func TestDeathInTheHandOverOfAText(t *testing.T) {
	for name, arrives := range map[string]bool{"listed": true, "not listed": false} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSMS("p-01", phone1))
			c.morning("2026-10-05")
			c.diesIn("sms", arrives)
			c.morningOfDeath("2026-10-06")
			c.start()
			c.tick()
			if arrives {
				c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
			} else {
				c.wantDaily("p-01", "Mon Oct 5") // one list without it is not enough
				c.wantRow("p-01", "2026-10-06", journal.Unknown)
			}
			c.ticks("2026-10-06 09:05", 20*time.Second)
			c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
			if c.sms.tries != 2 { // the one that was cut off never came to the carrier
				t.Errorf("the carrier got %d, want 2", c.sms.tries)
			}
			c.wantAlerts()
			c.morning("2026-10-07")
			if d := c.last("p-01"); d.Why.Code != rules.Tick {
				t.Errorf("the next day: %q, want %q", d.Why.Code, rules.Tick)
			}
		})
	}
}

// killed commits what it takes, and dies before it is acknowledged.
type killed struct {
	*notify.Spool
}

var errKilled = errors.New("killed")

func (k killed) Collect(ctx context.Context, take notify.Take) error {
	return k.Spool.Collect(ctx, func(ctx context.Context, in notify.Incoming) error {
		if err := take(ctx, in); err != nil {
			return err
		}
		return errKilled
	})
}

func TestDeathBetweenHearingAndAcknowledging(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-05 18:00")
	ch := c.channels["spool"]
	c.channels["spool"] = Channel{Sender: ch.Sender, Receive: killed{c.spool}}
	c.drop("box-p-01", "", "P8\n")
	c.s.Collect(t.Context())
	c.die()
	c.channels["spool"] = ch
	c.start()
	c.tick()
	c.tick()
	if n := len(c.events("p-01", journal.Heard)); n != 1 {
		t.Fatalf("heard %d times", n)
	}
	if c.logged("in.duplicate") != 1 {
		t.Error("the second reading was not told of")
	}
	c.wantAnswers("p-01", "8 noted")
	c.wantAlerts("paused, pain 8")
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.Paused)
}

// An answer and an alert that were not handed over yet are not lost, nor sent
// twice.
func TestDeathInTheHandOverOfAnAnswer(t *testing.T) {
	for name, arrives := range map[string]bool{"the file lies there": true, "there is no file": false} {
		t.Run(name, func(t *testing.T) {
			c := newClinic(t, onSpool("p-01"))
			c.morning("2026-10-05")
			c.at("2026-10-05 18:00")
			c.drop("box-p-01", "", "P8\n")
			c.diesIn("spool", arrives)
			c.s.Collect(t.Context())
			c.deathInSend()
			c.start()
			c.tick()
			c.at("2026-10-05 18:05")
			c.tick()
			c.wantAnswers("p-01", "8 noted")
			c.wantAlerts("paused, pain 8")
		})
	}
}

// A stop in the middle of a look-up leaves it to the next start.
func TestStoppedWhileLookingUp(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.diesIn("sms", true)
	c.morningOfDeath("2026-10-05")
	c.start()
	ctx, stop := context.WithCancel(t.Context())
	c.sms.settle = func(notify.Message) notify.Result {
		stop() // the list can't be read to its end any more
		return notify.Result{Status: notify.Unknown, Code: "listing"}
	}
	if err := c.s.LookUp(ctx); err != nil {
		t.Fatal(err)
	}
	c.wantRow("p-01", "2026-10-05", journal.Unknown)
	c.sms.settle = nil
	c.restart()
	c.tick()
	c.wantRow("p-01", "2026-10-05", journal.Sent)
	c.wantDaily("p-01", "Mon Oct 5")
	c.wantAlerts()
}
