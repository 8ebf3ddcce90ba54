package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"stepgate/notify/carriertest"
)

// Numbers are of the range kept for fiction, +1 xxx 555 0100-0199; domains are
// those of RFC 2606.
const (
	testAccount = "AC0123456789abcdef0123456789abcdef"
	testToken   = "0123456789abcdef0123456789abcdef"
	testFrom    = "+12025550100"
	testTo      = "+12025550123"
	testMail    = "pat@example.com"
)

var testAt = time.Date(2026, 10, 5, 13, 0, 0, 0, time.UTC)

func textMessage() Message {
	return Message{Key: "p1/2026-10-05", To: testTo, Text: "Mon Oct 5: wall calf stretch, 3 times. Pain 0-10?", At: testAt}
}

func mailMessage() Message {
	m := textMessage()
	m.To, m.Subject, m.HTML = testMail, "Your steps for today", "<p>Wall calf stretch</p>"
	return m
}

// expiring is a context whose deadline passes when the test says so.
type expiring struct {
	context.Context
	done chan struct{}
}

func newExpiring() *expiring {
	return &expiring{context.Background(), make(chan struct{})}
}

func (e *expiring) expire()               { close(e.done) }
func (e *expiring) Done() <-chan struct{} { return e.done }
func (e *expiring) Err() error {
	select {
	case <-e.done:
		return context.DeadlineExceeded
	default:
		return nil
	}
}

func newCarrier(t *testing.T) *carriertest.Server {
	t.Helper()
	c := carriertest.New(testAccount, testToken)
	t.Cleanup(c.Close)
	return c
}

func newTestSMS(t *testing.T, api string) *SMS {
	t.Helper()
	s, err := NewSMS(SMSConfig{Account: testAccount, Token: testToken, Numbers: []string{testFrom}, API: api})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

// closedPort is a port of this machine that nobody listens on.
func closedPort(t *testing.T) int {
	t.Helper()
	l := listen(t)
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	return port
}

func listen(t *testing.T) net.Listener {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// postbox is a mail server that takes what it is given, or fails as told.
type postbox struct {
	mailErr, rcptErr error
	// data is called with the connection and the whole mail, before the
	// answer to the final dot; nil takes the mail.
	data func(c *smtp.Conn, body []byte) error
	// early is called when the mail has begun to come in.
	early func(c *smtp.Conn)
	// after is called once the answer to the final dot is out.
	after func(c *smtp.Conn)

	user, password string // who may send; empty: anyone
	implicit       bool   // TLS from the first byte

	port int

	mu    sync.Mutex
	mails [][]byte
	to    []string
}

func (p *postbox) got() [][]byte {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.mails
}

// postSession is one connection to a postbox.
type postSession struct {
	p    *postbox
	c    *smtp.Conn
	sent bool
}

func (s *postSession) Mail(string, *smtp.MailOptions) error { return s.p.mailErr }

func (s *postSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.p.mu.Lock()
	defer s.p.mu.Unlock()
	s.p.to = append(s.p.to, to)
	return s.p.rcptErr
}

func (s *postSession) Data(r io.Reader) error {
	first := make([]byte, 1)
	if _, err := io.ReadFull(r, first); err != nil {
		return err
	}
	if s.p.early != nil {
		s.p.early(s.c)
	}
	rest, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	body := append(first, rest...)
	if s.p.data != nil {
		if err := s.p.data(s.c, body); err != nil {
			return err
		}
	}
	s.p.mu.Lock()
	s.p.mails = append(s.p.mails, body)
	s.p.mu.Unlock()
	s.sent = true
	return nil
}

// Reset is called after the answer to a mail was written.
func (s *postSession) Reset() {
	if s.sent && s.p.after != nil {
		s.p.after(s.c)
	}
}

func (s *postSession) Logout() error { return nil }

// AuthMechanisms and Auth make it an smtp.AuthSession.
func (s *postSession) AuthMechanisms() []string {
	if s.p.user == "" {
		return nil
	}
	return []string{sasl.Plain}
}

func (s *postSession) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != s.p.user || password != s.p.password {
			return smtp.ErrAuthFailed
		}
		return nil
	}), nil
}

// start serves the postbox on a loopback port. With secure, it offers
// STARTTLS under the certificate of httptest, which is good for 127.0.0.1.
func (p *postbox) start(t *testing.T, secure *httptest.Server) {
	t.Helper()
	server := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) {
		return &postSession{p: p, c: c}, nil
	}))
	server.Domain = "mail.example.com"
	server.ErrorLog = silent{}
	if secure != nil {
		server.TLSConfig = secure.TLS.Clone()
		server.TLSConfig.NextProtos = nil
	}
	l := listen(t)
	p.port = l.Addr().(*net.TCPAddr).Port
	if p.implicit {
		l = tls.NewListener(l, server.TLSConfig)
	}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = server.Serve(l)
	}()
	t.Cleanup(func() {
		server.Close()
		l.Close() // Serve may not have come to it yet
		<-ended
	})
}

type silent struct{}

func (silent) Printf(string, ...any) {}
func (silent) Println(...any)        {}

func newTestEmail(t *testing.T, port int) *Email {
	t.Helper()
	e, err := NewEmail(EmailConfig{
		Host: "127.0.0.1", Port: port, From: "clinic@example.org", FromName: "Harbor Foot Clinic", TLS: "none",
	})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// script is a mail server that says these lines, one a command (the first as
// its greeting), and then hangs up. It gives back its port.
func script(t *testing.T, lines ...string) int {
	t.Helper()
	l := listen(t)
	go func() {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		buf := make([]byte, 4096)
		for i, line := range lines {
			if i > 0 {
				if _, err := c.Read(buf); err != nil {
					return
				}
			}
			if _, err := io.WriteString(c, strings.ReplaceAll(line, "\n", "\r\n")+"\r\n"); err != nil {
				return
			}
		}
	}()
	return l.Addr().(*net.TCPAddr).Port
}

var errTake = errors.New("no room for " + testTo)

// listenQuietly takes connections and says nothing. It gives back its port.
func listenQuietly(t *testing.T) int {
	t.Helper()
	return listen(t).Addr().(*net.TCPAddr).Port
}
