package main

import (
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"
	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"stepgate/notify/carriertest"
)

const mailPassword = "c4n4ry-mail-password"

// mailHouse is a mail server with STARTTLS and a login, and a mailbox with TLS.
type mailHouse struct {
	smtp, imap string // ports
	env        []string
	mails      chan string // the mails it took
}

type mailSession struct{ h *mailHouse }

func (mailSession) Mail(string, *smtp.MailOptions) error { return nil }
func (mailSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	if !strings.HasSuffix(to, "@example.org") {
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 7, 1}, Message: "Relaying denied"}
	}
	return nil
}

func (s mailSession) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	s.h.mails <- string(raw)
	return err
}
func (mailSession) Reset()                   {}
func (mailSession) Logout() error            { return nil }
func (mailSession) AuthMechanisms() []string { return []string{sasl.Plain} }

func (mailSession) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "plans" || password != mailPassword {
			return smtp.ErrAuthFailed
		}
		return nil
	}), nil
}

// newMailHouse serves on this machine, under a certificate that stepgate
// trusts by its environment alone.
func newMailHouse(t *testing.T) *mailHouse {
	t.Helper()
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	t.Cleanup(certs.Close)
	dir := t.TempDir()
	write(t, dir, "authority.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: certs.Certificate().Raw})))
	h := &mailHouse{mails: make(chan string, 10),
		env: []string{"SSL_CERT_FILE=" + filepath.Join(dir, "authority.pem"), "MAIL_PASSWORD=" + mailPassword}}
	secure := certs.TLS.Clone()
	secure.NextProtos = nil
	post := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return mailSession{h}, nil }))
	post.TLSConfig, post.Domain, post.ErrorLog = secure, "mail.example.org", log.New(io.Discard, "", 0)
	h.smtp = served(t, post.Serve, post.Close)

	user := imapmemserver.NewUser("plans", mailPassword)
	if err := user.Create("INBOX", nil); err != nil {
		t.Fatal(err)
	}
	mem := imapmemserver.New()
	mem.AddUser(user)
	box := imapserver.New(&imapserver.Options{TLSConfig: secure, Logger: log.New(io.Discard, "", 0),
		NewSession: func(*imapserver.Conn) (imapserver.Session, *imapserver.GreetingData, error) {
			return mem.NewSession(), nil, nil
		}})
	h.imap = served(t, box.Serve, box.Close)
	return h
}

func served(t *testing.T, serve func(net.Listener) error, stop func() error) (port string) {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() { defer close(ended); _ = serve(l) }()
	t.Cleanup(func() { _ = stop(); l.Close(); <-ended })
	_, port, _ = net.SplitHostPort(l.Addr().String())
	return port
}

// clinic is a folder that is set up for the house.
func (h *mailHouse) clinic(t *testing.T) string {
	t.Helper()
	dir := copied(t, filepath.Join("..", "..", "testdata", "clinic"))
	settings := read(t, dir, "stepgate.yaml")
	write(t, dir, "stepgate.yaml", settings+fmt.Sprintf(`
email:
  host: 127.0.0.1
  port: %s
  from: plans@example.org
  user: plans
  password: {env: MAIL_PASSWORD}
  imap: {host: 127.0.0.1, port: %s, user: plans, password: {env: MAIL_PASSWORD}, tls: starttls}
`, h.smtp, h.imap))
	return dir
}

