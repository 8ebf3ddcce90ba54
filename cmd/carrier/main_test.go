package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

const (
	account = "AC00112233445566778899aabbccddeeff"
	token   = "tryingout0token"
	ours    = "+15035550100"
	second  = "+15035550101"
	theirs  = "+15035550120"
)

// patience is how long a test waits before it gives up.
const patience = time.Minute

// screen keeps what the command prints, and tells once it was all said.
type screen struct {
	mu    sync.Mutex
	buf   bytes.Buffer
	ready chan struct{}
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.buf.Write(p)
	if bytes.Contains(p, []byte("Stop with Ctrl-C.")) {
		close(s.ready)
	}
	return len(p), nil
}

// runs starts the command and returns its address and what it printed.
func runs(t *testing.T, args ...string) (address, printed string) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	out, ended := &screen{ready: make(chan struct{})}, make(chan int, 1)
	var errs bytes.Buffer
	go func() {
		ended <- run(ctx, append([]string{"--listen", "127.0.0.1:0", "--account", account, "--token", token}, args...), out, &errs)
	}()
	select {
	case <-out.ready:
	case code := <-ended:
		t.Fatalf("it ended with %d: %s", code, errs.String())
	}
	t.Cleanup(func() {
		stop()
		if code := <-ended; code != 0 {
			t.Errorf("it ended with %d: %s", code, errs.String())
		}
	})
	out.mu.Lock()
	defer out.mu.Unlock()
	printed = out.buf.String()
	return regexp.MustCompile(`http://127\.0\.0\.1:\d+`).FindString(printed), printed
}

// call makes a request and returns the status and the body of the answer.
func call(t *testing.T, method, address, kind, body string) (int, string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, method, address, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", kind)
	req.SetBasicAuth(account, token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	got, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(got)
}

const form = "application/x-www-form-urlencoded"

// sends has the account text a number.
func sends(t *testing.T, address, from, to, body string) (int, string) {
	t.Helper()
	return call(t, http.MethodPost, address+"/2010-04-01/Accounts/"+account+"/Messages.json", form,
		url.Values{"From": {from}, "To": {to}, "Body": {body}}.Encode())
}

func texts(t *testing.T, address, query string) []text {
	t.Helper()
	status, body := call(t, http.MethodGet, address+"/phone/"+theirs+query, "", "")
	var got []text
	if err := json.Unmarshal([]byte(body), &got); err != nil || status != 200 {
		t.Fatalf("%d %s: %v", status, body, err)
	}
	return got
}

func TestItSaysWhatItIs(t *testing.T) {
	address, printed := runs(t, "--faults", "0.25", "--seed", "7")
	for _, want := range []string{"for trying out", "nothing is sent anywhere", "account: " + account + "\n",
		"api: " + address + "\n", "fails 0.25 of all requests, by seed 7", "stepgate handset --carrier " + address} {
		if !strings.Contains(printed, want) {
			t.Errorf("it does not say %q:\n%s", want, printed)
		}
	}
}

// TestPhone is a person's phone: it waits for a text, answers it, and shows
// what the carrier itself says to STOP.
func TestPhone(t *testing.T) {
	address, _ := runs(t, "--from", ours+","+second, "--deliver", "0s")
	if got := texts(t, address, "?wait=0s"); len(got) != 0 {
		t.Fatalf("a new phone shows %v", got)
	}
	waiting := make(chan []text)
	go func() { waiting <- texts(t, address, "?after=0") }()
	if status, body := sends(t, address, second, theirs, "How is it?"); status != 201 {
		t.Fatal(status, body)
	}
	got := <-waiting
	if len(got) != 1 || got[0].From != second || got[0].To != theirs || got[0].Text != "How is it?" || got[0].At.IsZero() {
		t.Fatalf("it shows %+v", got)
	}
	for _, c := range []struct{ kind, body string }{
		{form, "text=P3"}, // to who texted last
		{"application/json", `{"to": "` + ours + `", "text": "STOP"}`},
	} {
		if status, got := call(t, http.MethodPost, address+"/phone/"+theirs, c.kind, c.body); status != 201 {
			t.Errorf("%s: %d %s", c.body, status, got)
		}
	}
	var seen []string
	for _, x := range texts(t, address, fmt.Sprint("?after=", got[0].ID)) {
		seen = append(seen, x.From+">"+x.To)
	}
	all := strings.Join(seen, " ")
	for _, want := range []string{theirs + ">" + second, theirs + ">" + ours, ours + ">" + theirs} {
		if strings.Count(all, want) != 1 {
			t.Errorf("on the phone: %s, want one %s", all, want)
		}
	}
	if status, body := sends(t, address, ours, theirs, "after STOP"); status != 400 || !strings.Contains(body, "21610") {
		t.Errorf("after STOP: %d %s", status, body)
	}
	if status, body := sends(t, address, "+15035550109", theirs, "from another's number"); status != 400 || !strings.Contains(body, "21606") {
		t.Errorf("from another's number: %d %s", status, body)
	}
}

func TestPhoneRefuses(t *testing.T) {
	address, _ := runs(t)
	for _, c := range []struct{ method, path, kind, body, want string }{
		{"GET", "/phone/5035550120", "", "", "written like"},
		{"GET", "/phone/" + theirs + "?after=x", "", "", "after wants"},
		{"GET", "/phone/" + theirs + "?wait=soon", "", "", "wait a time"},
		{"POST", "/phone/rosa", form, "to=%2B15035550100&text=hi", "written like"},
		{"POST", "/phone/" + theirs, form, "text=hi", "which number"},
		{"POST", "/phone/" + theirs, form, "to=clinic&text=hi", "written like"},
		{"POST", "/phone/" + theirs, form, "to=%2B15035550100", "1 to 1600"},
		{"POST", "/phone/" + theirs, form, "to=%2B15035550100&text=" + strings.Repeat("a", 1601), "1 to 1600"},
		{"POST", "/phone/" + theirs, "application/json", "to", "not JSON"},
	} {
		if status, body := call(t, c.method, address+c.path, c.kind, c.body); status != 400 || !strings.Contains(body, c.want) {
			t.Errorf("%s %s %s: %d %s, want %q", c.method, c.path, c.body, status, body, c.want)
		}
	}
}

// TestHookAndNews has a reply and the news of two texts come to the service:
// one is delivered, one is to a number that nothing reaches.
func TestHookAndNews(t *testing.T) {
	const public = "https://texts.example.org/in"
	posts := make(chan url.Values, 10)
	hook := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		if err := r.ParseForm(); err != nil || r.Header.Get("X-Twilio-Signature") != carriertest.Sign(token, public+strings.TrimPrefix(r.URL.Path, "/in"), r.PostForm) {
			t.Errorf("%s: %v, signed %q", r.URL, err, r.Header.Get("X-Twilio-Signature"))
		}
		posts <- r.PostForm
	}))
	t.Cleanup(hook.Close)
	address, _ := runs(t, "--hook", hook.URL+"/in", "--public", public, "--dead", second, "--deliver", "2ms")
	call(t, http.MethodPost, address+"/phone/"+theirs, form, url.Values{"to": {ours}, "text": {"P3"}}.Encode())
	if got := <-posts; got.Get("Body") != "P3" || got.Get("From") != theirs {
		t.Errorf("posted %v", got)
	}
	for to, want := range map[string]string{theirs: "sent delivered ", second: "sent undelivered30003 "} {
		status, body := call(t, http.MethodPost, address+"/2010-04-01/Accounts/"+account+"/Messages.json", form,
			url.Values{"From": {ours}, "To": {to}, "Body": {"hi"}, "StatusCallback": {public}}.Encode())
		if status != 201 {
			t.Fatal(status, body)
		}
		var news string
		for range 2 {
			f := <-posts
			news += f.Get("MessageStatus") + f.Get("ErrorCode") + " "
		}
		if news != want {
			t.Errorf("news of %s: %s, want %s", to, news, want)
		}
	}
	status, body := call(t, http.MethodGet, address+"/phone/"+second+"?wait=0s", "", "")
	if status != 200 || strings.TrimSpace(body) != "[]" {
		t.Errorf("a phone that nothing reaches: %d %s", status, body)
	}
}

