package notify

import (
	"bytes"
	"context"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"slices"
	"strings"
	"testing"
	"time"

	emersion "github.com/emersion/go-smtp"
)

func TestEmailSend(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	e := newTestEmail(t, p.port)
	m := mailMessage()
	m.Subject = "Mañana: " + strings.Repeat("long subject ", 10)
	m.Text = "Hold 30 s = half a minute.\n.\nMañana más."
	r := e.Send(t.Context(), m)
	if r.Status != Sent || !strings.HasPrefix(r.ID, "v1.") || !strings.HasSuffix(r.ID, "@example.org") {
		t.Fatalf("got %+v", r)
	}
	if !slices.Equal(p.to, []string{testMail}) {
		t.Errorf("envelope to %q", p.to)
	}
	msg, err := mail.ReadMessage(bytes.NewReader(p.got()[0]))
	if err != nil {
		t.Fatal(err)
	}
	h := msg.Header
	date, err := h.Date()
	if err != nil || !date.Equal(m.At) {
		t.Errorf("date %v, %v", date, err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject"))
	if err != nil || subject != m.Subject {
		t.Errorf("subject %q, %v", subject, err)
	}
	for header, want := range map[string]string{
		"Message-Id":     "<" + r.ID + ">",
		"Auto-Submitted": "auto-generated",
		"From":           `"Harbor Foot Clinic" <clinic@example.org>`,
		"To":             "<" + testMail + ">",
		"In-Reply-To":    "",
		"References":     "",
		"User-Agent":     "",
		"Mime-Version":   "1.0",
	} {
		if got := h.Get(header); got != want {
			t.Errorf("%s: %q, want %q", header, got, want)
		}
	}
	// A line has at most 998 characters, and should have 78: RFC 5322
	// section 2.1.1.
	for line := range strings.SplitSeq(string(p.got()[0]), "\r\n") {
		if len(line) > 78 {
			t.Errorf("line of %d: %q", len(line), line)
		}
	}
	parts := readParts(t, msg)
	if got := parts["text/plain"]; got != strings.ReplaceAll(m.Text, "\n", "\r\n") {
		t.Errorf("text %q", got)
	}
	if got := parts["text/html"]; got != m.HTML {
		t.Errorf("html %q", got)
	}
}

// readParts reads the parts of a multipart/alternative mail by type.
func readParts(t *testing.T, msg *mail.Message) map[string]string {
	t.Helper()
	kind, params, err := mime.ParseMediaType(msg.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("content type %q, %v", kind, err)
	}
	parts := map[string]string{}
	for r := multipart.NewReader(msg.Body, params["boundary"]); ; {
		// NextPart decodes quoted-printable by itself.
		part, err := r.NextPart()
		if errors.Is(err, io.EOF) {
			return parts
		}
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(part)
		if err != nil {
			t.Fatal(err)
		}
		kind, _, _ := mime.ParseMediaType(part.Header.Get("Content-Type"))
		parts[kind] = string(body)
	}
}

func TestEmailTextOnlyAnswer(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	e := newTestEmail(t, p.port)
	m := mailMessage()
	m.HTML = ""
	for _, c := range []struct{ replyTo, want string }{
		{"<abc.123@mail.example.net>", "<abc.123@mail.example.net>"},
		{"abc.123@mail.example.net", "<abc.123@mail.example.net>"},
		{"<a@b>\r\nBcc: x@example.com", ""},
		{"<a b@example.net>", ""},
		{"nonsense", ""},
	} {
		m.ReplyTo = c.replyTo
		if r := e.Send(t.Context(), m); r.Status != Sent {
			t.Fatalf("%q: %+v", c.replyTo, r)
		}
		raw := p.got()[len(p.got())-1]
		msg, err := mail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		h := msg.Header
		if h.Get("In-Reply-To") != c.want || h.Get("References") != c.want || h.Get("Bcc") != "" {
			t.Errorf("%q: headers %v", c.replyTo, h)
		}
		if got := h.Get("Auto-Submitted"); got != "auto-replied" {
			t.Errorf("Auto-Submitted %q", got)
		}
		body, err := io.ReadAll(quotedprintable.NewReader(msg.Body))
		if err != nil || strings.TrimRight(string(body), "\r\n") != m.Text {
			t.Errorf("body %q, %v", body, err)
		}
	}
}

func TestEmailSameBytesOnEveryTry(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	m := mailMessage()
	m.ReplyTo = "<a@example.net>"
	for i := range 3 {
		// Each time another process, and the message back from the journal in
		// another zone.
		m.At = m.At.In(time.FixedZone("", i*3600))
		e := newTestEmail(t, p.port)
		if r := e.Send(t.Context(), m); r.Status != Sent {
			t.Fatalf("%+v", r)
		}
		if r := e.Settle(t.Context(), m); r.Status != Sent {
			t.Fatalf("settle: %+v", r)
		}
	}
	for _, raw := range p.got()[1:] {
		if !bytes.Equal(raw, p.got()[0]) {
			t.Errorf("differs:\n%s\n%s", p.got()[0], raw)
		}
	}
	other := mailMessage()
	other.Key = "p1/2026-10-06"
	e := newTestEmail(t, p.port)
	if e.messageID(other) == e.messageID(m) {
		t.Error("two keys under one Message-ID")
	}
	if strings.Contains(e.messageID(m), "p1") {
		t.Error("the Message-ID tells the key")
	}
}

func TestEmailInjectionRefused(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	e := newTestEmail(t, p.port)
	for name, change := range map[string]func(*Message){
		"subject CRLF": func(m *Message) { m.Subject = "Hi\r\nBcc: x@example.com" },
		"subject LF":   func(m *Message) { m.Subject = "Hi\nBcc: x@example.com" },
		"subject NUL":  func(m *Message) { m.Subject = "Hi\x00" },
		"to CRLF":      func(m *Message) { m.To = "pat@example.com\r\nBcc: x@example.com" },
		"to list":      func(m *Message) { m.To = "pat@example.com, x@example.com" },
		"to name":      func(m *Message) { m.To = "Pat <pat@example.com>" },
		"to group":     func(m *Message) { m.To = "all: pat@example.com;" },
		"to nothing":   func(m *Message) { m.To = "" },
		"to phone":     func(m *Message) { m.To = testTo },
		"no text":      func(m *Message) { m.Text = "\n" },
	} {
		m := mailMessage()
		change(&m)
		r := e.Send(t.Context(), m)
		if r.Status != Rejected || r.BadContact != strings.HasPrefix(name, "to") {
			t.Errorf("%s: %+v", name, r)
		}
	}
	if len(p.got()) != 0 || len(p.to) != 0 {
		t.Errorf("offered to %q", p.to)
	}
}

// Codes: RFC 5321 section 4.2.2 and RFC 4954 section 6; enhanced: RFC 3463.
func TestEmailAnswers(t *testing.T) {
	answer := func(code int, enhanced ...int) error {
		return &emersion.SMTPError{Code: code, EnhancedCode: emersion.EnhancedCode(enhanced), Message: "no " + testMail}
	}
	for _, c := range []struct {
		name string
		p    *postbox
		want Result
	}{
		{"4xx at MAIL", &postbox{mailErr: answer(451, 4, 3, 0)}, Result{Status: Retry, Code: "451"}},
		{"4xx at RCPT", &postbox{rcptErr: answer(450, 4, 2, 1)}, Result{Status: Retry, Code: "450"}},
		{"greylisted unknown", &postbox{rcptErr: answer(450, 4, 1, 1)}, Result{Status: Retry, Code: "450"}},
		{"5xx at MAIL", &postbox{mailErr: answer(550, 5, 7, 1)}, Result{Status: Rejected, Code: "550"}},
		{"log in first", &postbox{mailErr: answer(530, 5, 7, 0)}, Result{Status: Retry, Code: "530", Trouble: true}},
		{"no such person", &postbox{rcptErr: answer(550, 5, 1, 1)}, Result{Status: Rejected, Code: "550", BadContact: true}},
		{"no such domain", &postbox{rcptErr: answer(550, 5, 1, 2)}, Result{Status: Rejected, Code: "550", BadContact: true}},
		{"policy at RCPT", &postbox{rcptErr: answer(550, 5, 7, 1)}, Result{Status: Rejected, Code: "550"}},
		{"switched off", &postbox{rcptErr: answer(550, 5, 2, 1)}, Result{Status: Rejected, Code: "550", BadContact: true}},
		{"our address at RCPT", &postbox{rcptErr: answer(550, 5, 1, 8)}, Result{Status: Rejected, Code: "550"}},
		{"5.1.x not at RCPT", &postbox{mailErr: answer(553, 5, 1, 8)}, Result{Status: Rejected, Code: "553"}},
		{"4xx after DATA", &postbox{data: func(*emersion.Conn, []byte) error { return answer(452, 4, 3, 1) }}, Result{Status: Retry, Code: "452"}},
		{"5xx after DATA", &postbox{data: func(*emersion.Conn, []byte) error { return answer(554, 5, 6, 0) }}, Result{Status: Rejected, Code: "554"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.p.start(t, nil)
			if got := newTestEmail(t, c.p.port).Send(t.Context(), mailMessage()); got != c.want {
				t.Errorf("got %+v, want %+v", got, c.want)
			}
			if n := len(c.p.got()); n != 0 {
				t.Errorf("%d mails taken", n)
			}
		})
	}
}

func TestEmailLostConnections(t *testing.T) {
	hangUp := func(c *emersion.Conn) { c.Conn().Close() }
	for _, c := range []struct {
		name string
		p    *postbox
		want Result
	}{
		{"in the mail", &postbox{early: hangUp}, Result{Status: Unknown, Code: "lost"}},
		{"after the final dot", &postbox{data: func(c *emersion.Conn, _ []byte) error { hangUp(c); return nil }},
			Result{Status: Unknown, Code: "lost"}},
		{"after the answer", &postbox{after: hangUp}, Result{Status: Sent}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.p.start(t, nil)
			got := newTestEmail(t, c.p.port).Send(t.Context(), mailMessage())
			got.ID = ""
			if got != c.want {
				t.Errorf("got %+v, want %+v", got, c.want)
			}
		})
	}
}

// A server that goes quiet, at the deadline and at a stop.
func TestEmailHang(t *testing.T) {
	gone := make(chan struct{})
	defer close(gone)
	ctx := newExpiring()
	p := &postbox{data: func(*emersion.Conn, []byte) error { ctx.expire(); <-gone; return nil }}
	p.start(t, nil)
	if r := newTestEmail(t, p.port).Send(ctx, mailMessage()); r != (Result{Status: Unknown, Code: "timeout"}) {
		t.Errorf("deadline: %+v", r)
	}
	stopped, cancel := context.WithCancel(t.Context())
	p = &postbox{data: func(*emersion.Conn, []byte) error { cancel(); <-gone; return nil }}
	p.start(t, nil)
	e := newTestEmail(t, p.port)
	if r := e.Send(stopped, mailMessage()); r != (Result{Status: Unknown, Code: "canceled"}) {
		t.Errorf("stop: %+v", r)
	}
	if r := e.Send(stopped, mailMessage()); r != (Result{Status: Retry, Code: "canceled"}) {
		t.Errorf("stopped before: %+v", r)
	}
	// Quiet after it took the mail: the farewell is not waited for.
	p = &postbox{after: func(*emersion.Conn) { <-gone }}
	p.start(t, nil)
	e = newTestEmail(t, p.port)
	e.quit = time.Millisecond
	if r := e.Send(t.Context(), mailMessage()); r.Status != Sent {
		t.Errorf("quiet afterwards: %+v", r)
	}
	// Its own timeout ends a greeting that never comes.
	e = newTestEmail(t, listenQuietly(t))
	e.cfg.Timeout = 10 * time.Millisecond
	if r := e.Send(t.Context(), mailMessage()); r != (Result{Status: Retry, Code: "timeout"}) {
		t.Errorf("no greeting: %+v", r)
	}
}

// A mail that broke off half way must not be taken for a whole one.
func TestEmailBreaksOffHalfWay(t *testing.T) {
	ctx := newExpiring()
	p := &postbox{early: func(*emersion.Conn) { ctx.expire() }}
	p.start(t, nil)
	m := mailMessage()
	// More than any buffer on the way holds, so that it can't all be under
	// way already.
	m.Text = strings.Repeat("a line of text\n", 1<<20)
	r := newTestEmail(t, p.port).Send(ctx, m)
	if r != (Result{Status: Unknown, Code: "timeout"}) {
		t.Errorf("got %+v", r)
	}
	if n := len(p.got()); n != 0 {
		t.Errorf("%d mails taken", n)
	}
}

func TestEmailNoSession(t *testing.T) {
	for _, c := range []struct {
		name string
		port int
		want Result
	}{
		{"refused", closedPort(t), Result{Status: Retry, Code: "refused"}},
		{"turned away", script(t, "554 no"), Result{Status: Retry, Code: "554", Trouble: true}},
		{"busy", script(t, "421 later"), Result{Status: Retry, Code: "421"}},
		{"hangs up", script(t), Result{Status: Retry, Code: "lost"}},
		{"gone after the greeting", script(t, "220 hi"), Result{Status: Retry, Code: "lost"}},
		{"gone before DATA is answered", script(t, "220 hi", "250 hi", "250 ok", "250 ok"), Result{Status: Retry, Code: "lost"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := newTestEmail(t, c.port).Send(t.Context(), mailMessage()); got != c.want {
				t.Errorf("got %+v, want %+v", got, c.want)
			}
		})
	}
}
