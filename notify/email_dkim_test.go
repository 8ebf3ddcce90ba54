package notify

import (
	"bytes"
	"crypto"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"encoding/base64"
	"encoding/pem"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-msgauth/dkim"
)

// dkimKey is a key made for a test, as its PEM and its DNS record.
type dkimKey struct{ pem, record string }

func makeKey(t *testing.T, key crypto.Signer, kind string, public []byte) dkimKey {
	t.Helper()
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	return dkimKey{
		string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der})),
		"v=DKIM1; k=" + kind + "; p=" + base64.StdEncoding.EncodeToString(public),
	}
}

var rsaKey = sync.OnceValues(func() (*rsa.PrivateKey, error) { return rsa.GenerateKey(rand.Reader, 2048) })

func dkimKeys(t *testing.T) map[string]dkimKey {
	t.Helper()
	r, err := rsaKey()
	if err != nil {
		t.Fatal(err)
	}
	public, err := x509.MarshalPKIXPublicKey(r.Public())
	if err != nil {
		t.Fatal(err)
	}
	short, e, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	one := string(pem.EncodeToMemory(&pem.Block{Type: "RSA PRIVATE KEY", Bytes: x509.MarshalPKCS1PrivateKey(r)}))
	keys := map[string]dkimKey{"rsa": makeKey(t, r, "rsa", public), "ed25519": makeKey(t, e, "ed25519", short)}
	keys["rsa, PKCS #1"] = dkimKey{one, keys["rsa"].record}
	return keys
}

// verify checks the signature of a mail by a library that had no part in it.
func verify(raw []byte, domain, record string) (*dkim.Verification, error) {
	all, err := dkim.VerifyWithOptions(bytes.NewReader(raw), &dkim.VerifyOptions{LookupTXT: func(name string) ([]string, error) {
		if name != "plans._domainkey."+domain {
			return nil, fmt.Errorf("asked for %s", name)
		}
		return []string{record}, nil
	}})
	if err != nil {
		return nil, err
	}
	if len(all) != 1 {
		return nil, fmt.Errorf("%d signatures", len(all))
	}
	return all[0], all[0].Err
}

