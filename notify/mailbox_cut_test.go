package notify

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
)

func fill(t *testing.T, o *postOffice, n int) (want []string) {
	t.Helper()
	for i := range n {
		text := fmt.Sprint("P", i)
		o.put(t, letterFrom(fmt.Sprint("m", i), text), testAt.Add(time.Duration(i)*time.Minute))
		want = append(want, text)
	}
	return want
}

// A connection that is cut after every number of bytes: what was taken stays
// taken, and the next Collect takes the rest, once, in order.
func TestMailboxCutAnywhere(t *testing.T) {
	o := newPostOffice(t, "none", nil)
	want := fill(t, o, 4)
	m, h, _ := mailReader(t, o, nil)
	collectMail(t, m, h)
	whole := o.said.Load()
	if whole < 1000 {
		t.Fatalf("the server said %d bytes", whole)
	}
	broken := 0
	for budget := int64(1); budget < whole; budget += 7 {
		m, h, at := mailReader(t, o, nil)
		*at = testAt.Add(time.Hour)
		o.budget.Store(budget)
		err := m.Collect(t.Context(), h.take)
		if err != nil {
			broken++
			if !m.Point().Equal(testAt) {
				t.Fatalf("cut after %d: point %s", budget, m.Point())
			}
		}
		first := len(h.got)
		o.budget.Store(0)
		collectMail(t, m, h)
		if got := h.texts(); !slices.Equal(got, want) || h.gave != len(want) {
			t.Fatalf("cut after %d: heard %q in %d, %d at first", budget, got, h.gave, first)
		}
		if !m.Point().Equal(*at) {
			t.Fatalf("cut after %d: point %s", budget, m.Point())
		}
	}
	// All but the farewell matters.
	if broken < int(whole/7)*8/10 {
		t.Errorf("%d of %d cuts were noticed", broken, whole/7)
	}
}

// The same where the process ends too: only the ids remain.
func TestMailboxCutAndStartedAnew(t *testing.T) {
	o := newPostOffice(t, "none", nil)
	want := fill(t, o, 4)
	h := &heard{}
	again := func() *Mailbox {
		m, _, _ := mailReader(t, o, func(c *MailboxConfig) { c.Seen = h.seen })
		return m
	}
	collectMail(t, again(), &heard{})
	step := o.said.Load() / 9
	for i := range 9 {
		o.budget.Store(step * int64(i+1))
		_ = again().Collect(t.Context(), h.take)
	}
	o.budget.Store(0)
	collectMail(t, again(), h)
	if got := h.texts(); !slices.Equal(got, want) || h.gave != len(want) {
		t.Errorf("heard %q in %d", got, h.gave)
	}
}

func TestMailboxTakeFails(t *testing.T) {
	o, m, h, at := office(t)
	want := fill(t, o, 4)
	*at = testAt.Add(time.Hour)
	h.fail = func(in Incoming) error {
		if in.Text == "P2" {
			return errTake
		}
		return nil
	}
	err := m.Collect(t.Context(), h.take)
	if !errors.Is(err, errTake) || strings.Contains(err.Error(), testTo[1:]) {
		t.Errorf("error %v", err)
	}
	if got := h.texts(); !slices.Equal(got, want[:2]) || !m.Point().Equal(testAt) {
		t.Errorf("heard %q up to %s", got, m.Point())
	}
	h.fail, h.gave = nil, 0
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, want) || h.gave != 2 || !m.Point().Equal(*at) {
		t.Errorf("heard %q, gave %d, up to %s", got, h.gave, m.Point())
	}
}

// News that can't be committed stops a Collect as a mail does.
func TestMailboxTellFails(t *testing.T) {
	o := newPostOffice(t, "none", nil)
	o.put(t, bounceOf("5.1.1", "failed"), testAt)
	o.put(t, letterFrom("one", "P1"), testAt.Add(time.Minute))
	fail, news := true, &told{}
	m, h, _ := mailReader(t, o, func(c *MailboxConfig) {
		c.Tell = func(ctx context.Context, n News) error {
			if fail {
				return errTake
			}
			return news.tell(ctx, n)
		}
	})
	if err := m.Collect(t.Context(), h.take); !errors.Is(err, errTake) || len(h.got) != 0 {
		t.Errorf("%v, heard %+v", err, h.got)
	}
	fail = false
	collectMail(t, m, h)
	if len(news.got) != 1 || len(h.got) != 1 {
		t.Errorf("told %+v, heard %+v", news.got, h.got)
	}
}

// A server that goes quiet, at its time and at a stop.
func TestMailboxHang(t *testing.T) {
	o, m, h, _ := office(t)
	fill(t, o, 1)
	quiet := make(chan struct{})
	defer close(quiet)
	asked := make(chan struct{}, 2)
	o.fetch = func(imap.NumSet, *imap.FetchOptions) error { asked <- struct{}{}; <-quiet; return nil }
	m.cfg.Timeout = 50 * time.Millisecond
	if err := m.Collect(t.Context(), h.take); err == nil || err.Error() != "collect mail: list the folder: timeout" {
		t.Errorf("quiet: %v", err)
	}
	<-asked
	m.cfg.Timeout = time.Minute
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-asked; cancel() }()
	if err := m.Collect(ctx, h.take); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	silent, h, _ := mailReader(t, &postOffice{port: listenQuietly(t)}, func(c *MailboxConfig) { c.Timeout = 20 * time.Millisecond })
	if err := silent.Collect(t.Context(), h.take); err == nil || err.Error() != "collect mail: connect: timeout" {
		t.Errorf("no greeting: %v", err)
	}
	gone, h, _ := mailReader(t, &postOffice{port: closedPort(t)}, nil)
	if err := gone.Collect(t.Context(), h.take); err == nil || err.Error() != "collect mail: connect: refused" {
		t.Errorf("refused: %v", err)
	}
}
