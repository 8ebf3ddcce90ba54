package carriertest

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"sync"
	"testing"
	"time"
)

const public = "https://texts.example.org"

// hook keeps what is posted to it, and answers in turn with codes, then 200.
type hook struct {
	mu    sync.Mutex
	forms []url.Values
	codes []int
	heard chan struct{} // a value for each post
}

// newHook is reached under the public address, where it checks signatures.
func newHook(t *testing.T, s *Server, codes ...int) *hook {
	t.Helper()
	h := &hook{codes: codes, heard: make(chan struct{}, 100)}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := r.ParseForm(); err != nil {
			t.Error(err)
		}
		if got := r.Header.Get("X-Twilio-Signature"); got != Sign("token", public+r.URL.RequestURI(), r.PostForm) {
			t.Errorf("%s is signed %q", r.URL, got)
		}
		h.mu.Lock()
		defer h.mu.Unlock()
		h.forms = append(h.forms, r.PostForm)
		h.heard <- struct{}{}
		if len(h.codes) > 0 {
			w.WriteHeader(h.codes[0])
			h.codes = h.codes[1:]
		}
	}))
	t.Cleanup(server.Close)
	if err := s.Route(public, server.URL); err != nil {
		t.Fatal(err)
	}
	return h
}

func (h *hook) statuses() []string {
	h.mu.Lock()
	defer h.mu.Unlock()
	var out []string
	for _, f := range h.forms {
		out = append(out, f.Get("MessageStatus")+f.Get("ErrorCode"))
	}
	return out
}

func message() url.Values {
	return url.Values{"To": {theirs}, "From": {ours}, "Body": {"hi"}, "StatusCallback": {public + "/status?x=1"}}
}

func TestDeliverTellsTheCallback(t *testing.T) {
	for name, c := range map[string]struct {
		d      Delivery
		want   []string
		status string
	}{
		"delivered":   {Delivery{Status: "delivered"}, []string{"sent", "delivered"}, "delivered"},
		"undelivered": {Delivery{Status: "undelivered", Code: 30003}, []string{"sent", "undelivered30003"}, "undelivered"},
		"failed":      {Delivery{Status: "failed", Code: 30006}, []string{"failed30006"}, "failed"},
		"doubled":     {Delivery{Status: "delivered", Twice: true}, []string{"sent", "sent", "delivered", "delivered"}, "delivered"},
		"reordered":   {Delivery{Status: "delivered", Reversed: true}, []string{"delivered", "sent"}, "delivered"},
		"silent":      {Delivery{Status: "delivered", Silent: true}, nil, "delivered"},
		"nothing":     {Delivery{}, nil, "queued"},
	} {
		s := newServer(t)
		h := newHook(t, s)
		if status, _ := post(t, s, "token", message()); status != 201 {
			t.Fatal(status)
		}
		sid := s.Messages()[0].SID
		if err := s.Deliver(sid, c.d); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if got := h.statuses(); !slices.Equal(got, c.want) {
			t.Errorf("%s: told %v, want %v", name, got, c.want)
		}
		m, _ := s.Message(sid)
		sent := c.status == "delivered" || c.status == "undelivered"
		if m.Status != c.status || m.Sent.IsZero() == sent {
			t.Errorf("%s: %+v", name, m)
		}
	}
}

func TestMessagesGoOnByThemselves(t *testing.T) {
	s := newServer(t)
	h := newHook(t, s)
	s.SetDelivery(Delivery{Status: "delivered", Wait: time.Millisecond})
	s.SetDeliveryTo("+15035550121", Delivery{Status: "undelivered", Code: 30005})
	other := message()
	other.Set("To", "+15035550121")
	s.Fail(Cut().Accepted()) // one whose sender never hears that it was taken
	if resp, err := http.DefaultClient.Do(request(t, s, other)); err == nil {
		resp.Body.Close()
		t.Error("the connection was not cut")
	}
	post(t, s, "token", message())
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	if !s.Await(ctx, func() bool {
		all := s.Messages()
		return len(all) == 2 && all[0].Status == "undelivered" && all[1].Status == "delivered"
	}) {
		t.Fatalf("they did not: %+v", s.Messages())
	}
	for range 4 {
		<-h.heard
	}
	got := h.statuses()
	slices.Sort(got)
	if want := []string{"delivered", "sent", "sent", "undelivered30005"}; !slices.Equal(got, want) {
		t.Errorf("told %v, want %v", got, want)
	}
}

