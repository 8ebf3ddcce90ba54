package config

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestMailSettings: what is written comes out, and the defaults where nothing
// is.
func TestMailSettings(t *testing.T) {
	files := base()
	c := mustLoad(t, files)
	if c.Email.IMAP != nil || c.Email.DKIM != nil || c.Email.Poll != time.Minute || c.Web != nil || c.Backup != (Address{}) || c.Cover != nil || c.Digest != "0 7 * * mon" {
		t.Errorf("defaults: %+v, email %+v", c, *c.Email)
	}
	if want := (Week{Days: [7]bool{1: true, true, true, true, true}, Hours: Hours{9 * 60, 17 * 60}}); c.AlertWeek != want {
		t.Errorf("usual alert hours: %+v", c.AlertWeek)
	}
	files[settingsFile] = edit(t, files[settingsFile], alertsTo, `alerts:
  email: clinician@example.com
  backup: {email: Second@example.org}
  hours: {days: sat-mon, to: 16:30}
  cover:
    - {from: 2027-02-01, to: 2027-02-01, spool: ines}
    - {from: 2026-12-24, to: 2027-01-02, email: colleague@example.org}
digest: 0  7 * * mon-fri
web: {listen: 127.0.0.1:8090, public: https://plans.example.org/p/}`)
	files[settingsFile] = edit(t, files[settingsFile], mailFrom, mailFrom+mailbox+"  poll: 30s\n")
	c = mustLoad(t, files)
	if c.Backup != (Address{"email", "second@example.org"}) || len(c.Cover) != 2 || c.Cover[0].To.String() != "2027-01-02" || c.Cover[1].Address.To != "ines" {
		t.Errorf("backup %+v, cover %+v", c.Backup, c.Cover)
	}
	if want := (Week{Days: [7]bool{0: true, 1: true, 6: true}, Hours: Hours{9 * 60, 16*60 + 30}}); c.AlertWeek != want {
		t.Errorf("alert hours: %+v", c.AlertWeek)
	}
	if c.Digest != "0 7 * * mon-fri" || c.Web.Listen != "127.0.0.1:8090" || c.Web.Public != "https://plans.example.org/p" {
		t.Errorf("digest %q, web %+v", c.Digest, c.Web)
	}
	if m := c.Email.IMAP; m.Host != "mail.example.com" || m.Port != 993 || m.User != "clinic" || m.TLS != "tls" || m.Folder != "INBOX" ||
		m.Password.Reveal() != mailCanary || c.Email.Poll != 30*time.Second {
		t.Errorf("imap %+v, poll %v", m, c.Email.Poll)
	}
	files[settingsFile] = edit(t, files[settingsFile], "digest: 0  7 * * mon-fri", "digest: off")
	files[settingsFile] = edit(t, files[settingsFile], "{host: mail.example.com, user", "{host: mail.example.com, tls: starttls, user")
	if c = mustLoad(t, files); c.Digest != "" || c.Email.IMAP.Port != 143 {
		t.Errorf("digest %q, port %d", c.Digest, c.Email.IMAP.Port)
	}
}

// TestHeardByMail: the warning that answers by mail are not collected goes
// once they are.
func TestHeardByMail(t *testing.T) {
	files := base()
	files[enrollmentsFile] = edit(t, baseEnrollments, "    spool: ben\n", "    email: ben@example.com\n")
	_, problems := LoadFiles("/clinic", filesOf(files), env)
	want := "enrollments.yaml:16:12: warning: 1 enrollment is on email: answers by mail are not collected, so the program day waits (unheard); " +
		"add imap: below email: in stepgate.yaml, or use sms or the spool for patients whose program should go on"
	if problems.Error() != want {
		t.Errorf("without a mailbox: %v", problems)
	}
	files[settingsFile] = edit(t, baseSettings, mailFrom, mailFrom+mailbox)
	mustLoad(t, files)
}

