package notify

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"strings"
	"testing"
)

// Codes: RFC 5321 section 4.2.3, RFC 4954 section 6 (530, 534, 535, 454), RFC
// 3207 section 4 (454 for TLS); enhanced: RFC 3463, RFC 4954.
func TestTrialMeant(t *testing.T) {
	for _, c := range []struct {
		step     string
		code     int
		enhanced string
		what, do string
	}{
		{"greeting", 421, "", "busy", "Try again"},
		{"encryption", 454, "", "can't encrypt now", "Try again"},
		{"login", 454, "4.7.0", "can't check the login now", "Try again"},
		{"login", 535, "", "password is wrong", "user: and password:"},
		{"login", 550, "5.7.8", "password is wrong", "user: and password:"},
		{"login", 534, "5.7.9", "refused the login", "password made for them"},
		{"sender", 451, "", "does not take the sender now", "Try again"},
		{"sender", 530, "5.7.0", "wants a login first", "Write user: and password:"},
		{"recipient", 535, "", "does not take the login", "user: and password:"},
		{"recipient", 550, "5.7.1", "refused the recipient", "other domains"},
		{"taken", 452, "4.3.1", "does not take the mail now", "Try again"},
		{"taken", 554, "", "refused the mail itself", "SPF"},
	} {
		if what, do := meant(c.step, c.code, c.enhanced, ""); !strings.Contains(what, c.what) || !strings.Contains(do, c.do) {
			t.Errorf("%s %d %s: %q, %q", c.step, c.code, c.enhanced, what, do)
		}
	}
}

func TestTrialUntrusted(t *testing.T) {
	p := peer{host: "mail.example.org", port: 465, block: "email:"}
	verified := func(err error) error { return &tls.CertificateVerificationError{Err: err} }
	for want, err := range map[string]error{
		"not for the name mail.example.org": verified(x509.HostnameError{}),
		"this machine's clock":              verified(x509.CertificateInvalidError{Reason: x509.Expired}),
		"is not trusted":                    verified(x509.UnknownAuthorityError{}),
		"nobody this machine knows":         verified(x509.CertificateInvalidError{Reason: x509.NotAuthorizedToSign}),
		"Port 465 does not speak TLS":       fmt.Errorf("handshake: %w", tls.RecordHeaderError{}),
		"No encryption could be agreed on":  errors.New("no protocol in common"),
	} {
		if got := p.untrusted(err); !strings.Contains(got, want) {
			t.Errorf("%v: %q, want %q", err, got, want)
		}
	}
}

func TestTrialSilent(t *testing.T) {
	for _, c := range []struct{ step, mode, want string }{
		{"connect", "starttls", "No answer from port 587 of mail.example.org. A firewall"},
		{"greeting", "starttls", "write tls: tls under email:"},
		{"greeting", "tls", "went quiet. Try again"},
		{"login", "starttls", "went quiet. Try again"},
		{"taken", "starttls", "nobody can tell whether it took it"},
	} {
		p := peer{host: "mail.example.org", port: 587, mode: c.mode, block: "email:"}
		if got := p.silent(c.step); !strings.Contains(got, c.want) {
			t.Errorf("%s, %s: %q", c.step, c.mode, got)
		}
	}
}
