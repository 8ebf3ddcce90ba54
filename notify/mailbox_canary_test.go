package notify

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
)

// No log line and no error of a mailbox holds an address, a subject, a text,
// the password or the server's own words.
func TestCanaryMailbox(t *testing.T) {
	logger, logs := captureLogs(t)
	mails := map[string]string{
		"person":  strings.Replace(letterFrom("canary-word", "wall calf "+testTo), "Re: Your", "canary-word Your", 1),
		"auto":    "Auto-Submitted: canary-word\nFrom: " + testMail + "\nSubject: wall calf\n\ncanary-word",
		"bulk":    "Precedence: bulk\nList-Id: canary-word\nFrom: " + testMail + "\n\ncanary-word",
		"sender":  "From: canary-word wall calf\n\ncanary-word",
		"receipt": strings.ReplaceAll(receipt, "P9", "canary-word"),
		"bounce":  strings.ReplaceAll(bounceOf("canary-word", "failed"), "no such user", "canary-word wall calf"),
		"no news": bounceOf("4.4.1", "canary-word"),
	}
	for name, raw := range mails {
		o := newPostOffice(t, "none", nil)
		o.put(t, raw, testAt)
		m, _, _ := mailReader(t, o, func(c *MailboxConfig) { c.Log, c.Tell = logger, tellFails })
		err := m.Collect(t.Context(), takeFails)
		if failed := err != nil; failed != (name == "person" || name == "bounce") {
			t.Errorf("%s: %v", name, err)
		}
		sing(t, "error of "+name, fmt.Sprintf("%v %+v", err, err))
	}
	if n := strings.Count(logs.String(), "mail.ignored"); n != 5 {
		t.Errorf("%d logged as ignored: %s", n, logs)
	}
	canaryServers(t, func(c *MailboxConfig) { c.Log = logger })
	if !strings.Contains(logs.String(), "mail.unread") {
		t.Errorf("log %s", logs)
	}
	sing(t, "log", logs.String())
}

// canaryServers has servers that say what must not get out.
func canaryServers(t *testing.T, change func(*MailboxConfig)) {
	t.Helper()
	no := &imap.Error{Type: imap.StatusResponseTypeNo, Code: "CANARY-WORD", Text: "canary-word " + testMail}
	o := newPostOffice(t, "none", nil)
	o.put(t, letterFrom("one", "wall calf"), testAt)
	o.fetch = func(_ imap.NumSet, options *imap.FetchOptions) error {
		if len(options.BodySection) > 0 {
			return no
		}
		return nil
	}
	lists := newPostOffice(t, "none", nil)
	lists.put(t, letterFrom("one", "wall calf"), testAt)
	lists.fetch = func(imap.NumSet, *imap.FetchOptions) error { return no }
	offices := map[string]*postOffice{
		"refuses a mail": o,
		"refuses a list": lists,
		"says no":        {port: script(t, "* BYE canary-word "+testMail)},
		"no IMAP":        {port: script(t, "HTTP/1.1 400 canary-word "+testMail)},
		"odd answer":     {port: script(t, "* OK hi", "* CAPABILITY IMAP4rev1\nT1 OK x", "T2 NO [CANARY-WORD] canary-word "+testMail)},
		"odd greeting":   {port: script(t, "* OK [CAPABILITY canary-word "+testMail+"] canary-word")},
	}
	for name, o := range offices {
		m, _, _ := mailReader(t, o, func(c *MailboxConfig) { change(c); c.Timeout = time.Second })
		err := m.Collect(t.Context(), takeFails)
		if err == nil {
			t.Errorf("%s: no error", name)
		}
		sing(t, "error, "+name, fmt.Sprintf("%v %+v", err, err))
	}
	good := newPostOffice(t, "none", nil)
	for name, spoil := range map[string]func(*MailboxConfig){
		"password": func(c *MailboxConfig) { c.Password = "canary-word" },
		"user":     func(c *MailboxConfig) { c.User = "canary-word" },
		"folder":   func(c *MailboxConfig) { c.Folder = "canary-word" },
	} {
		m, _, _ := mailReader(t, good, func(c *MailboxConfig) { change(c); spoil(c) })
		err := m.Collect(t.Context(), takeFails)
		want := "collect mail: log in: the server said no"
		if name == "folder" {
			want = "collect mail: open the folder: the server said no"
		}
		if err == nil || err.Error() != want {
			t.Errorf("%s: %v", name, err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	m, _, _ := mailReader(t, good, change)
	sing(t, "error, canceled", fmt.Sprint(m.Collect(ctx, takeFails)))
}

func TestCanaryMailConfig(t *testing.T) {
	_, err := NewMailbox(MailboxConfig{Host: "canary-word.example", User: testMail, Password: "canary-word", TLS: "none"})
	sing(t, "mailbox", fmt.Sprint(err))
	_, err = NewEmail(EmailConfig{Host: "x.example", From: testMail,
		DKIM: &DKIMConfig{Domain: "canary-word.example", Selector: "s", Key: "-----BEGIN canary-word"}})
	if err == nil {
		t.Error("no error")
	}
	sing(t, "email", fmt.Sprint(err))
}