func TestNothingIsPostedElsewhere(t *testing.T) {
	s := newServer(t)
	post(t, s, "token", message())
	if err := s.Callback(s.Messages()[0].SID, "sent"); !errors.Is(err, ErrElsewhere) {
		t.Errorf("a callback to an address with no route: %v", err)
	}
	if err := s.Route(public, "https://other.example.net"); err != nil {
		t.Fatal(err)
	}
	if err := s.Callback(s.Messages()[0].SID, "sent"); !errors.Is(err, ErrElsewhere) {
		t.Errorf("a callback routed to another machine: %v", err)
	}
}

func TestReceivePostsAndKeeps(t *testing.T) {
	for name, c := range map[string]struct {
		codes []int
		posts int
	}{
		"heard":       {nil, 1},
		"second time": {[]int{500}, 2},
		"never":       {[]int{500, 503, 200}, 2},
	} {
		s := newServer(t)
		h := newHook(t, s, c.codes...)
		s.Receive(theirs, ours, "before there was a hook")
		s.SetHook(public + "/in")
		m := s.Receive(theirs, ours, "P3")
		if len(h.forms) != c.posts {
			t.Fatalf("%s: %d posts, want %d", name, len(h.forms), c.posts)
		}
		for _, f := range h.forms {
			if f.Get("MessageSid") != m.SID || f.Get("Body") != "P3" || f.Get("From") != theirs || f.Get("To") != ours {
				t.Errorf("%s: posted %v", name, f)
			}
		}
		if _, got := get(t, s, messagesPath+"?To=%2B15035550100"); got.bodies() != "P3 before there was a hook" ||
			got.Messages[0].Status != "received" || got.Messages[0].Direction != Incoming || got.Messages[0].DateSent == nil {
			t.Errorf("%s: the list has %+v", name, got.Messages)
		}
	}
}

func TestStopAndStart(t *testing.T) {
	s := newServer(t)
	send := func(from string) float64 {
		form := message()
		form.Set("From", from)
		_, got := post(t, s, "token", form)
		code, _ := got["code"].(float64)
		return code
	}
	// A word inside a text is none (the carrier's documentation).
	for _, body := range []string{"had to stop, pain 7", "opt out", "STOP."} {
		if s.Receive(theirs, ours, body); send(ours) != 0 || len(s.Replies()) != 0 {
			t.Errorf("%q was taken for one of the carrier's words", body)
		}
	}
	// The published default words.
	for _, word := range []string{"STOP", "StopAll", "unsubscribe", " Cancel ", "END", "QUIT", "REVOKE", "OPTOUT"} {
		for _, back := range []string{"START", "yes", "Unstop"} {
			s.Receive(theirs, ours, word)
			s.Receive(theirs, ours, word)
			if send(ours) != 21610 || send(second) != 0 {
				t.Errorf("after %q: want 21610 from this number and none from another", word)
			}
			if s.Receive(theirs, ours, back); send(ours) != 0 {
				t.Errorf("after %q then %q it is still refused", word, back)
			}
		}
	}
	if n := len(s.Replies()); n != 8*3*2 {
		t.Errorf("%d replies, want one a change", n)
	}
	if r := s.Replies()[0]; r.From != ours || r.To != theirs || r.Direction != "outbound-reply" {
		t.Errorf("a reply: %+v", r)
	}
	s.SetStopWords(false)
	if s.Receive(theirs, ours, "STOP"); send(ours) != 0 {
		t.Error("STOP was acted on where the account does it itself")
	}
}
