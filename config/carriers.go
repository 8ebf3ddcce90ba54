package config

import (
	"net"
	"net/url"
	"regexp"
	"strconv"
	"strings"
)

var hostForm = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9.:-]{0,252}[A-Za-z0-9])?$`)

// address reads a web address. http is for this machine only: patients' texts
// and the account's token travel on it.
func (l *loader) address(v Value) string {
	if !v.given() {
		return ""
	}
	u, err := url.Parse(v.Text)
	switch {
	case err != nil || u.Host == "" || u.Hostname() == "" || u.Scheme != "http" && u.Scheme != "https":
		l.wrong(v.At, v.Key+" is no web address", "write it in full, like https://clinic.example.com/sms")
	case u.User != nil:
		l.wrong(v.At, v.Key+" has a user or password in it", "take it out; secrets don't belong in this file")
	case u.Fragment != "":
		l.wrong(v.At, v.Key+" has a # in it", "write the address without it")
	case u.Scheme == "http" && !loopback(u.Hostname()):
		l.wrong(v.At, v.Key+" is not encrypted", "write https://; http:// is only for this machine itself")
	default:
		return v.Text
	}
	return ""
}

// listen reads an address to listen on.
func (l *loader) listen(v Value) string {
	if !v.given() {
		return ""
	}
	host, port, err := net.SplitHostPort(v.Text)
	number, ok := digits(port)
	if err != nil || !ok || number > 65535 || host != "" && !hostForm.MatchString(host) && net.ParseIP(host) == nil {
		l.wrong(v.At, "listen is no address to listen on", "write host and port, like 127.0.0.1:8090")
		return ""
	}
	return v.Text
}

// tlsWords are the ways to encrypt mail on its way to the server.
var tlsWords = []string{"starttls", "tls", "none"}

// email reads the mail server.
func (l *loader) email(s *emailShape) {
	l.channels[onEmail] = true
	if s.At.Bad {
		return
	}
	out := &Email{At: s.At.Pos, TLS: "starttls"}
	if l.need(s.At, "host", "write the mail server's name, like mail.example.com") && s.Host.given() {
		out.Host = s.Host.Text
		if !hostForm.MatchString(out.Host) && net.ParseIP(out.Host) == nil {
			l.wrong(s.Host.At, "host is no name of a server", "write the name alone, like mail.example.com")
		}
	}
	if l.need(s.At, "from", "write the address that mails come from") {
		out.From, _ = l.mailbox(s.From)
	}
	if tls, ok := l.choice(s.TLS, tlsWords...); ok {
		out.TLS = tls
		if tls == "none" && out.Host != "" && !loopback(out.Host) {
			l.wrong(s.TLS.At, "tls is none for a server that is not this machine", "write starttls or tls; mail would travel readable")
		}
	}
	// RFC 8314: submission on 587 with STARTTLS, on 465 with implicit TLS;
	// RFC 5321: plain SMTP on 25.
	out.Port = map[string]int{"starttls": 587, "tls": 465, "none": 25}[out.TLS]
	if port, ok := l.whole(s.Port, 1, 65535); ok {
		out.Port = port
	}
	out.User, _ = l.line(s.User, 254)
	out.Password, _ = l.secret(s.Password)
	switch user, password := s.At.has("user"), s.At.has("password"); {
	case user && !password:
		l.wrong(s.User.At, "user is set without password", "write password: {env: NAME} or password: {file: PATH}")
	case password && !user:
		l.wrong(s.Password.At, "password is set without user", "write the user that it belongs to")
	}
	l.clinic.Email = out
}

// loopback tells whether a host is this machine itself.
func loopback(host string) bool {
	if ip := net.ParseIP(host); ip != nil {
		return ip.IsLoopback()
	}
	return strings.EqualFold(host, "localhost")
}

// count writes a number with its noun and verb: 1 enrollment is, 2 enrollments
// are.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun + " is"
	}
	return strconv.Itoa(n) + " " + noun + "s are"
}
