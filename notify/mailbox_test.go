package notify

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
)

func TestMailboxCollect(t *testing.T) {
	o, m, h, at := office(t)
	o.put(t, letterFrom("one", "D P3"), testAt.Add(time.Minute))
	*at = testAt.Add(time.Hour)
	collectMail(t, m, h)
	if len(h.got) != 1 {
		t.Fatalf("heard %+v", h.got)
	}
	got := h.got[0]
	if !strings.HasPrefix(got.ID, "mail-") {
		t.Errorf("id %q", got.ID)
	}
	got.ID = ""
	want := Incoming{From: testMail, Text: "D P3", At: testAt.Add(time.Minute), Subject: "Re: Your steps for today",
		MessageID: "one@mail.example.com", Answers: []string{"v1.aa@example.org"}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("heard %+v, want %+v", got, want)
	}
	if p := m.Point(); !p.Equal(*at) {
		t.Errorf("point %s, want %s", p, *at)
	}
}

// Nothing is changed in the mailbox, and a mail somebody has read counts.
func TestMailboxLeavesEverythingAsItIs(t *testing.T) {
	o, m, h, _ := office(t)
	o.put(t, letterFrom("one", "D P3"), testAt)
	raw := bytes.NewReader([]byte(strings.ReplaceAll(letterFrom("two", "D P4"), "\n", "\r\n")))
	if _, err := o.user.Append("INBOX", raw, &imap.AppendOptions{Time: testAt, Flags: []imap.Flag{imap.FlagSeen}}); err != nil {
		t.Fatal(err)
	}
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, []string{"D P3", "D P4"}) {
		t.Errorf("heard %q", got)
	}
	status, err := o.user.Status("INBOX", &imap.StatusOptions{NumMessages: true, NumUnseen: true})
	if err != nil || *status.NumMessages != 2 || *status.NumUnseen != 1 {
		t.Errorf("status %+v, %v", status, err)
	}
	log := o.transcript()
	for _, word := range []string{" SELECT ", " STORE ", " EXPUNGE", " MOVE ", " COPY ", " APPEND ", " CLOSE"} {
		if strings.Contains(log, word) {
			t.Errorf("%s in the conversation", word)
		}
	}
	if !strings.Contains(log, " EXAMINE ") || !strings.Contains(log, "BODY.PEEK[]<0.262144>") {
		t.Errorf("the conversation: %s", log)
	}
}

// Oldest first by when the server had them, whatever their order in the folder
// and the dates they give themselves.
func TestMailboxOldestFirst(t *testing.T) {
	o, m, h, _ := office(t)
	for _, i := range []int{3, 1, 2, 0} {
		o.put(t, letterFrom(fmt.Sprint("m", i), fmt.Sprint(i)), testAt.Add(time.Duration(i)*time.Minute))
	}
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, []string{"0", "1", "2", "3"}) {
		t.Errorf("heard %q", got)
	}
}

// A mail is fetched once while the process runs, and again after a start,
// where its id says that it was taken.
func TestMailboxOverlaps(t *testing.T) {
	o, m, h, at := office(t)
	fetched := 0
	o.fetch = func(_ imap.NumSet, options *imap.FetchOptions) error {
		fetched += len(options.BodySection)
		return nil
	}
	o.put(t, letterFrom("old", "too old"), testAt.AddDate(0, 0, -3))
	o.put(t, letterFrom("late", "late"), testAt.AddDate(0, 0, -2))
	collectMail(t, m, h)
	*at = at.Add(24 * time.Hour)
	o.put(t, letterFrom("new", "new"), *at)
	collectMail(t, m, h)
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, []string{"late", "new"}) || fetched != 2 {
		t.Errorf("heard %q, fetched %d", got, fetched)
	}
	again, _, now := mailReader(t, o, func(c *MailboxConfig) { c.Since, c.Seen = m.Point(), h.seen })
	*now = *at
	collectMail(t, again, h)
	if h.gave != 2 || fetched != 3 {
		t.Errorf("gave %d, fetched %d", h.gave, fetched)
	}
}

func TestMailboxFrom(t *testing.T) {
	m, err := NewMailbox(MailboxConfig{Host: "mail.example.com", User: testUser})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ point, want time.Time }{
		"nothing read": {time.Time{}, time.Time{}},
		"read":         {testAt.Add(-time.Minute), testAt.Add(-time.Minute - mailOverlap)},
		"ahead":        {testAt.Add(24 * time.Hour), testAt.Add(-mailOverlap)},
	} {
		m.point = c.point
		if got := m.from(testAt); !got.Equal(c.want) {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// A second copy is the same mail, whatever the servers on its way put on top;
// another mail under the same Message-ID is another.
func TestMailboxCopies(t *testing.T) {
	o, m, h, _ := office(t)
	mail := letterFrom("one", "P3")
	o.put(t, mail, testAt)
	o.put(t, "Received: from a.example by b.example; Mon, 5 Oct 2026 13:06:00 +0000\n"+mail, testAt.Add(time.Minute))
	o.put(t, letterFrom("one", "P9"), testAt.Add(2*time.Minute))
	o.put(t, strings.Replace(mail, "Pat <", "Sam <sam@example.com>, <", 1), testAt.Add(3*time.Minute))
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, []string{"P3", "P9", "P3"}) {
		t.Errorf("heard %q", got)
	}
	if h.got[0].ID == h.got[1].ID || h.got[2].From != "sam@example.com" {
		t.Errorf("heard %+v", h.got)
	}
}

// A folder made anew numbers its mails anew.
func TestMailboxFolderMadeAnew(t *testing.T) {
	o, m, h, _ := office(t)
	o.put(t, letterFrom("one", "P1"), testAt)
	collectMail(t, m, h)
	if err := o.user.Delete("INBOX"); err != nil {
		t.Fatal(err)
	}
	if err := o.user.Create("INBOX", nil); err != nil {
		t.Fatal(err)
	}
	o.put(t, letterFrom("two", "P2"), testAt)
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, []string{"P1", "P2"}) {
		t.Errorf("heard %q", got)
	}
}

