package notify

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func TestEmailTLS(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	pool := certs.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs

	p := &postbox{}
	p.start(t, certs)
	plain := &postbox{}
	plain.start(t, nil)
	cfg := EmailConfig{Host: "127.0.0.1", Port: p.port, From: "clinic@example.org", RootCAs: pool}
	send := func(change func(*EmailConfig)) Result {
		c := cfg
		change(&c)
		e, err := NewEmail(c)
		if err != nil {
			t.Fatal(err)
		}
		r := e.Send(t.Context(), mailMessage())
		r.ID = ""
		return r
	}
	if r := send(func(*EmailConfig) {}); r != (Result{Status: Sent}) {
		t.Errorf("STARTTLS by default: %+v", r)
	}
	if r := send(func(c *EmailConfig) { c.Port = plain.port }); r != (Result{Status: Retry, Code: "setup", Trouble: true}) {
		t.Errorf("server without STARTTLS: %+v", r)
	}
	if r := send(func(c *EmailConfig) { c.RootCAs = nil }); r != (Result{Status: Retry, Code: "tls", Trouble: true}) {
		t.Errorf("unknown certificate: %+v", r)
	}
	if r := send(func(c *EmailConfig) { c.TLS = "tls" }); r != (Result{Status: Retry, Code: "tls", Trouble: true}) {
		t.Errorf("implicit TLS to a plain port: %+v", r)
	}
	if len(plain.got()) != 0 || len(p.got()) != 1 {
		t.Errorf("%d mails in the clear, %d under TLS", len(plain.got()), len(p.got()))
	}
}

func TestEmailAuth(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	pool := certs.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	for _, c := range []struct {
		name, password, mode string
		want                 Result
	}{
		{"good", "s3cret", "starttls", Result{Status: Sent}},
		{"good, implicit TLS", "s3cret", "tls", Result{Status: Sent}},
		{"wrong password", "other", "starttls", Result{Status: Retry, Code: "535", Trouble: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := &postbox{user: "clinic", password: "s3cret", implicit: c.mode == "tls"}
			p.start(t, certs)
			e, err := NewEmail(EmailConfig{
				Host: "127.0.0.1", Port: p.port, From: "clinic@example.org", RootCAs: pool,
				TLS: c.mode, User: "clinic", Password: c.password,
			})
			if err != nil {
				t.Fatal(err)
			}
			r := e.Send(t.Context(), mailMessage())
			r.ID = ""
			if r != c.want {
				t.Errorf("got %+v, want %+v", r, c.want)
			}
		})
	}
	p := &postbox{}
	p.start(t, certs)
	e, err := NewEmail(EmailConfig{Host: "127.0.0.1", Port: p.port, From: "clinic@example.org", RootCAs: pool, User: "clinic", Password: "x"})
	if err != nil {
		t.Fatal(err)
	}
	if r := e.Send(t.Context(), mailMessage()); r != (Result{Status: Retry, Code: "setup", Trouble: true}) {
		t.Errorf("no way to log in: %+v", r)
	}
}

func TestNewEmailRefuses(t *testing.T) {
	good := EmailConfig{Host: "mail.example.com", From: "clinic@example.org", Password: "secret"}
	for name, change := range map[string]func(*EmailConfig){
		"plain to elsewhere": func(c *EmailConfig) { c.TLS = "none" },
		"mode":               func(c *EmailConfig) { c.TLS = "maybe" },
		"host":               func(c *EmailConfig) { c.Host = "" },
		"port":               func(c *EmailConfig) { c.Port = 70000 },
		"from":               func(c *EmailConfig) { c.From = "Clinic <clinic@example.org>" },
		"from CRLF":          func(c *EmailConfig) { c.From = "clinic@example.org\r\nBcc: x@example.com" },
		"name CRLF":          func(c *EmailConfig) { c.FromName = "Clinic\r\nBcc: x@example.com" },
		"domain":             func(c *EmailConfig) { c.Domain = "example.org>\r\n" },
	} {
		cfg := good
		change(&cfg)
		if _, err := NewEmail(cfg); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for mode, port := range map[string]int{"": 587, "starttls": 587, "tls": 465} {
		cfg := good
		cfg.TLS = mode
		e, err := NewEmail(cfg)
		if err != nil || e.cfg.Port != port || e.cfg.Timeout != 10*time.Minute || e.cfg.Domain != "example.org" {
			t.Errorf("%q: %+v, %v", mode, e, err)
		}
	}
}
