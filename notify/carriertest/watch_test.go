package carriertest

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
)

func request(t *testing.T, s *Server, form url.Values) *http.Request {
	t.Helper()
	req, err := http.NewRequest(http.MethodPost, s.URL()+messagesPath, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.SetBasicAuth("AC1", "token")
	return req
}

// TestWatchers follows creates that go well, are refused and are cut off. A
// sender has its answer while the watcher of the answer still holds on, so
// that it can be killed right then.
func TestWatchers(t *testing.T) {
	s := newServer(t)
	events, held := make(chan string, 100), make(chan struct{})
	seen := func(what string) func(Message) {
		return func(m Message) { events <- fmt.Sprint(what, " ", m.Body, " ", m.SID != "") }
	}
	s.OnArrive(seen("arrive"))
	s.OnAccept(seen("accept"))
	s.OnAnswer(func(m Message) { seen("answer")(m); <-held })
	send := func(body string) error {
		form := message()
		form.Set("Body", body)
		resp, err := http.DefaultClient.Do(request(t, s, form))
		if err != nil {
			return err
		}
		defer resp.Body.Close()
		_, err = io.ReadAll(resp.Body)
		return err
	}
	want := func(list ...string) {
		t.Helper()
		for _, w := range list {
			if got := <-events; got != w {
				t.Fatalf("%q, want %q", got, w)
			}
		}
	}
	if err := send("a"); err != nil {
		t.Fatal(err)
	}
	want("arrive a false", "accept a true", "answer a true")
	close(held)
	s.Fail(Refuse(400, 30007), Cut(), Cut().Accepted())
	if err := send("b"); err != nil {
		t.Fatal(err)
	}
	want("arrive b false", "answer b false")
	if send("c") == nil || send("d") == nil {
		t.Error("the connection was not cut")
	}
	want("arrive c false", "arrive d false", "accept d true")
	if n := len(events); n != 0 {
		t.Errorf("%d more events", n)
	}
	var order []string
	s.OnList(func(q url.Values) { order = append(order, "list "+q.Get("To")) })
	s.OnListed(func(q url.Values) { order = append(order, "listed "+q.Get("To")) })
	get(t, s, messagesPath+"?To=%2B15035550100")
	s.OnList(nil)
	s.OnListed(nil)
	get(t, s, messagesPath) // and by now the first listing's watcher has ended
	if !slices.Equal(order, []string{"list " + ours, "listed " + ours}) {
		t.Errorf("listing: %v", order)
	}
}

// outcomes sends 200 messages to a carrier that fails at random and tells what
// came of each: the status, or 0 where no whole answer came.
func outcomes(t *testing.T, seed uint64, probability float64) (statuses []int, taken int) {
	t.Helper()
	s := newServer(t)
	s.Faulty(seed, probability)
	for range 200 {
		status := 0
		if resp, err := http.DefaultClient.Do(request(t, s, message())); err == nil {
			if _, err := io.ReadAll(resp.Body); err == nil {
				status = resp.StatusCode
			}
			resp.Body.Close()
		}
		statuses = append(statuses, status)
	}
	return statuses, len(s.Messages())
}

func TestFaultyFollowsItsSeed(t *testing.T) {
	first, taken := outcomes(t, 7, 0.5)
	again, _ := outcomes(t, 7, 0.5)
	other, _ := outcomes(t, 8, 0.5)
	if !slices.Equal(first, again) || slices.Equal(first, other) {
		t.Error("the same seed must give the same faults, and another seed others")
	}
	count := map[int]int{}
	for _, s := range first {
		count[s]++
	}
	for _, s := range []int{0, 201, 429, 500, 502, 503, 504} {
		if count[s] == 0 {
			t.Errorf("no %d among %v", s, count)
		}
	}
	if count[201] < 60 || count[201] > 140 || taken <= count[201] {
		t.Errorf("%d of 200 went well and %d were taken, at one in two", count[201], taken)
	}
	if clean, taken := outcomes(t, 7, 0); taken != 200 || slices.Max(clean) != 201 || slices.Min(clean) != 201 {
		t.Errorf("without faults %d were taken: %v", taken, clean)
	}
}

func TestFormFieldsAreThePublishedOnes(t *testing.T) {
	s := newServer(t)
	s.SetNumbers(ours, second)
	for _, c := range []struct {
		key, value string
		code       float64
	}{
		{"From", second, 0},
		{"From", "+15035550102", 21606},
		{"ContentRetention", "retain", 0},
		{"ContentRetention", "discard", 20001},
		{"AddressRetention", "retain", 0},
		{"AddressRetention", "obfuscate", 20001},
		{"StatusCallback", "/status", 21609},
		{"ValidityPeriod", "36000", 0},
	} {
		form := message()
		form.Set(c.key, c.value)
		_, got := post(t, s, "token", form)
		if code, _ := got["code"].(float64); code != c.code {
			t.Errorf("%s=%s: %v, want %v", c.key, c.value, code, c.code)
		}
	}
}
