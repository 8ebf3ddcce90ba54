package daemon

import (
	"strings"
	"testing"
	"time"
)

// machineClock is one that an admin sets, in a machine that goes on.
type machineClock struct {
	*SetClock
	went time.Duration
}

func (m *machineClock) Steady() time.Duration { return m.went }

// onMachine is a clinic on such a clock, at 07:00 on the day the devices are
// dispensed.
func onMachine(t *testing.T, patients ...*enrolled) (*clinic, *machineClock) {
	t.Helper()
	t.Parallel()
	m := &machineClock{SetClock: &SetClock{}}
	c := bareClinic(t, m, patients...)
	c.set = m.SetClock
	c.at("2026-10-05 07:00")
	c.open()
	return c, m
}

// live lets time go by, with a tick every ten minutes.
func (c *clinic) live(m *machineClock, d time.Duration) {
	c.t.Helper()
	for ; d > 0; d -= 10 * time.Minute {
		m.went += 10 * time.Minute
		m.Set(m.Now().Add(10 * time.Minute))
		c.tick()
	}
}

func (c *clinic) wantJumps(want ...string) {
	c.t.Helper()
	if n := c.logged("clock.jumped"); n != len(want) {
		c.t.Errorf("clock.jumped is logged %d times, want %d:\n%s", n, len(want), grep(c.logs.String(), "clock."))
	}
	for _, by := range want {
		if !strings.Contains(c.logs.String(), "msg=clock.jumped by="+by) {
			c.t.Errorf("no jump by %s is logged:\n%s", by, grep(c.logs.String(), "clock."))
		}
	}
}

// A clock that is put back by a day, and right again an hour later: nothing is
// sent twice or decided anew, and nothing is missed.
func TestClockPutBackByADay(t *testing.T) {
	c, m := onMachine(t, onSpool("p-01"), onSMS("p-02", phone1))
	c.live(m, 27*time.Hour) // 10:00 on October 6
	c.wantJumps()
	days := []string{"Mon Oct 5", "Tue Oct 6"}
	m.Set(m.Now().Add(-24 * time.Hour))
	c.live(m, time.Hour)
	c.wantJumps("-24h0m0s")
	if h := c.s.Health(); h.OK || !strings.Contains(strings.Join(h.Problems, "\n"), "clock") {
		t.Errorf("health with the clock a day behind: %+v", h)
	}
	c.wantDaily("p-01", days...)
	c.reply("p-01", "D P8") // pain is heard whatever the clock says
	c.wantAlerts("paused, pain 8")
	m.Set(m.Now().Add(24 * time.Hour))
	c.live(m, 24*time.Hour)
	c.wantJumps("-24h0m0s", "24h0m0s")
	if h := c.s.Health(); !h.OK {
		t.Errorf("health with the clock right again: %+v", h)
	}
	c.wantDaily("p-02", append(days, "Wed Oct 7")...)
	if n := len(c.decisions("p-02")); n != 3 {
		t.Errorf("decided %d times", n)
	}
}

// One that stays put back: the dates that were decided once are not decided
// again; the plan goes on with the next.
func TestClockThatStaysPutBack(t *testing.T) {
	c, m := onMachine(t, onSpool("p-01"))
	c.live(m, 27*time.Hour)
	m.Set(m.Now().Add(-24 * time.Hour))
	c.live(m, 47*time.Hour) // 09:00 on October 7
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Wed Oct 7")
	if h := c.s.Health(); !h.OK {
		t.Errorf("health once the clock is where it was: %+v", h)
	}
}

// A week that the clock skips is slept through: one message, for the date it
// shows, and no step made up for. Put right again, the service goes on once
// the clock is there, and says so meanwhile.
func TestClockPutForwardByAWeek(t *testing.T) {
	c, m := onMachine(t, onSpool("p-01"))
	c.live(m, 27*time.Hour)
	c.reply("p-01", "D P1")
	before := c.state("p-01").P
	m.Set(m.Now().Add(7 * 24 * time.Hour))
	c.live(m, time.Hour) // October 13
	c.wantJumps("168h0m0s")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Tue Oct 13")
	if p := c.state("p-01").P; p > before+1 {
		t.Errorf("program day %d came after %d", p, before)
	}
	if c.logged("day.slept") != 1 {
		t.Errorf("the days that were slept are not logged once:\n%s", c.logs)
	}
	m.Set(m.Now().Add(-7 * 24 * time.Hour))
	c.live(m, 48*time.Hour)
	c.wantJumps("168h0m0s", "-168h0m0s")
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Tue Oct 13")
	if h := c.s.Health(); h.OK || !strings.Contains(strings.Join(h.Problems, "\n"), "behind") {
		t.Errorf("health with the clock a week behind: %+v", h)
	}
	c.live(m, 6*24*time.Hour)
	c.wantDaily("p-01", "Mon Oct 5", "Tue Oct 6", "Tue Oct 13", "Wed Oct 14")
	if h := c.s.Health(); !h.OK {
		t.Errorf("health a week later: %+v", h)
	}
}

// A restart finds a clock that is behind, too.
func TestStartWithTheClockBehind(t *testing.T) {
	c, m := onMachine(t, onSpool("p-01"))
	c.live(m, 3*time.Hour)
	m.Set(m.Now().Add(-24 * time.Hour))
	c.restart()
	c.tick()
	c.wantDaily("p-01", "Mon Oct 5")
	if h := c.s.Health(); h.OK {
		t.Errorf("health: %+v", h)
	}
}
