package notify

import (
	"context"
	"errors"
	"net"
	"net/textproto"
	"strings"
	"time"

	mail "github.com/wneessen/go-mail"
	"github.com/wneessen/go-mail/log"
)

// Trial sends one mail as Send does, and tells each step of the conversation
// with the server. It returns whether the mail was taken. Nothing is tried a
// second time.
func (e *Email) Trial(ctx context.Context, m Message, tell func(TrialStep)) bool {
	d := &dialer{}
	limit := min(e.cfg.Timeout, trialLimit)
	g := &dialogue{e: e, limit: limit, trial: newTrial("mail", firstStep(e.cfg.Host), limit, d.close, tell)}
	defer g.late.Stop()
	if _, ok := plainAddress(m.To); !ok {
		g.doing = "recipient"
		g.failed("This is no mail address. Write it like you@example.com.")
		return false
	}
	msg, err := e.render(m)
	if err != nil {
		g.doing = "taken"
		g.failed("The mail could not be written. Look at from: and dkim: under email:.")
		return false
	}
	client, err := g.client(d)
	if err != nil {
		g.failed("The mail server's settings can't be used. Look at host: and port: under email:.")
		return false
	}
	// Closed by hand, as in deliver and for its reason.
	defer d.close()
	stop := context.AfterFunc(ctx, d.close)
	defer stop()
	session, err := client.DialToSMTPClientWithContext(ctx)
	if err == nil {
		err = client.SendWithSMTPClient(session, msg)
	}
	if !msg.IsDelivered() {
		g.failed(g.trouble(ctx, err))
		return false
	}
	g.over(true, "taken, as <"+e.messageID(m)+">")
	bye := time.AfterFunc(e.quit, d.close)
	defer bye.Stop()
	_ = client.CloseWithSMTPClient(session)
	return true
}

// dialogue follows what the client library says to the server and hears from
// it. The library shows no answer that it did not want, and no login.
type dialogue struct {
	*trial
	e       *Email
	limit   time.Duration
	command string // the last
	refusal *textproto.Error
}

// client is the one that sends every day, with its dialogue overheard.
func (g *dialogue) client(d *dialer) (*mail.Client, error) {
	client, err := g.e.client(d)
	if err != nil {
		return nil, err
	}
	secure := d.tls
	d.tls = nil // the trial's own dial agrees on encryption, to tell of it
	if secure != nil {
		secure = g.watched(secure)
	}
	err = mail.WithDialContextFunc(func(ctx context.Context, _, address string) (net.Conn, error) {
		return g.dial(ctx, d, secure, address, g.limit)
	})(client)
	if err != nil {
		return nil, err
	}
	if err := client.SetTLSConfig(g.watched(g.e.tlsConfig())); err != nil {
		return nil, err
	}
	client.SetLogger(g)
	client.SetDebugLog(true)
	client.ErrorHandlerRegistry.SetDefaultHandler(g)
	return client, nil
}

// Debugf follows the dialogue: commands, and the answers that were wanted.
func (g *dialogue) Debugf(l log.Log) {
	if l.Direction == log.DirClientToServer {
		g.command, _, _ = strings.Cut(l.Format, " ")
		return
	}
	code := 0
	if len(l.Messages) > 0 {
		code, _ = l.Messages[0].(int)
	}
	afterwards := "login"
	if g.e.cfg.User == "" {
		afterwards = "sender"
	}
	step := g.at()
	switch {
	case step == "greeting" && (g.command == "EHLO" || g.command == "HELO"):
		if g.e.cfg.TLS == "starttls" {
			afterwards = "encryption"
		}
		g.did("the server greets", afterwards, g.limit)
	case step == "encryption" && g.command == "EHLO":
		g.did(g.agreed(), afterwards, g.limit)
	case step == "login" && code == 235: // RFC 4954 section 6
		g.did("logged in as "+g.e.cfg.User, "sender", g.limit)
	case step == "sender" && g.command == "MAIL":
		g.did("sender accepted: "+g.e.cfg.From, "recipient", g.limit)
	case step == "recipient" && g.command == "RCPT":
		g.did("recipient accepted", "taken", g.limit)
	}
}

// Infof, Warnf and Errorf are the rest of the library's logger, which the
// dialogue does not use.
func (g *dialogue) Infof(log.Log)  {}
func (g *dialogue) Warnf(log.Log)  {}
func (g *dialogue) Errorf(log.Log) {}

// HandleError keeps the first answer that was not wanted, with the server's
// own words, which the library's errors bury.
func (g *dialogue) HandleError(_, _ string, _ *textproto.Conn, err error) error {
	var answer *textproto.Error
	if g.refusal == nil && errors.As(err, &answer) {
		g.refusal = answer
	}
	return err
}
