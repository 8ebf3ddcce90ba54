package notify

import (
	"cmp"
	"context"
	"errors"
	"io"
	"maps"
	"net"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"
	"github.com/emersion/go-sasl"
)

// maxMail is the most that is fetched of a mail, in bytes, ours: header and
// text of any letter a person writes come before it, and the pictures of one
// that has 20 MB stay where they are.
const maxMail = 256 << 10

// listBatch is how many mails are asked about in one command, so that the
// command stays a short line.
const listBatch = 200

// What becomes of one mail that is not read.
var (
	errGone   = errors.New("gone")    // somebody took it out of the folder meanwhile
	errUnread = errors.New("refused") // the server doesn't give it
)

// imapSession is one connection with the folder open for reading.
type imapSession struct {
	d        *dialer
	client   *imapclient.Client
	timeout  time.Duration
	validity uint32
	stop     func() bool
}

// mailRow is a mail in the folder.
type mailRow struct {
	uid  imap.UID
	at   time.Time // when it came in, by the server
	size int64
}

// open connects, logs in and opens the folder. Its errors hold a short word
// and nothing of what was said.
func (m *Mailbox) open(ctx context.Context) (*imapSession, error) {
	s := &imapSession{d: &dialer{}, timeout: m.cfg.Timeout}
	if m.cfg.TLS == "tls" {
		s.d.tls = m.tlsConfig()
	}
	s.stop = context.AfterFunc(ctx, s.d.close)
	err := s.step(ctx, "connect", func() error { return m.connect(ctx, s) })
	if err == nil {
		err = s.step(ctx, "log in", func() error { return m.login(s.client) })
	}
	if err == nil {
		err = s.step(ctx, "open the folder", func() error {
			data, err := s.client.Select(m.cfg.Folder, &imap.SelectOptions{ReadOnly: true}).Wait()
			if err == nil {
				s.validity = data.UIDValidity
			}
			return err
		})
	}
	if err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (m *Mailbox) connect(ctx context.Context, s *imapSession) error {
	conn, err := s.d.dial(ctx, "tcp", net.JoinHostPort(m.cfg.Host, strconv.Itoa(m.cfg.Port)))
	if err != nil {
		return err
	}
	if m.cfg.TLS == "starttls" {
		s.client, err = imapclient.NewStartTLS(conn, &imapclient.Options{TLSConfig: m.tlsConfig()})
		return err
	}
	s.client = imapclient.New(conn, nil)
	return s.client.WaitGreeting()
}

// login takes the way that allows every character in a password where the
// server has it.
func (m *Mailbox) login(c *imapclient.Client) error {
	if c.Caps().Has(imap.AuthCap(sasl.Plain)) {
		return c.Authenticate(sasl.NewPlainClient("", m.cfg.User, m.cfg.Password))
	}
	return c.Login(m.cfg.User, m.cfg.Password).Wait()
}

// step does one thing within the timeout, by the end of which the connection
// is gone; the client library's own waits have no end. What the server says in
// so many words may hold anything, so only that it said no gets out.
func (s *imapSession) step(ctx context.Context, doing string, do func() error) error {
	late := time.AfterFunc(s.timeout, s.d.close)
	err := do()
	if !late.Stop() {
		return &callerError{doing + ": timeout", ctx.Err()}
	}
	var answer *imap.Error
	switch {
	case err == nil:
		return nil
	case ctx.Err() == nil && errors.As(err, &answer):
		return &callerError{doing + ": the server said " + strings.ToLower(string(answer.Type)), errUnread}
	}
	return &callerError{doing + ": " + netWord(ctx, err), ctx.Err()}
}

// close says farewell, if the server is quick about it, and hangs up.
func (s *imapSession) close() {
	defer s.d.close()
	s.stop()
	if s.client == nil {
		return
	}
	bye := time.AfterFunc(quitWait, s.d.close)
	defer bye.Stop()
	_ = s.client.Logout().Wait()
	_ = s.client.Close()
}

// list gives what came in on that date or later (zero: everything), but for
// what is done, oldest first and by number within a second. The numbers of
// what is gone are taken out of done.
func (s *imapSession) list(ctx context.Context, since time.Time, done map[imap.UID]bool) ([]mailRow, error) {
	var uids []imap.UID
	err := s.step(ctx, "search the folder", func() error {
		data, err := s.client.UIDSearch(&imap.SearchCriteria{Since: since}, nil).Wait()
		if err == nil {
			uids = data.AllUIDs()
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	there := make(map[imap.UID]bool, len(uids))
	for _, uid := range uids {
		there[uid] = true
	}
	maps.DeleteFunc(done, func(uid imap.UID, _ bool) bool { return !there[uid] })
	uids = slices.DeleteFunc(uids, func(uid imap.UID) bool { return done[uid] })
	var rows []mailRow
	for some := range slices.Chunk(uids, listBatch) {
		err := s.step(ctx, "list the folder", func() error {
			answers, err := s.client.Fetch(imap.UIDSetNum(some...),
				&imap.FetchOptions{UID: true, InternalDate: true, RFC822Size: true}).Collect()
			for _, a := range answers {
				rows = append(rows, mailRow{a.UID, a.InternalDate.UTC(), a.RFC822Size})
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	slices.SortFunc(rows, func(a, b mailRow) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.uid, b.uid)) })
	return rows, nil
}

// fetch reads the beginning of a mail, without marking it as read.
func (s *imapSession) fetch(ctx context.Context, r mailRow) ([]byte, error) {
	section := &imap.FetchItemBodySection{Peek: true, Partial: &imap.SectionPartial{Size: maxMail}}
	var (
		raw         []byte
		there, text bool
	)
	err := s.step(ctx, "read a mail", func() error {
		cmd := s.client.Fetch(imap.UIDSetNum(r.uid), &imap.FetchOptions{UID: true, BodySection: []*imap.FetchItemBodySection{section}})
		for mail := cmd.Next(); mail != nil; mail = cmd.Next() {
			there = true
			for item := mail.Next(); item != nil; item = mail.Next() {
				body, ok := item.(imapclient.FetchItemDataBodySection)
				if !ok || body.Literal == nil {
					continue
				}
				// A server may give more than was asked for.
				most := min(body.Literal.Size(), maxMail)
				got, err := io.ReadAll(io.LimitReader(body.Literal, most))
				if err != nil || int64(len(got)) < most {
					// The connection is gone. The library must not be asked
					// for more: it would read on beside its own reader.
					return io.ErrUnexpectedEOF
				}
				raw, text = got, true
			}
		}
		return cmd.Close()
	})
	switch {
	case err != nil:
		return nil, err
	case !there:
		return nil, errGone
	case !text:
		return nil, errUnread
	}
	return raw, nil
}
