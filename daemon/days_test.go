package daemon

import (
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

func TestOneMessageADayInsideTextingHours(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.ticks("2026-10-05 08:59", time.Minute)
	c.wantDaily("p-01")
	c.at("2026-10-05 09:00")
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")
	c.ticks("2026-10-06 08:55", 5*time.Minute)
	c.wantDaily("p-01", "Mon Oct 5")
	c.tick()
	c.ticks("2026-10-06 23:00", 5*time.Minute)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
	c.wantAlerts()
}

func TestBackWithinHoursSendsTodaysOnly(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.die()
	c.at("2026-10-06 20:59")
	c.start()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6")
	c.wantStands("p-01", "2026-10-06", 2, 2, rules.Tick)
}

func TestBackAfterHoursSendsNothingAndSaysSo(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.die()
	c.at("2026-10-06 21:00")
	c.start()
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")
	if n := c.logged("day.slept"); n != 1 {
		t.Fatalf("day.slept was logged %d times", n)
	}
	c.morning("2026-10-07")
	c.wantStands("p-01", "2026-10-07", 2, 2, rules.Tick)
	c.wantDaily("p-01", "Mon Oct 5", "Wed Oct 7")
}

func TestThreeDaysDownLeaveNoBacklog(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.die()
	c.at("2026-10-09 09:30")
	c.start()
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Fri Oct 9")
	c.wantStands("p-01", "2026-10-09", 2, 2, rules.Tick) // a day's growth, not four
	var dates []rules.Date
	for _, d := range c.decisions("p-01") {
		dates = append(dates, d.Date)
	}
	if len(dates) != 2 {
		t.Fatalf("decided: %v", dates)
	}
	if !strings.Contains(c.logs.String(), "msg=day.slept id=p-01 first=2026-10-06 last=2026-10-08") || c.logged("day.slept") != 1 {
		t.Fatalf("the log does not say which dates were slept through:\n%s", c.logs)
	}
}

// A machine that was put to sleep wakes up with the same process.
func TestThreeDaysAsleepLeaveNoBacklog(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-09 09:30")
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Fri Oct 9")
	if !strings.Contains(c.logs.String(), "msg=day.slept id=p-01 first=2026-10-06 last=2026-10-08") || c.logged("day.slept") != 1 {
		t.Fatalf("the log does not say which dates were slept through:\n%s", c.logs)
	}
}

func TestClockSetBackADaySendsNothingTwice(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-07", "D")
	c.at("2026-10-06 08:00")
	c.ticks("2026-10-07 20:00", 20*time.Minute)
	c.restart()
	c.ticks("2026-10-08 12:00", 20*time.Minute)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Wed Oct 7", "Thu Oct 8")
	c.wantStands("p-01", "2026-10-08", 4, 4, rules.Tick)
}

func TestClockSetForwardAWeekLeavesNoBacklog(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "")
	c.morning("2026-10-13")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Tue Oct 13")
	c.wantStands("p-01", "2026-10-13", 3, 3, rules.Tick)
	c.morning("2026-10-07") // and set right again
	c.mornings("p-01", "2026-10-08", "2026-10-14", "")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Tue Oct 13", "Wed Oct 14")
}

// A message decided and not handed over yet when the clock jumps is never
// handed over on another date.
func TestClockJumpsWhileAMessageWaits(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	c.at("2026-10-06 09:00")
	c.decide()
	c.at("2026-10-08 10:00")
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Thu Oct 8")
	c.at("2026-10-09 09:00")
	c.decide()
	c.at("2026-10-08 11:00")
	c.tick()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5", "Thu Oct 8")
	c.morning("2026-10-09")
	c.wantDaily("p-01", "Mon Oct 5", "Thu Oct 8", "Fri Oct 9")
}