// shown are the lines of a test, without what differs from run to run.
func shown(t *testing.T, out string) string {
	t.Helper()
	for line := range strings.Lines(out) {
		if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > 80 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
	if strings.Contains(out, mailPassword) || strings.Contains(out, token) {
		t.Error("a secret is printed")
	}
	_, out, _ = strings.Cut(out, "\nTest to ")
	out = regexp.MustCompile(` +[0-9.]+ m?s  `).ReplaceAllString(out, " TIME  ")
	out = regexp.MustCompile(`(127\.0\.0\.1:|v1\.|SM)[0-9a-f]+`).ReplaceAllString(out, "$1#")
	return regexp.MustCompile(`[Pp]ort [0-9]+`).ReplaceAllString(out, "port #")
}

func TestCheckSendsAMail(t *testing.T) {
	t.Parallel()
	h := newMailHouse(t)
	dir := h.clinic(t)
	if got := wantRun(t, exitGood, h.env, "check", dir).out; strings.Contains(got, "Test") || len(h.mails) != 0 {
		t.Fatalf("check alone sent something:\n%s", got)
	}
	want := `you@example.org:

  ok TIME  connected to 127.0.0.1:#
  ok TIME  the server greets
  ok TIME  encryption agreed: TLS 1.3
  ok TIME  logged in as plans
  ok TIME  sender accepted: plans@example.org
  ok TIME  recipient accepted
  ok TIME  taken, as <v1.#@example.org>

The mailbox that answers are read from:

  ok TIME  connected to 127.0.0.1:#
  ok TIME  the server greets; encryption agreed: TLS 1.3
  ok TIME  logged in as plans
  ok TIME  folder INBOX opened, 0 mails in it

The test went well here. Look whether it came in the mailbox of you@example.org.
`
	if got := shown(t, wantRun(t, exitGood, h.env, "check", dir, "--send-test", "you@example.org").out); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	mail := <-h.mails
	for _, words := range []string{"Subject: Test from Harbor Foot Clinic\r\n", "This is a test from Harbor Foot Clinic.", "no patient data", "To: <you@example.org>\r\n"} {
		if !strings.Contains(mail, words) {
			t.Errorf("the mail does not say %q:\n%s", words, mail)
		}
	}
	got := shown(t, wantRun(t, exitNotWell, h.env, "check", dir, "--send-test", "you@example.com").out)
	if flat := strings.Join(strings.Fields(got), " "); !has("failed TIME recipient: The server does not pass mail on", "(relay denied) (550 5.7.1).", `"Relaying denied"`,
		"folder INBOX opened", "The test failed.")(flat) {
		t.Errorf("got\n%s", got)
	}
	env := append(slices.Clone(h.env), "MAIL_PASSWORD=other")
	got = shown(t, wantRun(t, exitNotWell, env, "check", dir, "--send-test", "you@example.org").out)
	if strings.Count(got, "failed TIME  login: The user or the password is wrong") != 2 {
		t.Errorf("got\n%s", got)
	}
	if len(h.mails) != 0 {
		t.Error("a mail that failed was taken")
	}
}

func TestCheckSendsAText(t *testing.T) {
	t.Parallel()
	carrier := carriertest.New(account, token)
	t.Cleanup(carrier.Close)
	carrier.SetNumbers(sender)
	carrier.SetDelivery(carriertest.Delivery{Status: "delivered"})
	dir := copied(t, filepath.Join("..", "..", "testdata", "clinic"))
	write(t, dir, "stepgate.yaml", read(t, dir, "stepgate.yaml")+fmt.Sprintf(
		"\nsms: {account: %s, token: {env: SMS_TOKEN}, from: %q, api: %q}\n", account, sender, carrier.URL()))
	env := []string{"SMS_TOKEN=" + token}
	want := `+15035550199:

  ok TIME  account and token accepted; texts come from +15035550100
  ok TIME  taken, as SM#
  ok TIME  delivered

The test went well here. Look whether it came on the phone.
`
	if got := shown(t, wantRun(t, exitGood, env, "check", dir, "--send-test", "+1 503 555-0199").out); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	all := carrier.Messages()
	if len(all) != 1 || !strings.Contains(all[0].Body, "a test from Harbor Foot Clinic") || len(all[0].Body) > 160 {
		t.Errorf("sent %+v", all)
	}

	carrier.SetDelivery(carriertest.Delivery{Status: "undelivered", Code: 30003})
	var got struct {
		OK   bool
		Test []map[string]any
	}
	out := wantRun(t, exitNotWell, env, "check", dir, "--json", "--send-test", stranger, "--wait", "1m").out
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if got.OK || len(got.Test) != 3 || got.Test[2]["step"] != "sms.delivery" || got.Test[2]["ok"] != false {
		t.Errorf("got %s", out)
	}
	for _, step := range got.Test {
		if _, isNumber := step["milliseconds"].(float64); !isNumber || len(step) != 4 || step["words"] == "" {
			t.Errorf("step %v", step)
		}
	}
	if words := got.Test[2]["words"]; !has("30003: the phone is off or out of reach.", "Try again later")(words.(string)) {
		t.Errorf("%q", words)
	}
}
