package daemon

import (
	"context"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"stepgate/config"
)

// TestStuck: the service is alive as long as its loop comes round, whatever
// else works, and as long as the journal answers.
func TestStuck(t *testing.T) {
	inBubble(t, []*enrolled{onSpool("p-01")}, nil, func(x *running) {
		time.Sleep(48 * time.Hour)
		synctest.Wait()
		if why := x.s.stuck(); why != "" {
			t.Fatalf("while it works: %q", why)
		}
		x.stop()
		<-x.done
		time.Sleep(tickLate)
		if why := x.s.stuck(); why != "" {
			t.Fatalf("just before it is late: %q", why)
		}
		time.Sleep(time.Minute)
		if why := x.s.stuck(); why != "no tick" {
			t.Fatalf("without ticks: %q", why)
		}
		x.s.turned()
		if why := x.s.stuck(); why != "" {
			t.Fatalf("after a tick: %q", why)
		}
		x.die()
		if why := x.s.stuck(); why != "journal" {
			t.Fatalf("with the journal closed: %q", why)
		}
	})
}

// TestStuckInALoad: work that hangs holds up the loop.
func TestStuckInALoad(t *testing.T) {
	var let chan struct{}
	hang := func(c *clinic, o *RunOptions) {
		let = make(chan struct{}) // in the bubble
		o.Load = func() (*config.Clinic, config.Problems) {
			<-let
			return c.load()
		}
	}
	inBubble(t, []*enrolled{onSpool("p-01")}, hang, func(x *running) {
		x.reread <- struct{}{}
		time.Sleep(tickLate + time.Minute)
		if why := x.s.stuck(); why != "no tick" {
			t.Errorf("while a reading hangs: %q", why)
		}
		close(let)
		time.Sleep(time.Minute)
		synctest.Wait()
		if why := x.s.stuck(); why != "" {
			t.Errorf("once it ended: %q", why)
		}
	})
}

// TestWatchdog: the manager hears of life only while there is some, and the
// log of its end once.
func TestWatchdog(t *testing.T) {
	dir, err := os.MkdirTemp("", "sg") // a short path
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	path := filepath.Join(dir, "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	t.Setenv("NOTIFY_SOCKET", path)
	log := &logs{}
	m := &manager{log: slog.New(slog.NewTextHandler(log, nil))}
	ctx, stop := context.WithCancel(t.Context())
	looks := []string{"", "", "no tick", "no tick", "no tick", "", "journal", ""}
	n := 0
	m.watchdog(ctx, time.Millisecond, func() string {
		if n++; n == len(looks) {
			stop()
		}
		return looks[n-1]
	})
	m.tell("END=1")
	heard := 0
	for buf := make([]byte, 100); ; heard++ {
		k, err := conn.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		if got := string(buf[:k]); got == "END=1" {
			break
		} else if got != "WATCHDOG=1" {
			t.Errorf("told: %q", got)
		}
	}
	if heard != 4 {
		t.Errorf("told %d times that it is alive, want 4", heard)
	}
	if got := log.String(); strings.Count(got, "watchdog.withheld") != 2 || !strings.Contains(got, `error="no tick"`) || !strings.Contains(got, "error=journal") {
		t.Errorf("the log:\n%s", got)
	}
}
