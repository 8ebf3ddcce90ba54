package notify

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

func TestNews(t *testing.T) {
	carrier, s, _, _ := collector(t, time.Time{})
	add := func(from, status string, code int, made time.Duration) string {
		when := testAt.Add(made)
		return carrier.Add(carriertest.Message{To: testTo, From: from, Body: "x", Status: status, ErrorCode: code, Created: when}).SID
	}
	add(testFrom, "delivered", 0, -clockSlack-time.Second) // before it
	first := add(testFrom, "delivered", 0, -clockSlack)
	last := add(testFrom2, "undelivered", 30005, 2*time.Minute)
	failed := add(testFrom, "failed", 30034, time.Minute) // never sent: the list has no date sent
	add(testFrom, "sent", 0, time.Minute)
	add(testFrom, "queued", 0, time.Minute)
	add("+12025550109", "undelivered", 30003, time.Minute) // another clinic's
	carrier.Receive(testTo, testFrom, "P3")
	carrier.Add(carriertest.Message{From: testFrom, To: testFrom2, Direction: carriertest.Incoming, Status: "received"})

	want := []News{
		{ID: first, Delivered: true, Code: "delivered"},
		{ID: failed, Code: "30034", Trouble: true},
		{ID: last, Code: "30005", BadContact: true},
	}
	for range 2 { // the same again is told again
		var got []News
		err := s.News(t.Context(), testAt, func(_ context.Context, n News) error { got = append(got, n); return nil })
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("%v, got %+v, want %+v", err, got, want)
		}
	}
	var n int
	err := s.News(t.Context(), testAt, func(context.Context, News) error { n++; return errTake })
	if !errors.Is(err, errTake) || n != 1 || strings.Contains(err.Error(), testTo[1:]) {
		t.Errorf("told %d, %v", n, err)
	}
}

// The list is read to where nothing is recent, whole pages of texts without
// news included, and no further.
func TestNewsReadsAsFarAsItMust(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	add := func(n int, status string, made time.Duration) {
		for range n {
			carrier.Add(carriertest.Message{To: testTo, From: testFrom, Status: status, Created: testAt.Add(made)})
		}
	}
	add(3*listPage, "delivered", -48*time.Hour)
	add(5, "delivered", 0)
	add(2*listPage, "sent", time.Hour)
	var n int
	err := s.News(t.Context(), testAt, func(context.Context, News) error { n++; return nil })
	if err != nil || n != 5 {
		t.Errorf("told %d, %v", n, err)
	}
	if n := carrier.Gets(); n != 4 {
		t.Errorf("%d pages read, want 4 of 6", n)
	}
}

// What is recent and no text of ours does not end the reading either.
func TestNewsReadsPastOthers(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	id := carrier.Add(carriertest.Message{To: testTo, From: testFrom, Status: "read", Created: testAt}).SID
	carrier.FailList(carriertest.Raw(200, "application/json",
		`{"messages":[`+listRow(map[string]any{"from": testFrom})+`],"next_page_uri":"/x?Page=0&PageToken=PA"}`))
	var got []News
	err := s.News(t.Context(), testAt, func(_ context.Context, n News) error { got = append(got, n); return nil })
	if err != nil || !slices.Equal(got, []News{{ID: id, Delivered: true, Code: "read"}}) {
		t.Errorf("told %+v, %v", got, err)
	}
}

func TestNewsNeedsTheWholeList(t *testing.T) {
	outbound := listRow(map[string]any{"direction": "outbound-api", "from": testFrom, "to": testTo, "status": "delivered"})
	page := carriertest.Raw(200, "application/json", `{"messages":[`+outbound+`],"next_page_uri":"/x?Page=1&PageToken=PA1"}`)
	noID := strings.ReplaceAll(outbound, testSID, testTo)
	for name, c := range map[string]struct {
		faults []carriertest.Fault
		told   int
	}{
		"5xx":             {[]carriertest.Fault{carriertest.HTML(503, 20_000)}, 0},
		"second page cut": {[]carriertest.Fault{page, carriertest.CutAnswer(200)}, 0},
		"unreadable": {[]carriertest.Fault{carriertest.Raw(200, "application/json",
			`{"messages":[`+noID+`,`+outbound+`]}`)}, 1},
	} {
		carrier := newCarrier(t)
		s := newTestSMS(t, carrier.URL())
		carrier.FailList(c.faults...)
		var told int
		err := s.News(t.Context(), testAt, func(context.Context, News) error { told++; return nil })
		if err == nil || told != c.told {
			t.Errorf("%s: told %d, %v", name, told, err)
			continue
		}
		sing(t, name, err.Error())
	}
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	if err := newTestSMS(t, newCarrier(t).URL()).News(stopped, testAt, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("canceled: %v", err)
	}
}

