package config

import (
	"net"
	"regexp"
	"strings"
	"time"
)

// tlsWords are the ways to encrypt mail on its way to or from the server.
var tlsWords = []string{"starttls", "tls", "none"}

const (
	usualMailPoll            = time.Minute
	minMailPoll, maxMailPoll = time.Second, 5 * time.Minute // no day is decided unheard, so no slower
	usualFolder              = "INBOX"                      // RFC 9051: every mailbox has it
)

// The ports, by tls. RFC 8314: submission on 587 with STARTTLS, on 465 with
// implicit TLS; IMAP on 143 and 993. RFC 5321: plain SMTP on 25.
var (
	smtpPorts = map[string]int{"starttls": 587, "tls": 465, "none": 25}
	imapPorts = map[string]int{"starttls": 143, "tls": 993, "none": 143}
)

// email reads the mail server.
func (l *loader) email(s *emailShape) {
	l.channels[onEmail] = true
	if s.At.Bad {
		return
	}
	out := &Email{At: s.At.Pos, Poll: usualMailPoll}
	if l.need(s.At, "host", "write the mail server's name, like mail.example.com") {
		out.Host = l.host(s.Host)
	}
	if l.need(s.At, "from", "write the address that mails come from") {
		out.From, _ = l.mailbox(s.From)
	}
	out.TLS = l.encryption(s.TLS, out.Host, "starttls")
	out.Port = l.port(s.Port, smtpPorts[out.TLS])
	out.User, _ = l.line(s.User, 254)
	out.Password, _ = l.secret(s.Password)
	switch user, password := s.At.has("user"), s.At.has("password"); {
	case user && !password:
		l.wrong(s.User.At, "user is set without password", "write password: {env: NAME} or password: {file: PATH}")
	case password && !user:
		l.wrong(s.Password.At, "password is set without user", "write the user that it belongs to")
	}
	if poll, ok := l.span(s.Poll, minMailPoll, maxMailPoll, "1m"); ok {
		out.Poll = poll
	}
	if s.At.has("poll") && !s.At.has("imap") {
		l.wrong(s.Poll.At, "poll is set without imap", "write imap: with the mailbox that answers arrive in, or take poll away")
	}
	if s.IMAP != nil {
		out.IMAP = l.imap(s.IMAP)
	}
	if s.DKIM != nil {
		out.DKIM = l.dkim(s.DKIM, out.From)
	}
	l.clinic.Email = out
}

// host reads a server's name.
func (l *loader) host(v Value) string {
	if v.given() && !hostForm.MatchString(v.Text) && net.ParseIP(v.Text) == nil {
		l.wrong(v.At, "host is no name of a server", "write the name alone, like mail.example.com")
	}
	return v.Text
}

// port reads a port.
func (l *loader) port(v Value, usual int) int {
	if port, ok := l.whole(v, 1, 65535); ok {
		return port
	}
	return usual
}

// encryption reads how mail is encrypted on its way to or from a server.
func (l *loader) encryption(v Value, host, usual string) string {
	tls, ok := l.choice(v, tlsWords...)
	if !ok {
		return usual
	}
	if tls == "none" && host != "" && !loopback(host) {
		l.wrong(v.At, "tls is none for a server that is not this machine", "write starttls or tls; mail would travel readable")
	}
	return tls
}

// imap reads the mailbox that answers arrive in.
func (l *loader) imap(s *imapShape) *IMAP {
	if s.At.Bad {
		return nil
	}
	out := &IMAP{At: s.At.Pos, Folder: usualFolder}
	if l.need(s.At, "host", "write the mail server's name, like mail.example.com") {
		out.Host = l.host(s.Host)
	}
	out.TLS = l.encryption(s.TLS, out.Host, "tls")
	out.Port = l.port(s.Port, imapPorts[out.TLS])
	if l.need(s.At, "user", "write the user name of the mailbox") {
		out.User, _ = l.line(s.User, 254)
	}
	if l.need(s.At, "password", "write password: {env: NAME} or password: {file: PATH}") {
		out.Password, _ = l.secret(s.Password)
	}
	if folder, ok := l.line(s.Folder, 200); ok {
		out.Folder = folder
	}
	return out
}

// labels are the dotted words of a domain name (RFC 1035 and RFC 1123).
var labels = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?(\.[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?)*$`)

// dkim reads the signature on every mail. Its key is never repeated.
func (l *loader) dkim(s *dkimShape, from string) *DKIM {
	if s.At.Bad {
		return nil
	}
	out := &DKIM{At: s.At.Pos}
	if l.need(s.At, "domain", "write the domain that signs, like example.com") && s.Domain.given() {
		if out.Domain = strings.ToLower(s.Domain.Text); !domain(out.Domain) {
			l.wrong(s.Domain.At, "domain is no name of a domain", "write it alone, like example.com")
		} else if _, of, _ := strings.Cut(from, "@"); of != "" && of != out.Domain && !strings.HasSuffix(of, "."+out.Domain) {
			// RFC 7489, 3.1.1: a signature counts for From only if its domain is aligned.
			l.warn(s.Domain.At, "dkim signs for another domain than the one mails come from, so receivers may not count it",
				"write the domain of email's from")
		}
	}
	if l.need(s.At, "selector", "write the name before ._domainkey where the public key is published") && s.Selector.given() {
		if out.Selector = s.Selector.Text; len(out.Selector) > 63 || !labels.MatchString(out.Selector) {
			l.wrong(s.Selector.At, "selector can't be part of a domain name", "write letters, digits and - only, at most 63, like plans")
		}
	}
	if l.need(s.At, "key", "write key: {file: PATH} or key: {env: NAME} of the private key") {
		if key, ok := l.secret(s.Key); ok {
			l.signingKey(s.Key, key)
			out.Key = key
		}
	}
	return out
}

// domain tells whether a text is a domain name of two labels or more, or this
// machine's.
func domain(s string) bool {
	return len(s) <= 253 && labels.MatchString(s) && (strings.Contains(s, ".") || s == "localhost")
}