func signingEmail(t *testing.T, port int, domain, key string) *Email {
	t.Helper()
	e, err := NewEmail(EmailConfig{
		Host: "127.0.0.1", Port: port, From: "clinic@example.org", FromName: "Harbor Foot Clinic", TLS: "none",
		DKIM: &DKIMConfig{Domain: domain, Selector: "plans", Key: key},
	})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// signedMails are unlike mails, for what a signature covers and where lines break.
func signedMails() map[string]Message {
	dose := mailMessage()
	dose.Unsubscribe = "https://plans.example.org/stop/" + strings.Repeat("t0ken-", 40)
	short := mailMessage()
	short.HTML, short.Unsubscribe = "", "https://plans.example.org/s"
	answer := mailMessage()
	answer.ReplyTo = "abc@mail.example.net"
	odd := mailMessage()
	odd.Subject = "Mañana:  two blanks " + strings.Repeat("long subject ", 12)
	odd.Text = "trailing blanks  \t\n\n.\n..\n  mañana\t\tmás\n\n\n\n"
	bare := mailMessage()
	bare.HTML, bare.Text = "", "x"
	return map[string]Message{"dose": dose, "short": short, "answer": answer, "odd": odd, "bare": bare}
}

// Signed mails verify as a server takes them in, from every key and whatever
// is in them, also under a domain of 76 characters.
func TestDKIM(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	long := strings.Repeat("a", 60) + ".mail.example.org"
	for name, key := range dkimKeys(t) {
		for what, m := range signedMails() {
			for _, domain := range []string{"example.org", long} {
				e := signingEmail(t, p.port, domain, key.pem)
				if r := e.Send(t.Context(), m); r.Status != Sent {
					t.Fatalf("%s, %s: %+v", name, what, r)
				}
				raw := p.got()[len(p.got())-1]
				v, err := verify(raw, domain, key.record)
				if err != nil {
					t.Fatalf("%s, %s, %s: %v\n%s", name, what, domain, err, raw)
				}
				if v.Domain != domain || !v.Time.Equal(m.At) {
					t.Errorf("signed by %s at %s", v.Domain, v.Time)
				}
				covered := strings.ToLower(strings.Join(v.HeaderKeys, " "))
				// RFC 8058 section 4 for the first two.
				for _, field := range []string{"list-unsubscribe", "list-unsubscribe-post", "from", "to", "subject", "date", "message-id"} {
					if has := slices.Contains(strings.Fields(covered), field); has == (m.Unsubscribe == "" && strings.HasPrefix(field, "list-")) {
						t.Errorf("%s, %s: %s is covered: %v", name, what, field, has)
					}
				}
				for line := range strings.SplitSeq(string(raw), "\r\n") {
					// A word that can't be folded may be longer.
					if len(line) > 78 && strings.Contains(strings.TrimSpace(line), " ") {
						t.Errorf("line of %d: %q", len(line), line)
					}
				}
			}
		}
	}
}

// What is changed on the way, or added, breaks the signature; blanks do not.
func TestDKIMChanged(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	key := dkimKeys(t)["rsa"]
	m := signedMails()["dose"]
	if r := signingEmail(t, p.port, "example.org", key.pem).Send(t.Context(), m); r.Status != Sent {
		t.Fatalf("%+v", r)
	}
	raw := string(p.got()[0])
	for name, c := range map[string]struct {
		change func(string) string
		good   bool
	}{
		"nothing":         {func(s string) string { return s }, true},
		"blanks":          {func(s string) string { return strings.Replace(s, "Subject: ", "Subject:   ", 1) }, true},
		"a received":      {func(s string) string { return "Received: from x.example\r\n" + s }, true},
		"subject":         {func(s string) string { return strings.Replace(s, "Your steps", "Our steps", 1) }, false},
		"text":            {func(s string) string { return strings.Replace(s, "3 times", "9 times", 1) }, false},
		"unsubscribe":     {func(s string) string { return strings.Replace(s, "plans.example.org/stop", "evil.example.org/stop", 1) }, false},
		"one-click":       {func(s string) string { return strings.Replace(s, "=One-Click", "=Two-Click", 1) }, false},
		"a second from":   {func(s string) string { return "From: x@example.net\r\n" + s }, false},
		"a reply-to":      {func(s string) string { return "Reply-To: x@example.net\r\n" + s }, false},
		"another subject": {func(s string) string { return "Subject: x\r\n" + s }, false},
	} {
		changed := c.change(raw)
		if changed == raw && name != "nothing" {
			t.Errorf("%s: not changed", name)
		}
		if _, err := verify([]byte(changed), "example.org", key.record); (err == nil) != c.good {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The same bytes on every try, signature and all, however often the process
// was started between.
func TestDKIMSameBytesOnEveryTry(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	for name, key := range dkimKeys(t) {
		m := signedMails()["dose"]
		first := len(p.got())
		for i := range 8 {
			m.At = m.At.In(time.FixedZone("", i*3600))
			e := signingEmail(t, p.port, "example.org", key.pem)
			if r := e.Settle(t.Context(), m); r.Status != Sent {
				t.Fatalf("%+v", r)
			}
		}
		for _, raw := range p.got()[first:] {
			if !bytes.Equal(raw, p.got()[first]) {
				t.Fatalf("%s differs:\n%s\n%s", name, p.got()[first], raw)
			}
		}
	}
	// Without a time of its own, none is made up.
	m := mailMessage()
	m.At = time.Time{}
	if r := signingEmail(t, p.port, "example.org", dkimKeys(t)["rsa"].pem).Send(t.Context(), m); r.Status != Sent {
		t.Fatalf("%+v", r)
	}
	if raw := p.got()[len(p.got())-1]; regexp.MustCompile(`(?m)^ t=\d`).Match(raw) {
		t.Errorf("a time in %s", raw)
	}
}

func TestNewDKIMRefuses(t *testing.T) {
	good := dkimKeys(t)["rsa"].pem
	weak := string(pem.EncodeToMemory(&pem.Block{Type: "RSA PRIVATE KEY", Bytes: []byte("secret")}))
	for name, c := range map[string]DKIMConfig{
		"domain":   {"example.org; x=secret", "plans", good},
		"selector": {"example.org", "pl\r\nans", good},
		"nothing":  {"example.org", "", good},
		"no PEM":   {"example.org", "plans", "secret"},
		"no key":   {"example.org", "plans", weak},
	} {
		if _, err := newDKIMSigner(c); err == nil || strings.Contains(err.Error(), "secret") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
