package notify

import (
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/emersion/go-imap/v2"
)

// MailboxConfig is a mailbox that replies, automatic answers and bounces come
// to: that of the address mails are sent from.
type MailboxConfig struct {
	Host     string
	Port     int // 0: 993, or 143 without TLS "tls" (RFC 9051 section 2.1)
	User     string
	Password string
	TLS      string // "tls" (default), "starttls" (mandatory then), or "none" (loopback hosts only)
	Folder   string // empty: INBOX

	// Timeout is the longest time one step takes: to connect and log in, to
	// list, to read one mail. 0: 1 minute.
	Timeout time.Duration
	// Since is up to where everything was read before; see Point. Zero:
	// nothing was, and the first Collect reads all that the mailbox holds.
	Since time.Time
	// Seen says whether a mail was taken already. nil: none was.
	Seen func(id string) bool
	// Tell commits what a bounce says of a mail. nil: nobody is told.
	Tell Tell

	// Log gets mail.ignored, with a reason and the id, for a mail that is no
	// person's, and mail.unread, with a reason and the mail's number in the
	// folder, for one that can't be read. nil: nothing is logged.
	Log     *slog.Logger
	RootCAs *x509.CertPool // nil: the machine's
}

// defaultStep bounds one step with the mail server, ours: a quarter of a
// mebibyte in that time is a line of 35 kbit/s.
const defaultStep = time.Minute

// Mailbox reads a mailbox by IMAP. It opens it for reading only, so that
// nothing in it is deleted, moved or marked: people may work with it too, and
// what they marked as read is read here all the same.
type Mailbox struct {
	cfg MailboxConfig
	now func() time.Time

	collecting chan struct{} // holds one while a Collect runs
	// validity and done are the Collect's own. done holds the numbers of the
	// mails that were dealt with, so that what lies in the overlap is fetched
	// once and not at every poll; they are good under one validity.
	validity uint32
	done     map[imap.UID]bool

	mu    sync.Mutex
	point time.Time
}

var _ Receiver = (*Mailbox)(nil)

// NewMailbox checks the settings; it makes no connection. No error it returns
// repeats a setting.
func NewMailbox(cfg MailboxConfig) (*Mailbox, error) {
	cfg.TLS = cmp.Or(cfg.TLS, "tls")
	switch cfg.TLS {
	case "tls":
		cfg.Port = cmp.Or(cfg.Port, 993)
	case "starttls":
		cfg.Port = cmp.Or(cfg.Port, 143)
	case "none":
		cfg.Port = cmp.Or(cfg.Port, 143)
		if !loopback(cfg.Host) {
			return nil, errors.New("mailbox: a server that is not on this machine needs TLS")
		}
	default:
		return nil, errors.New(`mailbox: TLS must be "tls", "starttls" or "none"`)
	}
	cfg.Folder = cmp.Or(cfg.Folder, "INBOX")
	switch {
	case cfg.Host == "":
		return nil, errors.New("mailbox: a server is needed")
	case cfg.Port < 1 || cfg.Port > 65535:
		return nil, errors.New("mailbox: the port must be from 1 to 65535")
	case cfg.User == "" || hasControl(cfg.User) || hasControl(cfg.Password):
		return nil, errors.New("mailbox: a user and a password on one line each are needed")
	case hasControl(cfg.Folder):
		return nil, errors.New("mailbox: the folder's name must be on one line")
	}
	cfg.Timeout = cmp.Or(cfg.Timeout, defaultStep)
	if cfg.Seen == nil {
		cfg.Seen = func(string) bool { return false }
	}
	if cfg.Tell == nil {
		cfg.Tell = func(context.Context, News) error { return nil }
	}
	cfg.Log = logger(cfg.Log)
	return &Mailbox{
		cfg: cfg, now: time.Now, collecting: make(chan struct{}, 1),
		done: map[imap.UID]bool{}, point: cfg.Since,
	}, nil
}

func (m *Mailbox) tlsConfig() *tls.Config {
	return &tls.Config{ServerName: m.cfg.Host, RootCAs: m.cfg.RootCAs, MinVersion: tls.VersionTLS12}
}

// Point is up to where everything that came in was read: the time at which
// the last complete Collect began, and Since before the first.
func (m *Mailbox) Point() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.point
}

// mailOverlap is how far before the point the mailbox is read again. IMAP
// searches by the date alone, and in no time zone: that on the server's
// calendar, which may be a day behind the date in UTC. The second day is for
// what came in then and was put in the folder later, as by somebody who looks
// through the junk once a day.
const mailOverlap = 48 * time.Hour

// from is the date from which a reading that begins now asks. A point after
// now was set by a clock that has been put right since.
func (m *Mailbox) from(now time.Time) time.Time {
	p := m.Point()
	if p.IsZero() {
		return p
	}
	if p.After(now) {
		p = now
	}
	return p.UTC().Add(-mailOverlap)
}

// Collect reads what came in to the folder, from the point less an overlap,
// oldest first: gives what people wrote and was not seen to take, what bounces
// say to Tell, and passes over the rest.
//
// The point moves only if everything was read and committed. If take or Tell
// fails, Collect stops there, so that a person's mails stay in order. A mail
// the server doesn't give holds the point too, after the others were taken.
// Where it broke off, the next Collect goes on.
//
// Several at once wait for one another. No error repeats an address, a subject
// or a text.
func (m *Mailbox) Collect(ctx context.Context, take Take) error {
	select {
	case m.collecting <- struct{}{}:
		defer func() { <-m.collecting }()
	case <-ctx.Done():
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("collect mail: %w", err)
	}
	begin := m.now().UTC()
	s, err := m.open(ctx)
	if err != nil {
		return fmt.Errorf("collect mail: %w", err)
	}
	defer s.close()
	m.sameFolder(s.validity)
	rows, err := s.list(ctx, m.from(begin), m.done)
	if err != nil {
		return fmt.Errorf("collect mail: %w", err)
	}
	unread := 0
	for _, r := range rows {
		raw, err := s.fetch(ctx, r)
		switch {
		case errors.Is(err, errGone):
			continue
		case errors.Is(err, errUnread):
			unread++
			m.cfg.Log.Warn("mail.unread", "reason", err.Error(), "uid", uint32(r.uid))
			continue
		case err != nil:
			return fmt.Errorf("collect mail: %w", err)
		}
		if err := m.hear(ctx, r, raw, take); err != nil {
			return err
		}
		m.done[r.uid] = true
	}
	if unread > 0 {
		return fmt.Errorf("collect mail: %d mails in the folder can't be read", unread)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.point = begin
	return nil
}

// sameFolder forgets the numbers of another folder than that read before, as
// one that was made anew: RFC 9051 section 2.3.1.1.
func (m *Mailbox) sameFolder(validity uint32) {
	if validity != m.validity {
		m.validity = validity
		clear(m.done)
	}
}

// hear does what a mail is there for.
func (m *Mailbox) hear(ctx context.Context, r mailRow, raw []byte, take Take) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("collect mail: %w", err)
	}
	l := readLetter(raw, r.size > int64(len(raw)))
	found := l.sort()
	switch {
	case found.reason != "":
		m.cfg.Log.Info("mail.ignored", "reason", found.reason, "id", l.id)
	case found.news != nil:
		if err := m.cfg.Tell(ctx, *found.news); err != nil {
			return &callerError{"collect mail: news in " + l.id + " was not committed", err}
		}
	case !m.cfg.Seen(l.id):
		in := *found.in
		in.At = r.at
		if err := take(ctx, in); err != nil {
			return &callerError{"collect mail: " + l.id + " was not committed", err}
		}
	}
	return nil
}