func TestFaultsFailRequests(t *testing.T) {
	address, _ := runs(t, "--faults", "1", "--seed", "3")
	client := &http.Client{Timeout: 200 * time.Millisecond} // some of the faults never answer
	answers := 0
	for range 20 {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address+"/2010-04-01/Accounts/"+account+"/Messages.json", nil)
		if err != nil {
			t.Fatal(err)
		}
		req.SetBasicAuth(account, token)
		resp, err := client.Do(req)
		if err != nil {
			continue // cut off
		}
		answers++
		if resp.Body.Close(); resp.StatusCode == 200 {
			t.Error("a listing went well")
		}
	}
	if answers == 0 {
		t.Error("no fault answered at all")
	}
}

func TestWrongUse(t *testing.T) {
	for _, args := range [][]string{
		{"--listen", "0.0.0.0:8099"}, {"--listen", ":8099"}, {"--listen", "192.0.2.1:8099"}, {"--listen", "8099"},
		{"--from", "5035550100"}, {"--dead", "x"}, {"--token", "a b"}, {"--account", ""}, {"--faults", "2"}, {"--deliver", "-1s"},
		{"--hook", "http://127.0.0.1:8090/in"}, {"--public", "https://texts.example.org/in"},
		{"--hook", "https://texts.example.org/in", "--public", "https://texts.example.org/in"},
		{"--hook", "http://127.0.0.1:8090/in", "--public", "https://texts.example.org/other"},
		{"now"}, {"--nothing"},
	} {
		var out, errs bytes.Buffer
		if code := run(t.Context(), args, &out, &errs); code != 2 || !strings.HasPrefix(errs.String(), "carrier: ") || out.Len() > 0 {
			t.Errorf("%v: %d %q", args, code, errs.String())
		}
	}
}

func TestAddressTaken(t *testing.T) {
	address, _ := runs(t)
	var out, errs bytes.Buffer
	code := run(t.Context(), []string{"--listen", strings.TrimPrefix(address, "http://")}, &out, &errs)
	if code != 1 || !strings.Contains(errs.String(), "address already in use") {
		t.Errorf("%d %q", code, errs.String())
	}
}
