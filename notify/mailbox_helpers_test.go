package notify

import (
	"bytes"
	"context"
	"crypto/tls"
	"net"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"
)

const (
	testUser     = "plans@example.org"
	testPassword = `canary-word "quoted\ mañana`
)

// postOffice is an IMAP server with one mailbox.
type postOffice struct {
	user *imapmemserver.User
	port int

	// fetch is called before each FETCH; an error is the answer to it.
	fetch func(set imap.NumSet, options *imap.FetchOptions) error
	// budget is how many bytes a connection gets to say before it is cut;
	// 0: all it likes.
	budget atomic.Int64
	said   atomic.Int64 // by the server, over all connections

	mu    sync.Mutex
	heard bytes.Buffer // both sides, without TLS
}

func (o *postOffice) Write(b []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.heard.Write(b)
}

func (o *postOffice) transcript() string {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.heard.String()
}

// officeSession is one connection to a post office.
type officeSession struct {
	imapserver.Session
	o *postOffice
}

func (s officeSession) Fetch(w *imapserver.FetchWriter, set imap.NumSet, options *imap.FetchOptions) error {
	if s.o.fetch != nil {
		if err := s.o.fetch(set, options); err != nil {
			return err
		}
	}
	return s.Session.Fetch(w, set, options)
}

// cutConn is a connection that is cut once its budget is spent.
type cutConn struct {
	net.Conn
	o    *postOffice
	left int64
}

func (c *cutConn) Write(b []byte) (int, error) {
	if c.left > 0 && int64(len(b)) >= c.left {
		n, _ := c.Conn.Write(b[:c.left])
		c.o.said.Add(int64(n))
		c.Conn.Close()
		return n, net.ErrClosed
	}
	n, err := c.Conn.Write(b)
	c.o.said.Add(int64(n))
	if c.left > 0 {
		c.left -= int64(n)
	}
	return n, err
}

type cutListener struct {
	net.Listener
	o *postOffice
}

func (l cutListener) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return &cutConn{c, l.o, l.o.budget.Load()}, nil
}

// newPostOffice serves a mailbox on a loopback port: in the clear, or by
// "tls" or "starttls" under the certificate of httptest.
func newPostOffice(t *testing.T, mode string, certs *httptest.Server) *postOffice {
	t.Helper()
	o := &postOffice{user: imapmemserver.NewUser(testUser, testPassword)}
	if err := o.user.Create("INBOX", nil); err != nil {
		t.Fatal(err)
	}
	mem := imapmemserver.New()
	mem.AddUser(o.user)
	options := &imapserver.Options{
		NewSession: func(*imapserver.Conn) (imapserver.Session, *imapserver.GreetingData, error) {
			return officeSession{mem.NewSession(), o}, nil, nil
		},
		Logger: silent{}, InsecureAuth: mode == "none", DebugWriter: o,
	}
	l := listen(t)
	o.port = l.Addr().(*net.TCPAddr).Port
	l = cutListener{l, o}
	if certs != nil {
		secure := certs.TLS.Clone()
		secure.NextProtos = nil
		if mode == "tls" {
			l = tls.NewListener(l, secure)
		} else {
			options.TLSConfig = secure
		}
	}
	server := imapserver.New(options)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = server.Serve(l)
	}()
	t.Cleanup(func() {
		server.Close()
		l.Close()
		<-ended
	})
	return o
}

// put puts a mail in the mailbox, with CRLF line ends.
func (o *postOffice) put(t *testing.T, raw string, at time.Time) {
	t.Helper()
	raw = strings.ReplaceAll(strings.ReplaceAll(raw, "\r\n", "\n"), "\n", "\r\n")
	if _, err := o.user.Append("INBOX", bytes.NewReader([]byte(raw)), &imap.AppendOptions{Time: at}); err != nil {
		t.Fatal(err)
	}
}

// letterFrom is a short mail of a person's.
func letterFrom(id, text string) string {
	return "Return-Path: <" + testMail + ">\nFrom: Pat <" + testMail + ">\nTo: clinic@example.org\n" +
		"Subject: Re: Your steps for today\nDate: Mon, 5 Oct 2026 13:05:00 +0000\nMessage-ID: <" + id + "@mail.example.com>\n" +
		"In-Reply-To: <v1.aa@example.org>\n\n" + text + "\n"
}

// mailReader gives a mailbox that reads an office in the clear, at a time that the
// test moves, and what it hears.
func mailReader(t *testing.T, o *postOffice, change func(*MailboxConfig)) (*Mailbox, *heard, *time.Time) {
	t.Helper()
	h, at := &heard{}, testAt
	cfg := MailboxConfig{Host: "127.0.0.1", Port: o.port, User: testUser, Password: testPassword,
		TLS: "none", Since: testAt, Seen: h.seen}
	if change != nil {
		change(&cfg)
	}
	m, err := NewMailbox(cfg)
	if err != nil {
		t.Fatal(err)
	}
	m.now = func() time.Time { return at }
	return m, h, &at
}

// office is an office in the clear with its reader.
func office(t *testing.T) (*postOffice, *Mailbox, *heard, *time.Time) {
	t.Helper()
	o := newPostOffice(t, "none", nil)
	m, h, at := mailReader(t, o, nil)
	return o, m, h, at
}

func collectMail(t *testing.T, m *Mailbox, h *heard) {
	t.Helper()
	if err := m.Collect(t.Context(), h.take); err != nil {
		t.Fatal(err)
	}
}

// told keeps the news of bounces.
type told struct{ got []News }

func (n *told) tell(_ context.Context, news News) error {
	n.got = append(n.got, news)
	return nil
}
