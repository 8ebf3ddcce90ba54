package carriertest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"
)

const (
	ours   = "+15035550100"
	second = "+15035550101"
	theirs = "+15035550120"
)

func newServer(t *testing.T) *Server {
	t.Helper()
	s := New("AC1", "token")
	t.Cleanup(s.Close)
	return s
}

// listed is a page of the list as a client reads it.
type listed struct {
	Messages []struct {
		Sid, To, From, Body, Status, Direction string
		DateSent                               *string `json:"date_sent"`
		ErrorCode                              *int    `json:"error_code"`
	}
	Next *string `json:"next_page_uri"`
}

func get(t *testing.T, s *Server, path string) (int, listed) {
	t.Helper()
	req, err := http.NewRequest(http.MethodGet, s.URL()+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.SetBasicAuth("AC1", "token")
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var got listed
	if err := json.NewDecoder(resp.Body).Decode(&got); err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, got
}

const messagesPath = "/2010-04-01/Accounts/AC1/Messages.json"

func (l listed) bodies() string {
	var out []string
	for _, m := range l.Messages {
		out = append(out, m.Body)
	}
	return strings.Join(out, " ")
}

// TestListFilters asks as the carrier's client library v1.31.0 does: the
// parameters DateSent< and DateSent> with a time, both ends included, and as
// its API description says: with a day.
func TestListFilters(t *testing.T) {
	s := newServer(t)
	day := func(d, h int) time.Time { return time.Date(2026, 11, d, h, 0, 0, 500_000_000, time.UTC) }
	s.Add(Message{From: ours, To: theirs, Body: "a", Status: "delivered", Created: day(2, 23)})
	s.Add(Message{From: theirs, To: ours, Body: "b", Status: "received", Direction: Incoming, Created: day(3, 0)})
	s.Add(Message{From: theirs, To: second, Body: "c", Status: "received", Direction: Incoming, Created: day(3, 12)})
	s.Add(Message{From: ours, To: theirs, Body: "d", Status: "undelivered", ErrorCode: 30005, Created: day(4, 1)})
	s.Add(Message{From: ours, To: theirs, Body: "unsent", Created: day(3, 12)})
	for query, want := range map[string]string{
		"":                                 "unsent d c b a",
		"To=%2B15035550100":                "b",
		"To=%2B15035550101":                "c",
		"From=%2B15035550120":              "c b",
		"From=%2B15035550100":              "unsent d a",
		"DateSent=2026-11-03":              "c b",
		"DateSent=2026-11-03T12:00:00Z":    "c b",
		"DateSent%3E=2026-11-03":           "d c b",
		"DateSent>=2026-11-03":             "d c b",
		"DateSent%3C=2026-11-03":           "c b a",
		"DateSent%3E=2026-11-03T12:00:00Z": "d c",
		"DateSent%3E=2026-11-03T12:00:01Z": "d",
		"DateSent%3C=2026-11-03T00:00:00Z": "b a",
		"DateSent%3C=2026-11-02T23:59:59Z": "a",
		"DateSent%3E=2026-11-03T05%3A00%3A00%2B05%3A00&DateSent%3C=2026-11-03": "c b",
	} {
		if status, got := get(t, s, messagesPath+"?"+query); status != 200 || got.bodies() != want {
			t.Errorf("%s: %d %q, want %q", query, status, got.bodies(), want)
		}
	}
	for _, query := range []string{"DateCreated=2026-11-03", "Limit=5", "To=5035550100", "From=", "DateSent=yesterday",
		"DateSent%3E=2026-13-01", "PageSize=0", "PageSize=1001", "PageSize=", "Page=1"} {
		if status, _ := get(t, s, messagesPath+"?"+query); status != 400 {
			t.Errorf("%s: %d, want it refused", query, status)
		}
	}
}

func TestListShowsWhatBecameOfAMessage(t *testing.T) {
	s := newServer(t)
	queued := s.Add(Message{From: ours, To: theirs, Body: "a"})
	gone := s.Add(Message{From: ours, To: theirs, Body: "b"})
	if !s.Progress(gone.SID, "sent", 0) || !s.Progress(gone.SID, "undelivered", 30003) || s.Progress("SM0", "sent", 0) {
		t.Error("progress")
	}
	_, got := get(t, s, messagesPath)
	if m := got.Messages[1]; m.Sid != queued.SID || m.Status != "queued" || m.DateSent != nil || m.ErrorCode != nil || m.Direction != Outbound {
		t.Errorf("a queued message: %+v", m)
	}
	m := got.Messages[0]
	if m.Status != "undelivered" || m.DateSent == nil || m.ErrorCode == nil || *m.ErrorCode != 30003 {
		t.Fatalf("an undelivered message: %+v", m)
	}
	if _, err := time.Parse(time.RFC1123Z, *m.DateSent); err != nil {
		t.Error(err)
	}
}

// TestPagesStayPut reads page by page while messages arrive: none is shown
// twice and none left out.
func TestPagesStayPut(t *testing.T) {
	s := newServer(t)
	for i := range 25 {
		s.Receive(theirs, ours, fmt.Sprint(i))
	}
	var bodies []string
	path := messagesPath + "?" + url.Values{"To": {ours}, "PageSize": {"10"}}.Encode()
	for pages := 1; ; pages++ {
		status, got := get(t, s, path)
		if status != 200 {
			t.Fatalf("page %d: %d", pages, status)
		}
		for _, m := range got.Messages {
			bodies = append(bodies, m.Body)
		}
		s.Receive(theirs, ours, "later")
		if got.Next == nil {
			if pages != 3 {
				t.Errorf("%d pages, want 3", pages)
			}
			break
		}
		path = *got.Next
	}
	slices.Reverse(bodies)
	for i, b := range bodies {
		if b != fmt.Sprint(i) {
			t.Fatalf("place %d holds %q of %v", i, b, bodies)
		}
	}
	if len(bodies) != 25 || len(s.Received()) != 28 || len(s.Messages()) != 0 {
		t.Errorf("%d shown, %d received, %d messages", len(bodies), len(s.Received()), len(s.Messages()))
	}
}

// TestIdsAreTheServersOwn: a service that outlives the stand-in must not take
// a new message for one it had before.
func TestIdsAreTheServersOwn(t *testing.T) {
	first, again := newServer(t), newServer(t)
	a, b := first.Receive(theirs, ours, "a"), again.Receive(theirs, ours, "b")
	if a.SID == b.SID || len(a.SID) != 34 {
		t.Errorf("ids %s and %s", a.SID, b.SID)
	}
	if kept := first.Add(Message{SID: b.SID, Body: "c"}); kept.SID != b.SID {
		t.Errorf("a given id became %s", kept.SID)
	}
}
