package carriertest

import (
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

func post(t *testing.T, s *Server, token string, form url.Values) (int, map[string]any) {
	t.Helper()
	req, err := http.NewRequest(http.MethodPost, s.URL()+"/2010-04-01/Accounts/AC1/Messages.json", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.SetBasicAuth("AC1", token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(body, &got); err != nil {
		t.Fatalf("%s: %v", body, err)
	}
	return resp.StatusCode, got
}

// The codes are those of the carrier's published error list; that these
// conditions give them is from memory for 21212 and 20001.
func TestCreateChecks(t *testing.T) {
	s := New("AC1", "token")
	defer s.Close()
	s.OptOut("+12025550199")
	good := url.Values{"To": {"+12025550123"}, "From": {"+12025550100"}, "Body": {"hi"}}
	for name, c := range map[string]struct {
		key, value string
		token      string
		status     int
		code       float64
	}{
		"good":          {"", "", "token", 201, 0},
		"wrong token":   {"", "", "other", 401, 20003},
		"to":            {"To", "banana", "token", 400, 21211},
		"from":          {"From", "", "token", 400, 21212},
		"empty":         {"Body", "", "token", 400, 21602},
		"too long":      {"Body", strings.Repeat("a", 1601), "token", 400, 21617},
		"opted out":     {"To", "+12025550199", "token", 400, 21610},
		"unknown field": {"Bodi", "x", "token", 400, 20001},
		"validity":      {"ValidityPeriod", "36001", "token", 400, 20001},
	} {
		form := url.Values{}
		for k, v := range good {
			form[k] = v
		}
		if c.key != "" {
			form.Set(c.key, c.value)
		}
		status, got := post(t, s, c.token, form)
		code, _ := got["code"].(float64)
		if status != c.status || code != c.code {
			t.Errorf("%s: %d %v, want %d %v", name, status, code, c.status, c.code)
		}
	}
	if n := len(s.Messages()); n != 1 {
		t.Errorf("%d messages taken, want the good one", n)
	}
	if n := s.Posts(); n != 9 {
		t.Errorf("%d posts counted", n)
	}
}

func TestFaultsAreUsedUpInOrder(t *testing.T) {
	s := New("AC1", "token")
	defer s.Close()
	form := url.Values{"To": {"+12025550123"}, "From": {"+12025550100"}, "Body": {"hi"}}
	s.Fail(Refuse(400, 30007), Refuse(500, 20500).Accepted())
	for i, want := range []int{400, 500, 201} {
		if status, _ := post(t, s, "token", form); status != want {
			t.Errorf("request %d: %d, want %d", i, status, want)
		}
	}
	if n := len(s.Messages()); n != 2 {
		t.Errorf("%d taken, want the accepted 500 and the last", n)
	}
}
