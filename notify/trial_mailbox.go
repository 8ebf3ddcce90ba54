package notify

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strconv"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"
)

// Trial opens the mailbox as Collect does and tells each step of it. It reads
// no mail. It returns whether the folder is open to be read.
func (m *Mailbox) Trial(ctx context.Context, tell func(TrialStep)) bool {
	s := &imapSession{d: &dialer{}, timeout: min(m.cfg.Timeout, trialLimit)}
	t := newTrial("mailbox", firstStep(m.cfg.Host), s.timeout, s.d.close, tell)
	defer t.late.Stop()
	s.stop = context.AfterFunc(ctx, s.d.close)
	defer s.close()
	err := m.tryConnect(ctx, t, s)
	if err == nil {
		err = m.login(s.client)
	}
	if err != nil {
		t.failed(m.trouble(ctx, t, err))
		return false
	}
	t.did("logged in as "+m.cfg.User, "folder", s.timeout)
	data, err := s.client.Select(m.cfg.Folder, &imap.SelectOptions{ReadOnly: true}).Wait()
	if err != nil {
		t.failed(m.trouble(ctx, t, err))
		return false
	}
	mails := fmt.Sprintf("%d mails", data.NumMessages)
	if data.NumMessages == 1 {
		mails = "1 mail"
	}
	t.over(true, "folder "+m.cfg.Folder+" opened, "+mails+" in it")
	return true
}

// tryConnect is connect, step by step.
func (m *Mailbox) tryConnect(ctx context.Context, t *trial, s *imapSession) error {
	secure := t.watched(m.tlsConfig())
	address := net.JoinHostPort(m.cfg.Host, strconv.Itoa(m.cfg.Port))
	if m.cfg.TLS == "starttls" {
		conn, err := t.dial(ctx, s.d, nil, address, s.timeout)
		if err != nil {
			return err
		}
		// The library takes the greeting and agrees on encryption in one.
		s.client, err = imapclient.NewStartTLS(conn, &imapclient.Options{TLSConfig: secure})
		if err != nil {
			return err
		}
		t.did("the server greets; "+t.agreed(), "login", s.timeout)
		return nil
	}
	if m.cfg.TLS == "none" {
		secure = nil
	}
	conn, err := t.dial(ctx, s.d, secure, address, s.timeout)
	if err != nil {
		return err
	}
	s.client = imapclient.New(conn, nil)
	if err := s.client.WaitGreeting(); err != nil {
		return err
	}
	t.did("the server greets", "login", s.timeout)
	return nil
}

// trouble says why the step under way failed and what to do about it.
func (m *Mailbox) trouble(ctx context.Context, t *trial, err error) string {
	c := m.cfg
	p := peer{host: c.Host, port: c.Port, mode: c.TLS, block: "imap:", user: c.User, password: c.Password}
	var answer *imap.Error
	if ctx.Err() != nil || !errors.As(err, &answer) {
		return t.unreached(ctx, p, err)
	}
	said := p.said(answer.Text)
	switch t.at() {
	case "login":
		// RFC 9051 section 7.1 has codes for it, which few servers are careful with.
		return "The user or the password is wrong, or programs may not log in. " +
			"Look at user: and password: under imap:; many providers want a password made for programs, and IMAP to be switched on." + said
	case "folder":
		return "There is no folder " + m.cfg.Folder + " that can be opened. Look at folder: under imap:." + said
	}
	if c.TLS == "starttls" {
		return fmt.Sprintf("The server offers no encryption (STARTTLS) on port %d, and the mailbox is never read without. Port 993 goes with tls: tls.", p.port) + said
	}
	return "The server turned us away before any login. Ask the provider whether this machine may read mail there." + said
}
