package notify

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

const testFrom2 = "+12025550101"

// heard takes incoming messages as the journal does: each id once.
type heard struct {
	mu   sync.Mutex
	got  []Incoming
	ids  map[string]bool
	fail func(Incoming) error // nil: takes all
	gave int                  // times take was called
}

func (h *heard) take(_ context.Context, in Incoming) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.gave++
	if h.fail != nil {
		if err := h.fail(in); err != nil {
			return err
		}
	}
	if h.ids == nil {
		h.ids = map[string]bool{}
	}
	if !h.ids[in.ID] {
		h.ids[in.ID] = true
		h.got = append(h.got, in)
	}
	return nil
}

func (h *heard) seen(id string) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.ids[id]
}

func (h *heard) texts() []string {
	var out []string
	for _, in := range h.got {
		out = append(out, in.Text)
	}
	return out
}

// collector is an SMS with two numbers over a stand-in whose clock and its
// own say at, and what it heard.
func collector(t *testing.T, since time.Time) (*carriertest.Server, *SMS, *heard, *time.Time) {
	t.Helper()
	carrier := newCarrier(t)
	h := &heard{}
	s, err := NewSMS(SMSConfig{
		Account: testAccount, Token: testToken, Numbers: []string{testFrom, testFrom2},
		API: carrier.URL(), Seen: h.seen, Since: since,
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	at := testAt
	s.now = func() time.Time { return at }
	carrier.SetClock(func() time.Time { return at })
	return carrier, s, h, &at
}

func collect(t *testing.T, s *SMS, h *heard) {
	t.Helper()
	if err := s.Collect(t.Context(), h.take); err != nil {
		t.Error(err)
	}
}

func TestCollect(t *testing.T) {
	carrier, s, h, at := collector(t, testAt.Add(-time.Minute))
	carrier.Receive(testTo, testFrom2, "P2")
	*at = at.Add(time.Second)
	first := carrier.Receive(testTo, testFrom, "D\xff 🙂")
	// None of these is a text to one of our numbers.
	carrier.Receive(testTo, "+12025550109", "another clinic's")
	carrier.Add(carriertest.Message{To: testFrom, From: testFrom2, Body: "ours to ours", Status: "delivered"})
	carrier.Add(carriertest.Message{To: testTo, From: testFrom, Body: "to a patient", Status: "delivered"})
	if p := s.Point(); !p.Equal(testAt.Add(-time.Minute)) {
		t.Errorf("point %s before the first reading", p)
	}
	*at = at.Add(time.Second)
	collect(t, s, h)
	if got := h.texts(); !slices.Equal(got, []string{"P2", "D\ufffd 🙂"}) {
		t.Errorf("heard %q", got)
	}
	want := Incoming{ID: first.SID, From: testTo, To: testFrom, Text: "D\ufffd 🙂", At: testAt.Add(time.Second)}
	if len(h.got) != 2 || !reflect.DeepEqual(h.got[1], want) {
		t.Errorf("heard %+v, want %+v", h.got, want)
	}
	if p := s.Point(); !p.Equal(*at) {
		t.Errorf("point %s, want %s", p, *at)
	}
	collect(t, s, h)
	if h.gave != 2 {
		t.Errorf("gave %d to take, want 2", h.gave)
	}
}

func TestCollectReadsEveryPageOldestFirst(t *testing.T) {
	carrier, s, h, at := collector(t, testAt)
	var want []string
	for i := range 2*listPage + 1 {
		*at = testAt.Add(time.Duration(i/3) * time.Second) // three a second: by id
		want = append(want, fmt.Sprint(i))
		carrier.Receive(testTo, testFrom, fmt.Sprint(i))
	}
	collect(t, s, h)
	if got := h.texts(); !slices.Equal(got, want) {
		t.Errorf("heard %d in another order, want %d", len(got), len(want))
	}
	if n := carrier.Gets(); n != 3+1 {
		t.Errorf("%d pages read, want 3 of one number and 1 of the other", n)
	}
}

// What is listed late is heard within the overlap, and nothing is heard twice.
func TestCollectOverlaps(t *testing.T) {
	carrier, s, h, at := collector(t, testAt)
	var asked []url.Values
	carrier.OnList(func(q url.Values) { asked = append(asked, q) })
	*at = testAt.Add(2 * time.Hour)
	carrier.Receive(testTo, testFrom, "in time")
	collect(t, s, h)
	late := func(text string, before time.Duration) {
		when := s.Point().Add(-before)
		carrier.Add(carriertest.Message{From: testTo, To: testFrom, Body: text, Direction: carriertest.Incoming,
			Status: "received", Created: when, Sent: when})
	}
	late("late", overlap)
	late("before it all", overlap+time.Second)
	*at = at.Add(time.Minute)
	collect(t, s, h)
	if got := h.texts(); !slices.Equal(got, []string{"in time", "late"}) {
		t.Errorf("heard %q", got)
	}
	if h.gave != 2 {
		t.Errorf("gave %d to take", h.gave)
	}
	if got := asked[0].Get("DateSent>"); got != "2026-10-05T12:00:00Z" {
		t.Errorf("first asked from %s", got)
	}
	if got := asked[len(asked)-1].Get("DateSent>"); got != "2026-10-05T14:00:00Z" {
		t.Errorf("then asked from %s", got)
	}
}

// The point is the time at which a reading began, for what comes in during it
// may not be on it. It is fit to be kept: in UTC, without the monotonic clock.
func TestCollectPoint(t *testing.T) {
	carrier, s, h, at := collector(t, testAt)
	carrier.OnList(func(url.Values) { *at = at.Add(time.Minute) })
	collect(t, s, h)
	if p := s.Point(); !p.Equal(testAt) {
		t.Errorf("point %s, want %s", p, testAt)
	}
	s.now = time.Now
	collect(t, s, h)
	if p := s.Point(); p != p.Round(0) || p.Location() != time.UTC {
		t.Errorf("point %v", p)
	}
}

// With nothing read before, everything is. A point that a wrong clock left
// ahead of now is taken for now.
func TestCollectFrom(t *testing.T) {
	s := newTestSMS(t, "")
	for name, c := range map[string]struct{ point, want time.Time }{
		"nothing read": {time.Time{}, time.Time{}},
		"read":         {testAt.Add(-time.Minute), testAt.Add(-time.Minute - overlap)},
		"ahead":        {testAt.Add(24 * time.Hour), testAt.Add(-overlap)},
	} {
		s.point = c.point
		if got := s.from(testAt); !got.Equal(c.want) {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// The web hook and the list give the same message; it counts once.
func TestCollectAfterTheHook(t *testing.T) {
	carrier, s, h, _ := collector(t, testAt)
	m := carrier.Receive(testTo, testFrom, "P5")
	form := carrier.Inbound(m.SID, testTo, testFrom, "P5")
	hook := s.Hook(testPublic, h.take, nil)
	serve(t, hook, form, 200)
	collect(t, s, h)
	serve(t, hook, form, 200)
	if got := h.texts(); !slices.Equal(got, []string{"P5"}) {
		t.Errorf("heard %q", got)
	}
}

// If take fails midway the point stays, what is later waits, and the next
// Collect gives the rest once.
func TestCollectTakeFails(t *testing.T) {
	carrier, s, h, at := collector(t, testAt)
	for i := range 4 {
		*at = at.Add(time.Second)
		carrier.Receive(testTo, testFrom, fmt.Sprint(i))
	}
	h.fail = func(in Incoming) error {
		if in.Text == "2" {
			return errTake
		}
		return nil
	}
	err := s.Collect(t.Context(), h.take)
	if !errors.Is(err, errTake) || strings.Contains(err.Error(), testTo[1:]) {
		t.Errorf("error %v", err)
	}
	if got := h.texts(); !slices.Equal(got, []string{"0", "1"}) || !s.Point().Equal(testAt) {
		t.Errorf("heard %q up to %s", got, s.Point())
	}
	h.fail, h.gave = nil, 0
	collect(t, s, h)
	if got := h.texts(); !slices.Equal(got, []string{"0", "1", "2", "3"}) || h.gave != 2 {
		t.Errorf("heard %q, gave %d", got, h.gave)
	}
	if !s.Point().Equal(*at) {
		t.Errorf("point %s", s.Point())
	}
}

// Several at once wait for one another, and for no longer than they may.
func TestCollectIsSerialized(t *testing.T) {
	carrier, s, h, _ := collector(t, testAt)
	carrier.Receive(testTo, testFrom, "P1")
	var lists, most atomic.Int32
	carrier.OnList(func(url.Values) {
		if n := lists.Add(1); n > most.Load() {
			most.Store(n)
		}
	})
	carrier.OnListed(func(url.Values) { lists.Add(-1) })
	inside, free := make(chan struct{}, 8), make(chan struct{})
	take := func(ctx context.Context, in Incoming) error {
		inside <- struct{}{}
		<-free
		return h.take(ctx, in)
	}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if err := s.Collect(t.Context(), take); err != nil {
				t.Error(err)
			}
		})
	}
	<-inside
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Collect(ctx, take); !errors.Is(err, context.Canceled) {
		t.Errorf("canceled while it waits: %v", err)
	}
	close(free)
	all.Wait()
	if h.gave != 1 || most.Load() != 1 {
		t.Errorf("gave %d, %d listings at once", h.gave, most.Load())
	}
}
