package notify

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func unseen(time.Time, string) {}

// TestPhoneWantsAStandInHere refuses every address that is not this machine's,
// and what is no phone number, before anything is asked.
func TestPhoneWantsAStandInHere(t *testing.T) {
	for _, p := range []Phone{
		{Carrier: "https://api.example.com", Number: testTo},
		{Carrier: "http://192.0.2.1:8099", Number: testTo},
		{Carrier: "http://user@127.0.0.1:8099", Number: testTo},
		{Carrier: "127.0.0.1:8099", Number: testTo},
		{Carrier: "http://127.0.0.1:8099/elsewhere", Number: testTo},
		{Carrier: "http://127.0.0.1:8099?a=b", Number: testTo},
		{Carrier: "http://127.0.0.1:8099", Number: "5035550120"},
		{Carrier: "http://127.0.0.1:8099", Number: testTo, To: "clinic"},
	} {
		err := p.Run(t.Context(), strings.NewReader(""), unseen)
		if err == nil || !strings.Contains(err.Error(), "such as http://127") && !strings.Contains(err.Error(), "is written like") {
			t.Errorf("%+v: %v", p, err)
		}
	}
}

// TestPhoneSaysWhatIsWrong has the stand-in away, not be one, refuse a text,
// and go away while the phone is on.
func TestPhoneSaysWhatIsWrong(t *testing.T) {
	run := func(answer http.HandlerFunc, typed string) error {
		server := httptest.NewServer(answer)
		defer server.Close()
		if answer == nil {
			server.Close()
		}
		return Phone{Carrier: server.URL, Number: testTo, Wait: time.Minute}.Run(t.Context(), strings.NewReader(typed), unseen)
	}
	status := func(code int, body string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(code)
			_, _ = io.WriteString(w, body)
		}
	}
	if err := run(nil, ""); !errors.Is(err, ErrNoCarrier) {
		t.Errorf("away: %v", err)
	}
	for name, answer := range map[string]http.HandlerFunc{"404": status(404, "no"), "a page": status(200, "<html>")} {
		if err := run(answer, ""); !errors.Is(err, ErrNoPhone) {
			t.Errorf("%s: %v", name, err)
		}
	}
	refuses := func(w http.ResponseWriter, r *http.Request) {
		switch {
		case r.Method == http.MethodPost:
			http.Error(w, "say which number", http.StatusBadRequest)
		case r.URL.Query().Get("wait") == "0s":
			_, _ = io.WriteString(w, "[]")
		default:
			<-r.Context().Done()
		}
	}
	if err := run(refuses, "P3\n"); err == nil || !strings.Contains(err.Error(), "say which number") {
		t.Errorf("refused: %v", err)
	}
	leaves := func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("wait") != "0s" {
			panic(http.ErrAbortHandler)
		}
		_, _ = io.WriteString(w, "[]")
	}
	if err := run(leaves, ""); !errors.Is(err, ErrNoCarrier) {
		t.Errorf("gone: %v", err)
	}
}

func TestPhoneEndsWhenAsked(t *testing.T) {
	waiting := make(chan struct{})
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("wait") == "0s" {
			_, _ = io.WriteString(w, "[]")
			return
		}
		close(waiting)
		<-r.Context().Done()
	}))
	defer server.Close()
	ctx, cancel := context.WithCancel(t.Context())
	go func() { <-waiting; cancel() }()
	in, keys := io.Pipe()
	defer keys.Close()
	if err := (Phone{Carrier: server.URL, Number: testTo}).Run(ctx, in, unseen); err != nil {
		t.Error(err)
	}
}
