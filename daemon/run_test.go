package daemon

import (
	"context"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// The clock of a synctest bubble begins at midnight UTC on January 1, 2000,
// which is seven in the evening in New York; the first message is due there
// fourteen hours later. A bubble fails where a goroutine outlives it.

const tillNine = 14 * time.Hour

// running is a service that runs in a bubble.
type running struct {
	*clinic
	stop   context.CancelFunc
	done   chan struct{}
	err    error
	reread chan struct{}
}

// inBubble runs a clinic as [Serve] does, but for the sockets.
func inBubble(t *testing.T, patients []*enrolled, prepare func(*clinic, *RunOptions), story func(*running)) {
	synctest.Test(t, func(t *testing.T) {
		for _, p := range patients {
			p.from = "2000-01-01"
		}
		c := bareClinic(t, RealClock{}, patients...)
		o := RunOptions{Load: c.load, Poll: time.Hour}
		if prepare != nil {
			prepare(c, &o)
		}
		c.open()
		x := &running{clinic: c, done: make(chan struct{}), reread: make(chan struct{})}
		o.Reload = x.reread
		ctx, stop := context.WithCancel(t.Context())
		x.stop = stop
		go func() {
			defer close(x.done)
			x.err = c.s.Run(ctx, o)
		}()
		synctest.Wait()
		story(x)
		stop()
		<-x.done
	})
}

func (x *running) stopped() bool {
	select {
	case <-x.done:
		return true
	default:
		return false
	}
}

// wantOrder checks that log lines come in an order.
func (c *clinic) wantOrder(events ...string) {
	c.t.Helper()
	rest := c.logs.String()
	for _, e := range events {
		_, after, found := strings.Cut(rest, "msg="+e)
		if !found {
			c.t.Fatalf("no %s in its place; the log:\n%s", e, c.logs)
		}
		rest = after
	}
}

func TestRunLivesFromDayToDay(t *testing.T) {
	inBubble(t, []*enrolled{onSpool("p-01")}, nil, func(x *running) {
		time.Sleep(tillNine - time.Second)
		synctest.Wait()
		x.wantDaily("p-01")
		time.Sleep(time.Second)
		synctest.Wait()
		x.wantDaily("p-01", "Sat Jan 1")
		x.drop("box-p-01", "", "P5\n")
		time.Sleep(time.Hour) // the next reading
		synctest.Wait()
		x.wantAnswers("p-01", "5 noted")
		time.Sleep(23 * time.Hour)
		synctest.Wait()
		x.wantDaily("p-01", "Sat Jan 1", "Sun Jan 2")
		if d := x.last("p-01"); d.P != 1 {
			x.t.Fatalf("day %d", d.P)
		}
		if h := x.s.Health(); !h.OK || time.Since(h.LastTick) > time.Minute {
			x.t.Fatalf("health: %+v", h)
		}
		x.stop()
		x.stop() // a second signal
		<-x.done
		if x.err != nil {
			x.t.Fatal(x.err)
		}
		x.wantOrder("stop.begun", "stop.done")
		time.Sleep(48 * time.Hour)
		x.wantDaily("p-01", "Sat Jan 1", "Sun Jan 2")
		if h := x.s.Health(); h.OK {
			x.t.Fatal("health says nothing of the ticks that are missing")
		}
	})
}

func TestStopWaitsForTheSendInFlight(t *testing.T) {
	release := make(chan struct{})
	patients := []*enrolled{onSMS("p-01", phone1), onSMS("p-02", "+12125550124")}
	prepare := func(c *clinic, _ *RunOptions) {
		c.workers = 1
		release = make(chan struct{})
		c.sms.inside = func(context.Context, notify.Message) { <-release }
	}
	inBubble(t, patients, prepare, func(x *running) {
		time.Sleep(tillNine)
		synctest.Wait() // one is at the carrier, the other waits
		first, second := "p-01", "p-02"
		if x.row(dailyKey(second, x.date("2000-01-01"))).Status == journal.Handed { // by lot
			first, second = second, first
		}
		x.wantRow(first, "2000-01-01", journal.Handed)
		x.stop()
		time.Sleep(10 * time.Second)
		synctest.Wait()
		if x.stopped() {
			x.t.Fatal("it stopped with a message at the carrier")
		}
		close(release)
		<-x.done
		x.wantRow(first, "2000-01-01", journal.Sent)
		x.wantRow(second, "2000-01-01", journal.Pending) // never begun, not lost
		x.wantOrder("stop.begun", "out.sent", "stop.done")

		x.restart()
		x.s.Collect(x.t.Context())
		x.send()
		x.wantDaily("p-01", "Sat Jan 1")
		x.wantDaily("p-02", "Sat Jan 1")
	})
}

func TestStopCutsASendThatOutlastsTheGraceTime(t *testing.T) {
	patients := []*enrolled{onSMS("p-01", phone1)}
	prepare := func(c *clinic, o *RunOptions) {
		o.Grace = 20 * time.Second
		c.sms.next(cutOff)
		c.sms.inside = func(ctx context.Context, _ notify.Message) { <-ctx.Done() }
	}
	inBubble(t, patients, prepare, func(x *running) {
		time.Sleep(tillNine)
		synctest.Wait()
		began := time.Now()
		x.stop()
		<-x.done
		if took := time.Since(began); took != 20*time.Second {
			x.t.Fatalf("the stop took %s", took)
		}
		// What became of it is looked up by the next start.
		x.wantRow("p-01", "2000-01-01", journal.Handed)
		x.sms.settle = func(notify.Message) notify.Result { return notify.Result{Status: notify.Sent, ID: "FOUND"} }
		x.restart()
		x.lookUp()
		x.wantRow("p-01", "2000-01-01", journal.Sent)
		if x.sms.tries != 1 {
			x.t.Fatalf("sent %d times", x.sms.tries)
		}
	})
}

// One carrier that hangs keeps nobody else waiting, and a message in flight is
// not given out again.
func TestASlowSendHoldsUpNobodyElse(t *testing.T) {
	release := make(chan struct{})
	patients := []*enrolled{onSMS("p-01", phone1), onSpool("p-02")}
	prepare := func(c *clinic, _ *RunOptions) {
		release = make(chan struct{})
		c.sms.inside = func(context.Context, notify.Message) { <-release }
	}
	inBubble(t, patients, prepare, func(x *running) {
		time.Sleep(tillNine + 2*time.Hour)
		synctest.Wait()
		x.wantDaily("p-02", "Sat Jan 1")
		x.drop("box-p-02", "", "P9\n")
		time.Sleep(time.Hour)
		synctest.Wait()
		x.wantAlerts("paused, pain 9")
		if x.sms.tries != 1 {
			x.t.Fatalf("given out %d times", x.sms.tries)
		}
		close(release)
		synctest.Wait()
		x.wantDaily("p-01", "Sat Jan 1")
	})
}

// Most of a lane's workers hang: the few that are left go on with the rest at
// once, and wait for no tick.
func TestHangingSendsHoldUpNobodyElse(t *testing.T) {
	release := make(chan struct{})
	prepare := func(c *clinic, _ *RunOptions) {
		release = make(chan struct{})
		var begun atomic.Int32
		c.numbers = []config.SMSNumber{{Number: ourNumber, Rate: 1000}}
		c.sms.inside = func(context.Context, notify.Message) {
			if begun.Add(1) <= fewWorkers-2 {
				<-release
			}
		}
	}
	inBubble(t, crowd(80), prepare, func(x *running) {
		x.s.o.Workers = fewWorkers
		time.Sleep(tillNine + 20*time.Second) // the tick of nine, and none after it
		synctest.Wait()
		if x.sms.tries != 80 {
			x.t.Errorf("%d of 80 messages were begun", x.sms.tries)
		}
		close(release)
	})
}

func TestRunTriesAgain(t *testing.T) {
	prepare := func(c *clinic, _ *RunOptions) { c.sms.next(busy, busy, busy) }
	inBubble(t, []*enrolled{onSMS("p-01", phone1)}, prepare, func(x *running) {
		time.Sleep(tillNine + time.Hour)
		synctest.Wait()
		x.wantDaily("p-01", "Sat Jan 1")
		if x.sms.tries != 4 {
			x.t.Fatalf("tried %d times", x.sms.tries)
		}
	})
}

func TestRunReadsTheFilesAgainWhenAsked(t *testing.T) {
	inBubble(t, []*enrolled{onSpool("p-01")}, nil, func(x *running) {
		p := onSpool("p-02")
		p.from = "2000-01-01"
		x.patients = append(x.patients, p)
		x.write()
		time.Sleep(tillNine)
		synctest.Wait()
		x.wantDaily("p-02") // nobody asked
		x.reread <- struct{}{}
		time.Sleep(time.Minute)
		synctest.Wait()
		x.wantDaily("p-01", "Sat Jan 1")
		x.wantDaily("p-02", "Sat Jan 1")
	})
}

func TestRunCatchesUpAtOnce(t *testing.T) {
	prepare := func(*clinic, *RunOptions) { time.Sleep(tillNine + 30*time.Second) }
	inBubble(t, []*enrolled{onSpool("p-01")}, prepare, func(x *running) {
		x.wantDaily("p-01", "Sat Jan 1") // before the minute is over
	})
}

func TestStopBeforeStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := onSpool("p-01")
		p.from = "2000-01-01"
		c := bareClinic(t, RealClock{}, p)
		c.open()
		time.Sleep(tillNine)
		ctx, stop := context.WithCancel(t.Context())
		stop()
		if err := c.s.Run(ctx, RunOptions{Load: c.load}); err != nil {
			t.Fatal(err)
		}
		c.wantDaily("p-01")
		c.wantOrder("stop.begun", "stop.done")
	})
}

