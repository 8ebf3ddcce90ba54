package daemon

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

var errUnreadable = errors.New("mailbox of +12125550111 can't be read")

func TestNothingIsDecidedBeforeAnswersWereRead(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.sms.failing = errUnreadable
	c.ticks("2026-10-06 09:09", time.Minute)
	c.wantDaily("p-01", "Mon Oct 5")
	if n := len(c.decisions("p-01")); n != 1 {
		t.Fatalf("%d dates were decided", n)
	}
	c.at("2026-10-06 09:10") // the grace time ends
	c.tick()
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.Unheard)
	if d := c.last("p-01"); d.WearWhy.Code != rules.Unheard {
		t.Fatalf("the wear day did %q", d.WearWhy.Code)
	}
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6") // it goes out, with yesterday's load
	c.sms.failing = nil
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.Tick)
}

func TestHeardAgainWithinTheGraceTime(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.at("2026-10-06 08:59")
	c.tick() // read before the message time, which is not enough
	c.sms.failing = errUnreadable
	c.morning("2026-10-06")
	c.wantDaily("p-01", "Mon Oct 5")
	c.sms.failing = nil
	c.at("2026-10-06 09:05")
	c.tick()
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
}

func TestAnAnswerThatWaitsOnTheSpoolCountsFirst(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-06 08:59")
	c.drop("box-p-01", "", "P6\n") // nobody reads it before nine
	c.morning("2026-10-06")
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.BlockAgain)
	if d := c.last("p-01"); !d.Rest {
		t.Fatal("no rest day")
	}
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
}

// A file that is half written may hold anything: the day waits for it.
func TestAHalfWrittenAnswerIsWaitedFor(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-06 08:59")
	c.drop("box-p-01", "answer.txt", "P")
	c.morning("2026-10-06")
	c.wantDaily("p-01", "Mon Oct 5")
	if c.logged("spool.half_written") != 1 || c.logged("in.failed") != 1 {
		t.Fatalf("the log does not say so:\n%s", c.logs)
	}
	f, err := os.OpenFile(c.box("box-p-01", "in")+"/answer.txt", os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteString("5\n"); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	c.at("2026-10-06 09:01")
	c.tick()
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.PainHeld)
	if n := len(c.events("p-01", journal.Heard)); n != 1 {
		t.Fatalf("heard %d times", n)
	}
}

// After a start nothing is decided on what was read before it.
func TestAStartReadsAnswersFirst(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	c.at("2026-10-06 10:00")
	c.sms.failing = errUnreadable
	c.restart()
	c.tick()
	c.at("2026-10-06 10:09")
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")
	c.at("2026-10-06 10:10") // ten minutes from the start, not from nine
	c.tick()
	c.wantStands("p-01", "2026-10-06", 1, 1, rules.Unheard)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
}

// One channel that can't be read keeps nobody else waiting.
func TestOneDeafChannelHoldsUpNobodyElse(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1), onSpool("p-02"))
	c.sms.failing = errUnreadable
	c.morning("2026-10-05")
	c.wantDaily("p-01")
	c.wantDaily("p-02", "Mon Oct 5")
}

// What the carrier says about its list is told in words, in log and health.
func TestAListThatCannotBeReadSaysWhy(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.sms.failing = fmt.Errorf("collect sms: %w", notify.ListError{Code: "20003"})
	c.tick()
	if got := strings.Join(c.s.Health().Problems, " "); !strings.Contains(got, "the account or its token is wrong") {
		t.Errorf("health: %s", got)
	}
	if !strings.Contains(c.logs.String(), "msg=in.failed channel=sms error=20003") {
		t.Error("the log does not say why")
	}
}
