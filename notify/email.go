package notify

import (
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net/mail"
	"regexp"
	"strings"
	"time"
)

// EmailConfig is a mail submission server and who the mails come from.
type EmailConfig struct {
	Host     string
	Port     int    // 0: 587, or 465 with TLS "tls" (RFC 6409, RFC 8314)
	From     string // address
	FromName string // shown before the address; may be empty
	User     string // empty: no authentication
	Password string
	TLS      string // "starttls" (default, mandatory), "tls", or "none" (loopback hosts only)

	// Timeout is the longest time one Send takes. 0: 10 minutes, the least a
	// client should wait for the answer to the final dot (RFC 5321 section
	// 4.5.3.2.6); less makes a mail sent twice more likely.
	Timeout time.Duration

	Domain  string         // in Message-ID and EHLO; empty: that of From
	Secret  []byte         // key of the Message-IDs, so that nobody can guess one; empty: anybody who knows the Key can
	DKIM    *DKIMConfig    // nil: the server signs, or nobody
	RootCAs *x509.CertPool // nil: the machine's
}

const (
	defaultEmailTimeout = 10 * time.Minute
	// connectTimeout bounds the TCP connect and the TLS handshake, ours.
	connectTimeout = 30 * time.Second
	// quitWait bounds the farewell after a mail was taken, ours.
	quitWait = 2 * time.Second
)

// Email sends mails through a submission server.
type Email struct {
	cfg  EmailConfig
	quit time.Duration
	sign *dkimSigner // nil: mails are not signed here
}

var _ Sender = (*Email)(nil)

// domainName is a host name as RFC 5321 section 4.1.2 has it.
var domainName = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9-]*[A-Za-z0-9])?(\.[A-Za-z0-9]([A-Za-z0-9-]*[A-Za-z0-9])?)*$`)

// NewEmail checks the settings; it makes no connection. No error it returns
// repeats a setting.
func NewEmail(cfg EmailConfig) (*Email, error) {
	cfg.TLS = cmp.Or(cfg.TLS, "starttls")
	cfg.Timeout = cmp.Or(cfg.Timeout, defaultEmailTimeout)
	switch cfg.TLS {
	case "starttls":
		cfg.Port = cmp.Or(cfg.Port, 587)
	case "tls":
		cfg.Port = cmp.Or(cfg.Port, 465)
	case "none":
		cfg.Port = cmp.Or(cfg.Port, 587)
		if !loopback(cfg.Host) {
			return nil, errors.New("email: a server that is not on this machine needs TLS")
		}
	default:
		return nil, errors.New(`email: TLS must be "starttls", "tls" or "none"`)
	}
	var err error
	from, ok := plainAddress(cfg.From)
	if !ok {
		return nil, errors.New("email: the sender must be an address like clinic@example.com")
	}
	cfg.Domain = cmp.Or(cfg.Domain, from[strings.LastIndex(from, "@")+1:])
	switch {
	case cfg.Host == "":
		return nil, errors.New("email: a server is needed")
	case cfg.Port < 1 || cfg.Port > 65535:
		return nil, errors.New("email: the port must be from 1 to 65535")
	case !domainName.MatchString(cfg.Domain):
		return nil, errors.New("email: the domain must be a host name")
	case hasControl(cfg.FromName):
		return nil, errors.New("email: the sender's name must be on one line")
	}
	e := &Email{cfg: cfg, quit: quitWait}
	if cfg.DKIM != nil {
		if e.sign, err = newDKIMSigner(*cfg.DKIM); err != nil {
			return nil, err
		}
	}
	return e, nil
}

// plainAddress takes one bare address: no display name, no list, nothing that
// would open a header of its own.
func plainAddress(s string) (string, bool) {
	if s == "" || hasControl(s) {
		return "", false
	}
	a, err := mail.ParseAddress(s)
	if err != nil || a.Name != "" || a.Address != s {
		return "", false
	}
	return s, true
}

func hasControl(s string) bool {
	return strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })
}

func (e *Email) tlsConfig() *tls.Config {
	return &tls.Config{ServerName: e.cfg.Host, RootCAs: e.cfg.RootCAs, MinVersion: tls.VersionTLS12}
}

// Send renders the mail, then dials and hands it over. What was lost once the
// mail itself was under way is Unknown.
func (e *Email) Send(ctx context.Context, m Message) Result {
	if _, ok := plainAddress(m.To); !ok {
		return Result{Status: Rejected, Code: "contact", BadContact: true}
	}
	switch {
	case hasControl(m.Subject), m.Unsubscribe != "" && !oneClick(m.Unsubscribe):
		return Result{Status: Rejected, Code: "header"}
	case strings.TrimSpace(m.Text) == "":
		return Result{Status: Rejected, Code: "content"}
	}
	msg, err := e.render(m)
	if err != nil {
		return Result{Status: Rejected, Code: "content"}
	}
	ctx, cancel := context.WithTimeout(ctx, e.cfg.Timeout)
	defer cancel()
	r := e.deliver(ctx, msg)
	if r.Status == Sent {
		r.ID = e.messageID(m)
	}
	return r
}

// Settle sends again: the same bytes under the same Message-ID, for nobody can
// ask a mail server what became of a mail. The person gets it twice only if
// the connection died after the final dot and the receiver does not weed out
// doubles.
func (e *Email) Settle(ctx context.Context, m Message) Result { return e.Send(ctx, m) }

// messageID is the Message-ID of a message, without the angle brackets: the
// same on every try, and telling nothing of the key.
func (e *Email) messageID(m Message) string {
	return fmt.Sprintf("v1.%s@%s", keyHash(e.cfg.Secret, "message-id", m.Key), e.cfg.Domain)
}
