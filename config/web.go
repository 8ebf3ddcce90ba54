package config

import (
	"net"
	"net/url"
	"strings"
)

// web reads where the pages are that links in mails lead to. Texts may be
// told on the same listener, if both write it alike.
func (l *loader) web(s *webShape) {
	if s.At.Bad {
		return
	}
	out := &Web{At: s.At.Pos}
	if l.need(s.At, "listen", "write the address to listen on, like listen: 127.0.0.1:8090") {
		out.Listen = l.listen(s.Listen)
	}
	if l.need(s.At, "public", "write the web address under which people reach it: public: https://...") {
		out.Public = l.publicRoot(s.Public)
	}
	l.certificate(s, out)
	if sms := l.clinic.SMS; sms != nil && sms.Listen != "" && out.Listen != "" {
		l.listeners(s, out, sms)
	}
	l.clinic.Web = out
}

// publicRoot reads a web address that pages' names are added to.
func (l *loader) publicRoot(v Value) string {
	root := l.address(v)
	if strings.Contains(root, "?") {
		l.wrong(v.At, v.Key+" has a ? in it", "write the address without it")
		return ""
	}
	return strings.TrimRight(root, "/")
}

// listeners checks the pages' listener against that of the texts: one and the
// same, or two that don't take each other's port.
func (l *loader) listeners(s *webShape, web *Web, sms *SMS) {
	if web.Listen == sms.Listen {
		if a, b := pathOf(web.Public), pathOf(sms.Public); web.Public != "" && sms.Public != "" && a == b {
			l.wrong(s.Public.At, "web and sms share a listener, and their public addresses end in the same path", "give the one of sms a path of its own, like /sms")
		}
		return
	}
	if samePort(web.Listen, sms.Listen) {
		l.wrong(s.Listen.At, "web and sms listen on the same port", "write listen: "+sms.Listen+" for one listener, or another port for two")
	}
}

// samePort tells whether two addresses take each other's port.
func samePort(a, b string) bool {
	host, port, _ := net.SplitHostPort(a)
	otherHost, otherPort, _ := net.SplitHostPort(b)
	if port != otherPort || port == "0" {
		return false
	}
	return strings.EqualFold(host, otherHost) || anyHost(host) || anyHost(otherHost) || loopback(host) && loopback(otherHost)
}

// pathOf is the path of a web address, without a slash at its end.
func pathOf(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		return ""
	}
	return strings.TrimRight(u.Path, "/")
}

// anyHost tells whether a listener's host stands for all of the machine's.
func anyHost(host string) bool {
	ip := net.ParseIP(host)
	return host == "" || ip != nil && ip.IsUnspecified()
}

// certificate reads where the listener's own certificate and key are: both, or
// neither where a reverse proxy has them.
func (l *loader) certificate(s *webShape, web *Web) {
	has, hasKey := s.At.has("certificate"), s.At.has("key")
	switch {
	case has && !hasKey:
		l.wrong(s.Certificate.At, "the certificate has no key", "write key: {file: PATH} for its private key")
	case hasKey && !has:
		l.wrong(s.Key.At, "the key has no certificate", "write certificate: PATH for it")
	case s.Key.Env != "":
		l.wrong(s.Key.At, "the key of web is kept in no file", "write key: {file: PATH}: a listener reads its certificate and key from files")
	case !has || s.Certificate.Bad || s.Key.Bad:
	default:
		web.CertificateFile = l.readable(SecretRef{File: s.Certificate.Text, Key: "certificate", At: s.Certificate.At}, false)
		web.KeyFile = l.readable(s.Key, true)
		if strings.HasPrefix(web.Public, "http://") {
			l.wrong(s.Public.At, "the pages have a certificate, and public is not encrypted", "write https://")
		}
	}
}
