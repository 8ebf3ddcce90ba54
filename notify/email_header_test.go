package notify

import (
	"bytes"
	"io"
	netmail "net/mail"
	"slices"
	"strings"
	"testing"

	"github.com/emersion/go-message/mail"
)

// sentMail is a mail as the server took it in.
func sentMail(t *testing.T, m Message) []byte {
	t.Helper()
	p := &postbox{}
	p.start(t, nil)
	e := signingEmail(t, p.port, "example.org", dkimKeys(t)["rsa"].pem)
	if r := e.Send(t.Context(), m); r.Status != Sent {
		t.Fatalf("%+v", r)
	}
	return p.got()[0]
}

// once are the fields of which a mail has one, and must be those of the first
// kind: RFC 5322 section 3.6; one each: RFC 2369 section 3.1, RFC 8058 section
// 3.1, RFC 3834 section 5.
var (
	must = []string{"Date", "From", "To", "Subject", "Message-Id", "Mime-Version", "Content-Type", "Auto-Submitted", "Dkim-Signature"}
	once = []string{"Sender", "Reply-To", "Cc", "Bcc", "In-Reply-To", "References", "List-Unsubscribe", "List-Unsubscribe-Post"}
)

func TestEmailHeader(t *testing.T) {
	for name, m := range signedMails() {
		raw := sentMail(t, m)
		if bytes.Contains(bytes.ReplaceAll(raw, []byte("\r\n"), nil), []byte("\n")) {
			t.Errorf("%s: a bare line end", name)
		}
		for line := range strings.SplitSeq(string(raw), "\r\n") {
			if len(line) > 998 {
				t.Errorf("%s: line of %d", name, len(line))
			}
		}
		parsed, err := netmail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		for _, field := range must {
			if n := len(parsed.Header[field]); n != 1 {
				t.Errorf("%s: %s is there %d times", name, field, n)
			}
		}
		for _, field := range once {
			if n := len(parsed.Header[field]); n > 1 {
				t.Errorf("%s: %s is there %d times", name, field, n)
			}
		}
		checkUnsubscribe(t, m, parsed.Header)
		checkByOther(t, m, raw)
	}
}

// checkUnsubscribe looks at what offers to end the mails: one https address in
// brackets, and the fixed word (RFC 8058 sections 3.1 and 8.1).
func checkUnsubscribe(t *testing.T, m Message, h netmail.Header) {
	t.Helper()
	address, post := "", ""
	if m.Unsubscribe != "" {
		address, post = "<"+m.Unsubscribe+">", "List-Unsubscribe=One-Click"
	}
	if got := h.Get("List-Unsubscribe"); got != address {
		t.Errorf("List-Unsubscribe %q", got)
	}
	if got := h.Get("List-Unsubscribe-Post"); got != post {
		t.Errorf("List-Unsubscribe-Post %q", got)
	}
}

// checkByOther reads a mail by a library that did not write it.
func checkByOther(t *testing.T, m Message, raw []byte) {
	t.Helper()
	r, err := mail.CreateReader(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	from, err := r.Header.AddressList("From")
	if err != nil || len(from) != 1 || from[0].Address != "clinic@example.org" || from[0].Name != "Harbor Foot Clinic" {
		t.Errorf("from %v, %v", from, err)
	}
	to, err := r.Header.AddressList("To")
	if err != nil || len(to) != 1 || to[0].Address != m.To {
		t.Errorf("to %v, %v", to, err)
	}
	subject, err := r.Header.Subject()
	if err != nil || subject != m.Subject {
		t.Errorf("subject %q, %v", subject, err)
	}
	date, err := r.Header.Date()
	if err != nil || !date.Equal(m.At) {
		t.Errorf("date %s, %v", date, err)
	}
	submitted := "auto-generated"
	var answered []string
	if m.ReplyTo != "" {
		submitted, answered = "auto-replied", []string{m.ReplyTo}
	}
	if got := r.Header.Get("Auto-Submitted"); got != submitted {
		t.Errorf("Auto-Submitted %q", got)
	}
	for _, field := range []string{"In-Reply-To", "References"} {
		if ids, err := r.Header.MsgIDList(field); err != nil || !slices.Equal(ids, answered) {
			t.Errorf("%s %q, %v", field, ids, err)
		}
	}
	texts := []string{m.Text}
	if m.HTML != "" {
		texts = append(texts, m.HTML)
	}
	for _, want := range texts {
		part, err := r.NextPart()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(part.Body)
		got := strings.TrimRight(strings.ReplaceAll(string(body), "\r\n", "\n"), "\n")
		if err != nil || got != strings.TrimRight(want, "\n") {
			t.Errorf("part %q, %v", got, err)
		}
	}
	if _, err := r.NextPart(); err != io.EOF {
		t.Errorf("another part, %v", err)
	}
}

// An address that is no single https address is not offered, nor the mail sent
// without it.
func TestEmailUnsubscribeRefused(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	e := newTestEmail(t, p.port)
	for _, address := range []string{
		"http://plans.example.org/s", "mailto:stop@example.org", "https://", "plans.example.org/s", "https://a:b@example.org/",
		"https://example.org/>\r\nBcc: x@example.com", "https://example.org/ x", "https://example.org/>,<mailto:x@example.com",
		"https://example.org/ñ", "https://example.org/" + strings.Repeat("x", maxUnsubscribe),
	} {
		m := mailMessage()
		m.Unsubscribe = address
		if r := e.Send(t.Context(), m); r != (Result{Status: Rejected, Code: "header"}) {
			t.Errorf("%q: %+v", address, r)
		}
	}
	if len(p.got()) != 0 {
		t.Errorf("%d mails taken", len(p.got()))
	}
}

// What we send is nobody's answer when it comes back to our own mailbox.
func TestEmailIsAutomaticToOurselves(t *testing.T) {
	for name, m := range signedMails() {
		if got := readLetter(sentMail(t, m), false).sort(); got.reason != "automatic" {
			t.Errorf("%s: %+v", name, got)
		}
	}
}
