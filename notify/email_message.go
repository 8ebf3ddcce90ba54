package notify

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"regexp"

	mail "github.com/wneessen/go-mail"
)

// idLike is a Message-ID that may be put in a header as it is: RFC 5322
// section 3.6.4, in printable ASCII.
var idLike = regexp.MustCompile(`^<[!-;=?-~]+@[!-;=?-~]+>$`)

// keyHash is a hash of a message's key for one use, 128 bits in hex.
func keyHash(use, key string) string {
	sum := sha256.Sum256([]byte(use + "\x00" + key))
	return hex.EncodeToString(sum[:16])
}

// render makes the mail of a message, and writes it out once to nowhere, so
// that nothing can go wrong with it later but the connection. Message-ID,
// date and boundary come from the message alone: every try has the same bytes.
//
// Auto-Submitted tells other machines not to answer: RFC 3834 section 5.
func (e *Email) render(m Message) (*mail.Msg, error) {
	msg := mail.NewMsg(
		mail.WithNoDefaultUserAgent(),
		mail.WithBoundary(keyHash("boundary", m.Key)),
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
	msg.SetBodyString(mail.TypeTextPlain, m.Text)
	if m.HTML != "" {
		msg.AddAlternativeString(mail.TypeTextHTML, m.HTML)
	}
	if _, err := msg.WriteTo(io.Discard); err != nil {
		return nil, fmt.Errorf("render mail: %w", err)
	}
	return msg, nil
}

func bracketed(id string) string {
	if id == "" || id[0] == '<' {
		return id
	}
	return "<" + id + ">"
}
