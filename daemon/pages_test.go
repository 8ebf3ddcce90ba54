package daemon

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"stepgate/templates"
)

// TestReportPages opens the pages as a browser on this machine does, and as
// nobody should be able to.
func TestReportPages(t *testing.T) {
	c := folder(t)
	address := freeAddress(t)
	c.settings += fmt.Sprintf("reports: %s\n", address)
	c.write()
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	ask := func(method, path, host string) (*http.Response, string) {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), method, "http://"+address+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Host = host
		res, err := client.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = res.Body.Close() }()
		body, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res, string(body)
	}
	err := c.serve(0, func() {
		for _, x := range []struct {
			method, path, host string
			want               int
			says               string
		}{
			{"GET", "/", address, 200, "Call first"},
			{"GET", "/", "localhost:8091", 200, "/patients/p-01"},
			{"GET", "/", "[::1]", 200, "Call first"},
			{"HEAD", "/", address, 200, ""},
			{"GET", "/patients/p-01", address, 200, "Nothing is decided yet."},
			{"GET", "/patients/p-01?lang=xx", address, 404, "no words"},
			{"GET", "/patients/p-99", address, 404, "Nobody is enrolled"},
			{"GET", "/patients/", address, 404, ""},
			{"GET", "/metrics", address, 404, ""},
			{"POST", "/", address, 405, "only be read"},
			{"DELETE", "/patients/p-01", address, 405, "only be read"},
			{"GET", "/", "clinic.example.com", 421, "not served"},
			{"GET", "/patients/p-01", "127.0.0.1.example.com:80", 421, "not served"},
			{"GET", "/", "localhost.example.com", 421, "not served"},
			{"GET", "/", "192.0.2.7", 421, "not served"},
		} {
			res, body := ask(x.method, x.path, x.host)
			if res.StatusCode != x.want || !strings.Contains(body, x.says) || x.method == "HEAD" && body != "" {
				t.Errorf("%s %s of %s: %d %.200q, want %d %q", x.method, x.path, x.host, res.StatusCode, body, x.want, x.says)
			}
			h := res.Header
			if h.Get("Cache-Control") != "no-store" || h.Get("Referrer-Policy") != "no-referrer" ||
				h.Get("Content-Security-Policy") != templates.ReportPolicy()+"; frame-ancestors 'none'" || h.Get("X-Content-Type-Options") != "nosniff" {
				t.Errorf("%s %s of %s: headers %v", x.method, x.path, x.host, h)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	wantGone(t, "http.(*Server)")
}

// Both ways of looking give the same report: over the socket of a running
// service, and in the journal itself.
func TestReportsFromOutside(t *testing.T) {
	c := folder(t)
	look := NewLooker(c.dir, false, env)
	check := func(how string) {
		t.Helper()
		p, err := look.PatientReport(t.Context(), "p-01", "")
		if err != nil || p == nil || p.ID != "p-01" || p.AsOf != 0 || p.Clinic.Name == "" {
			t.Errorf("%s: patient %+v, %v", how, p, err)
		}
		if _, err := look.PatientReport(t.Context(), "p-99", ""); err == nil {
			t.Errorf("%s: nobody has a report", how)
		}
		all, err := look.ClinicReport(t.Context())
		if err != nil || all.Board == nil || all.Board.Enrolled != 1 || all.Outcomes.Patients != 1 {
			t.Errorf("%s: clinic %+v, %v", how, all, err)
		}
	}
	if err := c.serve(0, func() { check("running") }); err != nil {
		t.Fatal(err)
	}
	check("stopped")
}