// A mail the server refuses holds the point, after the others were taken.
func TestMailboxUnread(t *testing.T) {
	o, m, h, at := office(t)
	for i := range 3 {
		o.put(t, letterFrom(fmt.Sprint("m", i), fmt.Sprint(i)), testAt.Add(time.Duration(i)*time.Minute))
	}
	var logs bytes.Buffer
	m.cfg.Log = slog.New(slog.NewTextHandler(&logs, nil))
	o.fetch = func(set imap.NumSet, options *imap.FetchOptions) error {
		if len(options.BodySection) > 0 && set.String() == "2" {
			return &imap.Error{Type: imap.StatusResponseTypeNo, Text: "not today " + testMail}
		}
		return nil
	}
	*at = at.Add(time.Hour)
	err := m.Collect(t.Context(), h.take)
	if err == nil || !m.Point().Equal(testAt) {
		t.Errorf("%v, point %s", err, m.Point())
	}
	if got := h.texts(); !slices.Equal(got, []string{"0", "2"}) {
		t.Errorf("heard %q", got)
	}
	if !strings.Contains(logs.String(), "msg=mail.unread") || !strings.Contains(logs.String(), "uid=2") {
		t.Errorf("log %s", logs.String())
	}
	o.fetch = nil
	collectMail(t, m, h)
	if got := h.texts(); !slices.Equal(got, []string{"0", "2", "1"}) || !m.Point().Equal(*at) {
		t.Errorf("heard %q up to %s", got, m.Point())
	}
}

func TestMailboxTLS(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	pool := certs.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	plain := newPostOffice(t, "none", nil)
	for _, mode := range []string{"tls", "starttls"} {
		o := newPostOffice(t, mode, certs)
		o.put(t, letterFrom("one", "P1"), testAt)
		m, h, _ := mailReader(t, o, func(c *MailboxConfig) { c.TLS, c.RootCAs = mode, pool })
		collectMail(t, m, h)
		if len(h.got) != 1 {
			t.Errorf("%s: heard %+v", mode, h.got)
		}
		m, h, _ = mailReader(t, o, func(c *MailboxConfig) { c.TLS = mode })
		if err := m.Collect(t.Context(), h.take); err == nil || err.Error() != "collect mail: connect: tls" {
			t.Errorf("%s, unknown certificate: %v", mode, err)
		}
		m, h, _ = mailReader(t, plain, func(c *MailboxConfig) { c.TLS, c.RootCAs = mode, pool })
		if err := m.Collect(t.Context(), h.take); err == nil {
			t.Errorf("%s to a server without", mode)
		}
	}
	if strings.Contains(plain.transcript(), "LOGIN") || strings.Contains(plain.transcript(), "AUTHENTICATE") {
		t.Error("logged in, in the clear")
	}
}

func TestNewMailboxRefuses(t *testing.T) {
	good := MailboxConfig{Host: "mail.example.com", User: testUser, Password: "secret"}
	for name, change := range map[string]func(*MailboxConfig){
		"plain to elsewhere": func(c *MailboxConfig) { c.TLS = "none" },
		"mode":               func(c *MailboxConfig) { c.TLS = "secret" },
		"host":               func(c *MailboxConfig) { c.Host = "" },
		"port":               func(c *MailboxConfig) { c.Port = -1 },
		"user":               func(c *MailboxConfig) { c.User = "" },
		"password CRLF":      func(c *MailboxConfig) { c.Password = "secret\r\nx DELETE INBOX" },
		"folder CRLF":        func(c *MailboxConfig) { c.Folder = "secret\r\n" },
	} {
		cfg := good
		change(&cfg)
		if _, err := NewMailbox(cfg); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for mode, port := range map[string]int{"": 993, "starttls": 143} {
		cfg := good
		cfg.TLS = mode
		m, err := NewMailbox(cfg)
		if err != nil || m.cfg.Port != port || m.cfg.Folder != "INBOX" || m.cfg.Timeout != time.Minute {
			t.Errorf("%q: %+v, %v", mode, m, err)
		}
	}
}

// Several at once wait for one another, and for no longer than they may.
func TestMailboxIsSerialized(t *testing.T) {
	o, m, h, _ := office(t)
	o.put(t, letterFrom("one", "P1"), testAt)
	inside, free := make(chan struct{}, 4), make(chan struct{})
	take := func(ctx context.Context, in Incoming) error {
		inside <- struct{}{}
		<-free
		return h.take(ctx, in)
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if err := m.Collect(t.Context(), take); err != nil {
				t.Error(err)
			}
		})
	}
	<-inside
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := m.Collect(ctx, take); !errors.Is(err, context.Canceled) {
		t.Errorf("canceled while it waits: %v", err)
	}
	close(free)
	all.Wait()
	if h.gave != 1 {
		t.Errorf("gave %d", h.gave)
	}
}
