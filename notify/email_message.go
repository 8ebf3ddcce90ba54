package notify

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/url"
	"regexp"
	"strings"

	mail "github.com/wneessen/go-mail"
)

// idLike is a Message-ID that may be put in a header as it is: RFC 5322
// section 3.6.4, in printable ASCII.
var idLike = regexp.MustCompile(`^<[!-;=?-~]+@[!-;=?-~]+>$`)

// keyHash is a hash of a message's key for one use, 128 bits in hex:
// HMAC-SHA-256 under the clinic's secret.
func keyHash(secret []byte, use, key string) string {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte(use + "\x00" + key))
	return hex.EncodeToString(mac.Sum(nil)[:16])
}

// render makes the mail of a message, and writes it out once, to sign it and so
// that nothing can go wrong with it later but the connection. Message-ID,
// date, boundary and signature come from the message alone: every try has the
// same bytes.
//
// Auto-Submitted tells other machines not to answer: RFC 3834 section 5.
func (e *Email) render(m Message) (*mail.Msg, error) {
	msg := mail.NewMsg(
		mail.WithNoDefaultUserAgent(),
		mail.WithBoundary(keyHash(e.cfg.Secret, "boundary", m.Key)),
	)
	from := msg.From
	if e.cfg.FromName != "" {
		from = func(addr string) error { return msg.FromFormat(e.cfg.FromName, addr) }
	}
	if err := from(e.cfg.From); err != nil {
		return nil, fmt.Errorf("render sender: %w", err)
	}
	if err := msg.To(m.To); err != nil {
		return nil, fmt.Errorf("render recipient: %w", err)
	}
	msg.Subject(m.Subject)
	msg.SetMessageIDWithValue(e.messageID(m))
	msg.SetDateWithValue(m.At.UTC())
	submitted := "auto-generated"
	if m.ReplyTo != "" {
		submitted = "auto-replied"
	}
	msg.SetGenHeader("Auto-Submitted", submitted)
	// An id that would not fit in a header costs the thread, not the answer.
	if id := bracketed(m.ReplyTo); idLike.MatchString(id) {
		msg.SetGenHeader(mail.HeaderInReplyTo, id)
		msg.SetGenHeader(mail.HeaderReferences, id)
	}
	if m.Unsubscribe != "" {
		// Not by the library's own call for the pair: it writes the two in an
		// order that is another each time.
		msg.SetGenHeader(mail.HeaderListUnsubscribe, "<"+m.Unsubscribe+">")
		msg.SetGenHeader(mail.HeaderListUnsubscribePost, "List-Unsubscribe=One-Click")
	}
	msg.SetBodyString(mail.TypeTextPlain, m.Text)
	if m.HTML != "" {
		msg.AddAlternativeString(mail.TypeTextHTML, m.HTML)
	}
	var raw bytes.Buffer
	if _, err := msg.WriteTo(&raw); err != nil {
		return nil, fmt.Errorf("render mail: %w", err)
	}
	if e.sign != nil {
		value, err := e.sign.signature(raw.Bytes(), m.At)
		if err != nil {
			return nil, fmt.Errorf("sign mail: %w", err)
		}
		msg.SetGenHeaderPreformatted("DKIM-Signature", value)
	}
	return msg, nil
}

// maxUnsubscribe keeps the address in a line of 998 characters (RFC 5322
// section 2.1.1), brackets and all.
const maxUnsubscribe = 900

// oneClick tells whether an address may stand for unsubscribing by one POST:
// https (RFC 8058 section 3.1), and nothing that ends the brackets around it
// or, as a comma does, begins another (RFC 2369 section 2).
func oneClick(s string) bool {
	u, err := url.Parse(s)
	return err == nil && u.Scheme == "https" && u.Host != "" && u.User == nil && len(s) <= maxUnsubscribe &&
		!strings.ContainsFunc(s, func(r rune) bool { return r <= ' ' || r >= 0x7f || strings.ContainsRune("<>,", r) })
}

func bracketed(id string) string {
	if id == "" || id[0] == '<' {
		return id
	}
	return "<" + id + ">"
}