func TestAFailedStartLeavesNothingRunning(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := bareClinic(t, RealClock{}, onSpool("p-01"))
		c.open()
		if err := c.s.Run(t.Context(), RunOptions{Load: c.load, Tick: "every now and then"}); err == nil {
			t.Error("a tick nobody can read was taken")
		}
		c.die()
		if err := c.s.Run(t.Context(), RunOptions{Load: c.load}); err == nil {
			t.Error("it ran without a journal")
		}
		if c.logged("stop.begun") != 0 {
			t.Error("it had begun")
		}
		c.start()
	})
}

// A patient whose decision fails is passed over; everybody else gets theirs.
func TestOnePatientWhoCannotBeDecided(t *testing.T) {
	odd := onSpool("p-02")
	odd.program = "odd"
	set := &SetClock{}
	c := bareClinic(t, set, onSpool("p-01"), odd, onSpool("p-03"))
	c.set = set
	c.programs["odd"] = strings.Replace(programYAML, "program: steady", "program: odd", 1)
	c.at("2026-10-05 07:00")
	c.open()
	broken := c.s.Clinic().Programs["odd"]
	c.s.Clinic().Programs["odd"] = nil
	c.morning("2026-10-05")
	c.wantDaily("p-01", "Mon Oct 5")
	c.wantDaily("p-03", "Mon Oct 5")
	if !strings.Contains(c.logs.String(), "msg=day.failed id=p-02") {
		t.Fatalf("the log does not say so:\n%s", c.logs)
	}
	c.s.Clinic().Programs["odd"] = broken
	c.tick()
	c.wantDaily("p-02", "Mon Oct 5")
}
