package notify

import (
	"context"
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/textproto"
	"strconv"
	"sync"
	"time"

	mail "github.com/wneessen/go-mail"
)

// line is a connection that the context ends and nothing else: the client
// library sets deadlines of its own, which would start anew with each
// command, and does not end a wait when the context does.
type line struct{ net.Conn }

func (line) SetDeadline(time.Time) error      { return nil }
func (line) SetReadDeadline(time.Time) error  { return nil }
func (line) SetWriteDeadline(time.Time) error { return nil }

// dialer dials one connection and keeps hold of it, for the client library
// leaves it open where the greeting or the handshake fails.
type dialer struct {
	tls  *tls.Config // nil: plain at first
	mu   sync.Mutex
	conn net.Conn // the bare one; nil: none was had
}

func (d *dialer) dial(ctx context.Context, network, address string) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, connectTimeout)
	defer cancel()
	conn, err := (&net.Dialer{}).DialContext(ctx, network, address)
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	d.conn = conn
	d.mu.Unlock()
	if d.tls == nil {
		return line{conn}, nil
	}
	secure := tls.Client(line{conn}, d.tls)
	if err := secure.HandshakeContext(ctx); err != nil {
		return nil, err
	}
	return secure, nil
}

// close ends the connection at once, without a farewell.
func (d *dialer) close() {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.conn != nil {
		_ = d.conn.Close()
	}
}

func (d *dialer) connected() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.conn != nil
}

func (e *Email) client(d *dialer) (*mail.Client, error) {
	opts := []mail.Option{
		mail.WithPort(e.cfg.Port),
		mail.WithHELO(e.cfg.Domain),
		mail.WithTimeout(e.cfg.Timeout),
		mail.WithDialContextFunc(d.dial),
		mail.WithTLSConfig(e.tlsConfig()),
		// One mail a connection: nothing to probe and nothing to reset.
		mail.WithoutNoop(), mail.WithoutRset(),
	}
	switch e.cfg.TLS {
	case "tls":
		d.tls = e.tlsConfig()
		opts = append(opts, mail.WithSSL())
	case "none":
		opts = append(opts, mail.WithTLSPolicy(mail.NoTLS))
	default:
		opts = append(opts, mail.WithTLSPolicy(mail.TLSMandatory))
	}
	if e.cfg.User != "" {
		opts = append(opts, mail.WithUsername(e.cfg.User), mail.WithPassword(e.cfg.Password),
			mail.WithOpportunisticSMTPAuth(mail.SMTPAuthSCRAMSHA256, mail.SMTPAuthPlain,
				mail.SMTPAuthLogin, mail.SMTPAuthCramMD5))
	}
	return mail.NewClient(e.cfg.Host, opts...)
}

// deliver dials, sends one mail and says what became of it.
func (e *Email) deliver(ctx context.Context, msg *mail.Msg) Result {
	d := &dialer{}
	client, err := e.client(d)
	if err != nil {
		return Result{Status: Retry, Code: "setup", Trouble: true}
	}
	// Always closed by hand. The farewell of the client library would end a
	// mail that broke off half way with a final dot, and the server would
	// take the half for a mail.
	defer d.close()
	stop := context.AfterFunc(ctx, d.close)
	defer stop()
	session, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return unopened(ctx, d.connected(), err)
	}
	err = client.SendWithSMTPClient(session, msg)
	// An error after the server took the mail changes nothing about that.
	if msg.IsDelivered() {
		bye := time.AfterFunc(e.quit, d.close)
		defer bye.Stop()
		_ = client.CloseWithSMTPClient(session)
		return Result{Status: Sent}
	}
	return undelivered(ctx, err)
}

// unopened says what it means that no session came about: the mail was not
// offered, so it is never worse than a retry. A permanent answer, as to the
// password, concerns the account and not the mail.
func unopened(ctx context.Context, connected bool, err error) Result {
	var reply *textproto.Error
	switch {
	case ctx.Err() == nil && errors.As(err, &reply):
		r := Result{Status: Retry, Code: strconv.Itoa(reply.Code)}
		if reply.Code >= 500 {
			r.Trouble = true
		}
		return r
	case ctx.Err() == nil && connected && !broken(err):
		// No TLS where it is a must, no way to log in that both know.
		return Result{Status: Retry, Code: "setup", Trouble: true}
	}
	r := Result{Status: Retry, Code: netWord(ctx, err)}
	if r.Code == "tls" {
		r.Trouble = true
	}
	return r
}

// undelivered says what a failed hand-over means. Codes and classes are those
// of RFC 5321 section 4.2.1: 4xx may be tried again, 5xx may not. Without a
// code the connection was lost: before the mail itself was under way it was
// surely not taken, after that it may have been.
func undelivered(ctx context.Context, err error) Result {
	var failed *mail.SendError
	if !errors.As(err, &failed) {
		return Result{Status: Unknown, Code: netWord(ctx, err)}
	}
	code := failed.ErrorCode()
	under := failed.Reason == mail.ErrWriteContent || failed.Reason == mail.ErrSMTPDataClose
	switch {
	case code == 0 && under:
		return Result{Status: Unknown, Code: netWord(ctx, err)}
	case code == 0 && failed.Reason == mail.ErrGetRcpts, code == 0 && failed.Reason == mail.ErrGetSender:
		return Result{Status: Rejected, Code: "header"}
	case code == 0:
		return Result{Status: Retry, Code: netWord(ctx, err)}
	case code < 500:
		return Result{Status: Retry, Code: strconv.Itoa(code)}
	case accountCodes[code]:
		return Result{Status: Retry, Code: strconv.Itoa(code), Trouble: true}
	}
	return Result{
		Status:     Rejected,
		Code:       strconv.Itoa(code),
		BadContact: failed.Reason == mail.ErrSMTPRcptTo && deadAddress(failed.EnhancedStatusCode()),
	}
}

// accountCodes are permanent answers about who sends, not about the mail:
// RFC 4954 section 6.
var accountCodes = map[int]bool{530: true, 534: true, 535: true, 538: true}

// broken tells errors of the connection from those the client library makes
// up on its own.
func broken(err error) bool {
	var network net.Error
	return errors.As(err, &network) || errors.Is(err, io.EOF) ||
		errors.Is(err, io.ErrUnexpectedEOF) || netWord(context.Background(), err) == "tls"
}
