package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"
)

// peer is the server a trial talks to, as the settings have it.
type peer struct {
	host     string
	port     int
	mode     string // of TLS
	block    string // of the settings file
	user     string
	password string
}

// unreached says what a failure of the network means and what to do about it.
func (t *trial) unreached(ctx context.Context, p peer, err error) string {
	switch t.word(ctx, err) {
	case "dns":
		return fmt.Sprintf("The name %s is not found. Look at host: under %s, and whether this machine can look up names at all.", p.host, p.block)
	case "refused":
		return fmt.Sprintf("Port %d of %s is closed: nobody listens there. Look at host: and port: under %s, and whether the server runs.", p.port, p.host, p.block)
	case "timeout":
		return p.silent(t.at())
	case "tls":
		return p.untrusted(err)
	case "canceled":
		if t.at() == "taken" {
			return "Stopped while the mail was handed over: look whether it came before you try again."
		}
		return "Stopped before it was over."
	}
	words := "The server ended the connection. Try again in a few minutes; if it stays so, ask the provider what keeps this machine out."
	if t.at() == "encryption" {
		words += " Look at port: and tls: under " + p.block + " too: they may not belong together."
	}
	return words
}

// silent says what it means that no answer came in time.
func (p peer) silent(step string) string {
	switch step {
	case "name", "connect":
		return fmt.Sprintf("No answer from port %d of %s. A firewall may be in the way, here or at the provider; look at host: and port: under %s.", p.port, p.host, p.block)
	case "greeting", "encryption":
		if p.mode != "tls" {
			return fmt.Sprintf("The server says nothing on port %d. If that port speaks TLS from the first byte, write tls: tls under %s.", p.port, p.block)
		}
	case "taken":
		return "The server went quiet after it got the mail: nobody can tell whether it took it. Look whether it came before you try again."
	}
	return "The server went quiet. Try again in a few minutes."
}

// untrusted says what is wrong with the encryption.
func (p peer) untrusted(err error) string {
	var (
		unknown x509.UnknownAuthorityError
		name    x509.HostnameError
		invalid x509.CertificateInvalidError
		record  tls.RecordHeaderError
	)
	switch {
	case errors.As(err, &name):
		return fmt.Sprintf("The server's certificate is not for the name %s. Write the name that the provider gives in host: under %s.", p.host, p.block)
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return "The server's certificate is not good on this date. Look at this machine's clock; if it is right, tell the provider."
	case errors.As(err, &unknown), errors.As(err, &invalid):
		return "The server's certificate is not trusted: nobody this machine knows has signed it. Look at host: under " + p.block +
			"; if it is your own server, add its authority to those this machine trusts."
	case errors.As(err, &record):
		return fmt.Sprintf("Port %d does not speak TLS from the first byte. Write tls: starttls under %s, or the port that does.", p.port, p.block)
	}
	return "No encryption could be agreed on. Ask the provider for the right host:, port: and tls: under " + p.block + "."
}

// maxSaid is how many characters of a server's words are shown.
const maxSaid = 200

// said quotes a server. Words that hold the password, as it is or as a login
// sends it, are left out as a whole, and so is nothing worth quoting.
func (p peer) said(words string) string {
	words = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(words, ""), func(r rune) bool {
		return r <= ' ' || r >= 0x7f && r <= 0x9f
	}), " ")
	if words == "" {
		return ""
	}
	b64 := base64.StdEncoding.EncodeToString
	for _, secret := range []string{p.password, b64([]byte(p.password)), b64([]byte("\x00" + p.user + "\x00" + p.password))} {
		if p.password != "" && strings.Contains(words, secret) {
			return ""
		}
	}
	if r := []rune(words); len(r) > maxSaid {
		words = string(r[:maxSaid]) + "..."
	}
	return ` The server said: "` + words + `"`
}
