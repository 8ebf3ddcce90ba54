package notify

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func TestMailboxTrial(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	pool := certs.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	for mode, names := range map[string]string{
		"none":     "connect greeting login folder",
		"tls":      "connect encryption greeting login folder",
		"starttls": "connect greeting login folder",
	} {
		o := newPostOffice(t, mode, map[string]*httptest.Server{"tls": certs, "starttls": certs}[mode])
		o.put(t, letterFrom("a", "D2"), testAt)
		m, _, _ := mailReader(t, o, func(c *MailboxConfig) { c.TLS, c.RootCAs = mode, pool })
		s := &steps{}
		if !m.Trial(t.Context(), s.tell) {
			t.Errorf("%s: not open", mode)
		}
		s.want(t, "mailbox", names, "folder INBOX opened, 1 mail in it")
		if agreed := strings.Contains(s.words(), "encryption agreed: TLS 1.3"); agreed != (mode != "none") {
			t.Errorf("%s: %s", mode, s.words())
		}
		if !strings.Contains(s.words(), "logged in as "+testUser) || strings.Contains(s.words(), testPassword) {
			t.Errorf("%s: %s", mode, s.words())
		}
		for _, not := range []string{"FETCH", "STORE", "EXPUNGE"} {
			if strings.Contains(o.transcript(), not) {
				t.Errorf("%s: %s in the conversation", mode, not)
			}
		}
	}
}

func TestMailboxTrialFails(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	plain, secure := newPostOffice(t, "none", nil), newPostOffice(t, "tls", certs)
	for _, c := range []struct {
		name   string
		change func(*MailboxConfig)
		steps  string
		words  []string
	}{
		{"wrong password", func(c *MailboxConfig) { c.Password = "canary-word" }, "connect greeting login!",
			[]string{"user or the password is wrong", "password: under imap:"}},
		{"no such folder", func(c *MailboxConfig) { c.Folder = "Answers" }, "connect greeting login folder!",
			[]string{"There is no folder Answers", "Look at folder: under imap:."}},
		{"closed", func(c *MailboxConfig) { c.Port = closedPort(t) }, "connect!", []string{"nobody listens there", "under imap:"}},
		{"certificate", func(c *MailboxConfig) { c.Port, c.TLS = secure.port, "tls" }, "connect encryption!",
			[]string{"certificate is not trusted"}},
		{"no STARTTLS", func(c *MailboxConfig) { c.TLS = "starttls" }, "connect greeting!",
			[]string{"offers no encryption (STARTTLS)", "Port 993"}},
		{"TLS to a plain port", func(c *MailboxConfig) { c.TLS = "tls" }, "connect encryption!",
			[]string{"does not speak TLS", "under imap:"}},
		{"turned away", func(c *MailboxConfig) { c.Port = script(t, "* BYE not today") }, "connect greeting!",
			[]string{"turned us away", `"not today"`}},
		{"quiet", func(c *MailboxConfig) { c.Port, c.Timeout = listenQuietly(t), 20*time.Millisecond }, "connect greeting!",
			[]string{"says nothing on port", "write tls: tls under imap:"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, _, _ := mailReader(t, plain, c.change)
			s := &steps{}
			if m.Trial(t.Context(), s.tell) {
				t.Error("open")
			}
			s.want(t, "mailbox", c.steps, c.words...)
			if strings.Contains(s.words(), "canary-word") {
				t.Error("the password is told")
			}
		})
	}
}