// A text's news comes back to the address that was sent with it, each status
// over real HTTP, doubled and out of order.
func TestStatusHookHearsOfASentText(t *testing.T) {
	carrier := newCarrier(t)
	var s *SMS
	var got []News
	fail := true
	tell := func(_ context.Context, n News) error {
		if fail {
			return fmt.Errorf("no room for news of %s", testTo)
		}
		got = append(got, n)
		return nil
	}
	var logs bytes.Buffer
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.StatusHook(s.cfg.StatusURL, tell, slog.New(slog.NewJSONHandler(&logs, nil))).ServeHTTP(w, r)
	}))
	defer server.Close()
	s, err := NewSMS(SMSConfig{Account: testAccount, Token: testToken, Numbers: []string{testFrom},
		API: carrier.URL(), StatusURL: server.URL + "/news?clinic=1"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	r := s.Send(t.Context(), textMessage())
	if r.Status != Sent {
		t.Fatalf("%+v", r)
	}
	if err := carrier.Deliver(r.ID, carriertest.Delivery{Status: "delivered"}); err == nil || !strings.Contains(err.Error(), "503") {
		t.Errorf("tell failed: %v", err)
	}
	if l := logs.String(); !strings.Contains(l, `"hook.failed","id":"`+r.ID) {
		t.Errorf("log %s", l)
	}
	sing(t, "log", logs.String())
	fail = false
	if err := carrier.Deliver(r.ID, carriertest.Delivery{Status: "delivered", Twice: true, Reversed: true}); err != nil {
		t.Error(err)
	}
	news := News{ID: r.ID, Delivered: true, Code: "delivered"}
	if !slices.Equal(got, []News{news, news}) {
		t.Errorf("told %+v", got)
	}
}

func TestStatusHookForm(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	m := carriertest.Message{SID: testSID, To: testTo, From: testFrom, ErrorCode: 30006}
	form := carrier.Status(m, "undelivered")
	with := func(key, value string) url.Values {
		f := maps.Clone(form)
		f[key] = []string{value}
		return f
	}
	without := func(key string) url.Values {
		f := maps.Clone(form)
		f.Del(key)
		return f
	}
	bad := News{ID: testSID, Code: "30006", BadContact: true}
	plain := News{ID: testSID, Code: "undelivered"}
	for name, c := range map[string]struct {
		form   url.Values
		status int
		news   []News
	}{
		"undelivered":       {form, 200, []News{bad}},
		"with something":    {with("SomethingNew", "1"), 200, []News{bad}}, // added unannounced
		"with nothing":      {with("SomethingNew", ""), 200, []News{bad}},
		"no code":           {without("ErrorCode"), 200, []News{plain}},
		"code is no number": {with("ErrorCode", "wall calf"), 200, []News{plain}},
		"code is a phone":   {with("ErrorCode", testTo), 200, []News{plain}},
		"on its way":        {with("MessageStatus", "sent"), 200, nil},
		"nobody knows":      {with("MessageStatus", "new"), 200, nil},
		"no status":         {without("MessageStatus"), 400, nil},
		"no id":             {without("MessageSid"), 400, nil},
		"odd id":            {with("MessageSid", "../../x"), 400, nil},
	} {
		t.Run(name, func(t *testing.T) {
			var got []News
			h := s.StatusHook(testPublic, func(_ context.Context, n News) error { got = append(got, n); return nil }, nil)
			w := serve(t, h, c.form, c.status)
			if w.Body.Len() != 0 || w.Header().Get("Content-Type") != "" {
				t.Errorf("said %q", w.Body)
			}
			if !slices.Equal(got, c.news) {
				t.Errorf("told %+v, want %+v", got, c.news)
			}
		})
	}
}
