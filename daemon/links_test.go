package daemon

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

const publicAddress = "https://plans.example.com"

// linked is a clinic with pages, and a patient by mail.
func linked(t *testing.T) (*clinic, *httptest.Server) {
	t.Helper()
	p, q := onSpool("p-01"), onSpool("p-02")
	p.channel, p.to = "email", "rosa@example.net"
	q.channel, q.to = "email", "emil@example.net"
	c := staffed(t, "web: {listen: 127.0.0.1:8090, public: "+publicAddress+"}\n", p, q)
	web := httptest.NewServer(c.s.Pages())
	t.Cleanup(web.Close)
	return c, web
}

var hrefForm = regexp.MustCompile(`href="` + publicAddress + `(/[rau]/[^"]+)"`)

// hrefs are the links of the last mail to an address, in order.
func (c *clinic) hrefs(to string) []string {
	c.t.Helper()
	last := ""
	for _, m := range c.email.all() {
		if m.To == to {
			last = m.HTML
		}
	}
	var out []string
	for _, m := range hrefForm.FindAllStringSubmatch(last, -1) {
		out = append(out, m[1])
	}
	return out
}

// ask opens or posts to a page and returns its status and text.
func ask(t *testing.T, web *httptest.Server, method, path string, form url.Values) (int, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, web.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	res, err := web.Client().Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if csp := res.Header.Get("Content-Security-Policy"); res.StatusCode == http.StatusOK && !strings.Contains(csp, "default-src 'none'") {
		t.Errorf("%s has the policy %q", path, csp)
	}
	return res.StatusCode, string(b)
}

// Opening a link, as mail scanners do, changes nothing. Its button records,
// once; the report counts as one by mail does.
func TestAnswerByLink(t *testing.T) {
	c, web := linked(t)
	c.morning("2026-10-05")
	c.at("2026-10-05 18:00")
	c.reply("p-01", "F2")
	c.morning("2026-10-06")
	links := c.hrefs("rosa@example.net")
	if len(links) < 14 {
		t.Fatalf("%d links in the mail", len(links))
	}
	for range 3 {
		for _, l := range links {
			if status, _ := ask(t, web, "GET", l, nil); status != http.StatusOK {
				t.Fatalf("GET %s: %d", l, status)
			}
		}
	}
	if n := len(c.events("p-01", journal.Heard)); n != 1 {
		t.Fatalf("opening links was heard %d times", n-1)
	}
	var pain5 string
	for _, l := range links {
		if link := c.said(l); link == "p5" {
			pain5 = l
		}
	}
	status, text := ask(t, web, "POST", pain5, nil)
	if status != http.StatusOK || !strings.Contains(text, "5 noted") {
		t.Fatalf("%d\n%s", status, text)
	}
	if status, _ := ask(t, web, "POST", pain5, nil); status != http.StatusConflict {
		t.Errorf("a second time: %d", status)
	}
	if n := len(c.events("p-01", journal.Heard)); n != 2 {
		t.Errorf("heard %d times", n-1)
	}
	c.send()
	if got := c.texts("email", "rosa@example.net"); !strings.Contains(got[len(got)-1], "5 noted") {
		t.Errorf("the answer by mail: %q", got[len(got)-1])
	}
	c.morning("2026-10-07")
	if d := c.last("p-01"); d.State != rules.InHeld {
		t.Errorf("p-01 is %s", d.State)
	}
}

// said is what a link's token says, without its signature.
func (c *clinic) said(path string) (what string) {
	c.t.Helper()
	c.view(func(tx *journal.Tx) error {
		l, err := readLink(tx, path[strings.LastIndex(path, "/")+1:])
		what = l.what
		return err
	})
	return what
}

// A public address on this machine has no https, which one click wants: the mail
// goes out without.
func TestLinksOnThisMachine(t *testing.T) {
	p := onSpool("p-01")
	p.channel, p.to = "email", "rosa@example.net"
	c := staffed(t, "web: {listen: 127.0.0.1:8090, public: http://127.0.0.1:8090}\n", p)
	c.morning("2026-10-05")
	all := c.email.all()
	if len(all) != 1 || all[0].Unsubscribe != "" || !strings.Contains(all[0].HTML, "http://127.0.0.1:8090/r/") {
		t.Fatalf("%d mails, unsubscribe %q", len(all), all[0].Unsubscribe)
	}
}

