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
		l.wrong(v.At, v.Key+" is no address to listen on", "write host and port, like 127.0.0.1:8090")
		return ""
	}
	return v.Text
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