// pemOf writes a key in PKCS #8.
func pemOf(t *testing.T, key crypto.PrivateKey) string {
	t.Helper()
	der, err := x509.MarshalPKCS8PrivateKey(key)
	must(t, err)
	return string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}))
}

// TestSigningKeys: only a private key that mails can be signed with is taken,
// and no complaint repeats any of it.
func TestSigningKeys(t *testing.T) {
	big, err := rsa.GenerateKey(rand.Reader, 2048)
	must(t, err)
	small, err := rsa.GenerateKey(rand.Reader, 1024)
	must(t, err)
	_, ed, err := ed25519.GenerateKey(rand.Reader)
	must(t, err)
	ec, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	public, err := x509.MarshalPKIXPublicKey(&big.PublicKey)
	must(t, err)
	old := string(pem.EncodeToMemory(&pem.Block{Type: "RSA PRIVATE KEY", Bytes: x509.MarshalPKCS1PrivateKey(big)}))
	good := pemOf(t, big)
	for _, c := range []struct{ name, key, want string }{
		{"RSA", good, ""},
		{"RSA the old way", old, ""},
		{"RSA with CRLF", strings.ReplaceAll(good, "\n", "\r\n"), ""},
		{"Ed25519", pemOf(t, ed), ""},
		{"small RSA", pemOf(t, small), "warning: the key of dkim is an RSA key of 1024 bits"},
		{"ECDSA", pemOf(t, ec), "neither an RSA nor an Ed25519 key"},
		{"a public key", string(pem.EncodeToMemory(&pem.Block{Type: "PUBLIC KEY", Bytes: public})), "is no private key"},
		{"cut off", good[:len(good)/2], "is no PEM"},
		{"spoiled", string(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: public})), "can't be read"},
		{"the wrong name", strings.ReplaceAll(good, "PRIVATE", "RSA PRIVATE"), "can't be read"},
		{"locked", strings.ReplaceAll(good, "PRIVATE", "ENCRYPTED PRIVATE"), "is locked with a passphrase"},
		{"two keys", good + old, "has something after it"},
		{"nothing", "\n", "is empty"},
	} {
		dir := t.TempDir()
		must(t, os.WriteFile(filepath.Join(dir, "dkim.pem"), []byte(c.key), 0o600))
		files := base()
		files[settingsFile] = edit(t, baseSettings, mailFrom, mailFrom+"  dkim: {domain: Example.com, selector: plans, key: {file: dkim.pem}}\n")
		clinic, problems := LoadFiles(dir, filesOf(files), env)
		if !strings.Contains(problems.Error(), c.want) || c.want == "" && len(problems) > 0 {
			t.Errorf("%s: want %q, got:\n%v", c.name, c.want, problems)
		}
		if (clinic != nil) != (c.want == "" || strings.HasPrefix(c.want, "warning")) {
			t.Errorf("%s: a clinic is given: %v", c.name, clinic != nil)
		}
		body := strings.TrimSpace(strings.Join(strings.Split(c.key, "\n")[1:], "\n"))
		printed := fmt.Sprintf("%v %+v", problems, clinic)
		if len(body) > 64 && strings.Contains(printed, body[:40]) {
			t.Errorf("%s: the key is printed", c.name)
		}
		if clinic != nil && (clinic.Email.DKIM.Key.Reveal() != strings.TrimSpace(c.key) || clinic.Email.DKIM.Domain != "example.com") {
			t.Errorf("%s: the key did not arrive", c.name)
		}
	}
	files := base()
	files[settingsFile] = edit(t, baseSettings, mailFrom, mailFrom+"  dkim: {domain: example.org, selector: plans, key: {env: KEY}}\n")
	_, problems := LoadFiles("/clinic", filesOf(files), func(name string) string {
		if name == "KEY" {
			return good
		}
		return env(name)
	})
	if want := "warning: dkim signs for another domain"; !strings.Contains(problems.Error(), want) {
		t.Errorf("another domain: %v", problems)
	}
}