// Forged, expired and other people's links are refused, and say no more than
// whom to call.
func TestLinksThatAreRefused(t *testing.T) {
	c, web := linked(t)
	c.morning("2026-10-05")
	link := c.hrefs("rosa@example.net")[0]
	other := c.hrefs("emil@example.net")[0]
	said, mac, _ := strings.Cut(link, ".")
	saidOther, _, _ := strings.Cut(other, ".")
	for name, l := range map[string]string{
		"cut": link[:len(link)-1], "longer": link + "A", "other's words": saidOther + "." + mac, "no mac": said, "nothing": "/r/x",
		"long": "/r/" + strings.Repeat("A", 5000), "not base64": "/r/%F0%9F%A6%B6." + mac,
	} {
		for _, method := range []string{"GET", "POST"} {
			status, text := ask(t, web, method, l, nil)
			if status != http.StatusNotFound || strings.Contains(text, "Quillon") {
				t.Errorf("%s: %s answered %d", name, method, status)
			}
		}
	}
	c.at("2026-10-06 12:00")
	if status, _ := ask(t, web, "GET", link, nil); status != http.StatusOK {
		t.Errorf("the next day: %d", status)
	}
	c.at("2026-10-07 00:01")
	for _, method := range []string{"GET", "POST"} {
		if status, _ := ask(t, web, method, link, nil); status != http.StatusGone {
			t.Errorf("two days later: %s answered %d", method, status)
		}
	}
	if n := len(c.events("p-01", journal.Heard)); n != 0 {
		t.Errorf("heard %d times", n)
	}
	if status, _ := ask(t, web, "PUT", link, nil); status != http.StatusMethodNotAllowed {
		t.Errorf("PUT answered %d", status)
	}
}

// A mail reader's one click ends the messages; RFC 8058 section 3.1: a POST
// with this body, without cookies, and no redirect.
func TestOneClickEndsTheMessages(t *testing.T) {
	c, web := linked(t)
	c.morning("2026-10-05")
	var stop string
	for _, m := range c.email.all() {
		if m.To == "rosa@example.net" {
			stop = m.Unsubscribe
		}
	}
	path := strings.TrimPrefix(stop, publicAddress)
	if path == stop || path == "" {
		t.Fatalf("unsubscribe %q", stop)
	}
	if status, _ := ask(t, web, "GET", path, nil); status != http.StatusOK {
		t.Fatalf("GET: %d", status)
	}
	if status, _ := ask(t, web, "POST", path, url.Values{"List-Unsubscribe": {"One-Click"}}); status != http.StatusOK {
		t.Fatalf("POST: %d", status)
	}
	c.mornings("p-01", "2026-10-06", "2026-10-07", "")
	c.wantStands("p-01", "2026-10-07", 1, 1, rules.OptedOut)
	c.wantAlerts("stopped the texts")
}

// Alerts are answered on a page: opening it changes nothing, its form makes
// the edit and says what was done.
func TestAlertsAreAnsweredByLink(t *testing.T) {
	c, web := linked(t)
	c.canEdit()
	c.morning("2026-10-05")
	c.at("2026-10-05 10:00")
	c.take("email", notify.Incoming{ID: "IN1", From: "rosa@example.net", Text: "P9"})
	c.send()
	links := c.hrefs(clinician)
	if len(links) == 0 {
		t.Fatal("no link in the mail")
	}
	status, text := ask(t, web, "GET", links[0], nil)
	if status != http.StatusOK || !strings.Contains(text, "pain 9") || !strings.Contains(text, `value="release"`) {
		t.Fatalf("%d\n%s", status, text)
	}
	for _, bad := range []url.Values{{}, {"number": {"2"}, "do": {"release"}}, {"number": {"1"}, "do": {"hold"}, "until": {"yesterday"}}} {
		if status, _ := ask(t, web, "POST", links[0], bad); status != http.StatusBadRequest {
			t.Errorf("%v: %d", bad, status)
		}
	}
	status, text = ask(t, web, "POST", links[0], url.Values{"number": {"1"}, "do": {"release"}})
	if status != http.StatusOK || !strings.Contains(text, "released") {
		t.Fatalf("%d\n%s", status, text)
	}
	if n := strings.Count(c.file("enrollments.yaml"), "release: 2026-10-05"); n != 1 {
		t.Errorf("%d releases in the file", n)
	}
	c.morning("2026-10-06")
	if d := c.last("p-01"); d.State == rules.InPaused {
		t.Error("still paused")
	}
	end := len(links[0]) - 1
	forged := links[0][:end] + map[bool]string{true: "B", false: "A"}[links[0][end] == 'A']
	if status, text := ask(t, web, "GET", forged, nil); status != http.StatusNotFound || strings.Contains(text, "Quillon") {
		t.Errorf("a forged page: %d", status)
	}
}
