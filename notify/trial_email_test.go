package notify

import (
	"context"
	"encoding/base64"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	emersion "github.com/emersion/go-smtp"
)

// steps collects what a trial tells.
type steps struct{ got []TrialStep }

func (s *steps) tell(step TrialStep) { s.got = append(s.got, step) }

// names are the steps in order, a failed one with an exclamation mark.
func (s *steps) names() []string {
	var names []string
	for _, step := range s.got {
		if step.OK {
			names = append(names, step.Name)
		} else {
			names = append(names, step.Name+"!")
		}
	}
	return names
}

func (s *steps) words() string {
	var all []string
	for _, step := range s.got {
		all = append(all, step.Words)
	}
	return strings.Join(all, "\n")
}

// want checks the steps, given without the road's name, and that the last one
// says all of these words.
func (s *steps) want(t *testing.T, road, names string, words ...string) {
	t.Helper()
	var want []string
	for _, name := range strings.Fields(names) {
		want = append(want, road+"."+name)
	}
	if !slices.Equal(s.names(), want) {
		t.Fatalf("steps %q, want %q\n%s", s.names(), want, s.words())
	}
	last := s.got[len(s.got)-1].Words
	for _, w := range words {
		if !strings.Contains(last, w) {
			t.Errorf("%q does not say %q", last, w)
		}
	}
	for _, step := range s.got {
		if step.Took < 0 || step.Took > time.Minute || step.Words == "" {
			t.Errorf("step %+v", step)
		}
	}
}

func TestEmailTrial(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	pool := certs.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	for mode, names := range map[string]string{
		"starttls": "connect greeting encryption login sender recipient taken",
		"tls":      "connect encryption greeting login sender recipient taken",
	} {
		p := &postbox{user: "plans", password: "s3cret", implicit: mode == "tls"}
		p.start(t, certs)
		e, err := NewEmail(EmailConfig{Host: "127.0.0.1", Port: p.port, From: "clinic@example.org", RootCAs: pool,
			TLS: mode, User: "plans", Password: "s3cret"})
		if err != nil {
			t.Fatal(err)
		}
		s := &steps{}
		if !e.Trial(t.Context(), mailMessage(), s.tell) {
			t.Errorf("%s: not taken", mode)
		}
		s.want(t, "mail", names, "taken, as <v1.", "@example.org>")
		for _, w := range []string{"connected to 127.0.0.1:", "the server greets", "encryption agreed: TLS 1.3", "logged in as plans",
			"sender accepted: clinic@example.org", "recipient accepted"} {
			if !strings.Contains(s.words(), w) {
				t.Errorf("%s: %q is missing in\n%s", mode, w, s.words())
			}
		}
		if strings.Contains(s.words(), "s3cret") {
			t.Errorf("%s: the password is told", mode)
		}
		if len(p.got()) != 1 || !slices.Equal(p.to, []string{testMail}) {
			t.Errorf("%s: %d mails, to %q", mode, len(p.got()), p.to)
		}
		// The mail itself is the one that Send would have sent.
		if e.Send(t.Context(), mailMessage()); !slices.Equal(p.got()[0], p.got()[1]) {
			t.Errorf("%s: another mail:\n%s\n%s", mode, p.got()[0], p.got()[1])
		}
	}
}

// A name is looked up, and no login is made where none is set.
func TestEmailTrialByName(t *testing.T) {
	p := &postbox{}
	p.start(t, nil)
	e := newTestEmail(t, p.port)
	e.cfg.Host = "localhost"
	s := &steps{}
	if !e.Trial(t.Context(), mailMessage(), s.tell) {
		t.Error("not taken")
	}
	s.want(t, "mail", "name connect greeting sender recipient taken")
	if !strings.HasPrefix(s.got[0].Words, "name found: ") {
		t.Errorf("%q", s.got[0].Words)
	}
}

func TestEmailTrialRefused(t *testing.T) {
	answer := func(code int, words string, enhanced ...int) error {
		return &emersion.SMTPError{Code: code, EnhancedCode: emersion.EnhancedCode(enhanced), Message: words}
	}
	const greeted = "connect greeting "
	for _, c := range []struct {
		name  string
		p     *postbox
		steps string
		words []string
	}{
		{"sender", &postbox{mailErr: answer(553, "not yours", 5, 7, 1)}, greeted + "sender!",
			[]string{"does not let this account send", "(553 5.7.1)", "from: under email:", `"not yours"`}},
		{"login wanted", &postbox{mailErr: answer(530, "login first", 5, 7, 0)}, greeted + "sender!",
			[]string{"wants a login first (530 5.7.0)", "Write user: and password:"}},
		{"relay", &postbox{rcptErr: answer(550, "Relaying denied", 5, 7, 1)}, greeted + "sender recipient!",
			[]string{"(relay denied)", "(550 5.7.1)", `The server said: "Relaying denied"`}},
		{"nobody", &postbox{rcptErr: answer(550, "user unknown", 5, 1, 1)}, greeted + "sender recipient!", []string{"Nobody has this address"}},
		{"refused", &postbox{rcptErr: answer(550, "no \x1b[31mred", 5, 7, 0)}, greeted + "sender recipient!",
			[]string{"refused the recipient", `"no [31mred"`}},
		{"later", &postbox{rcptErr: answer(451, "come again", 4, 7, 1)}, greeted + "sender recipient!", []string{"now", "Try again in a few minutes."}},
		{"unwanted", &postbox{data: func(*emersion.Conn, []byte) error { return answer(554, "spam", 5, 7, 1) }},
			greeted + "sender recipient taken!", []string{"refused the mail itself (554 5.7.1)", "unwanted"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.p.start(t, nil)
			s := &steps{}
			if newTestEmail(t, c.p.port).Trial(t.Context(), mailMessage(), s.tell) {
				t.Error("taken")
			}
			s.want(t, "mail", c.steps, c.words...)
			if n := len(c.p.got()); n != 0 {
				t.Errorf("%d mails taken", n)
			}
		})
	}
}

func TestEmailTrialNoSession(t *testing.T) {
	for _, c := range []struct {
		name  string
		port  int
		steps string
		words []string
	}{
		{"closed", closedPort(t), "connect!", []string{"is closed: nobody listens there", "host: and port: under email:"}},
		{"turned away", script(t, "554 no service"), "connect greeting!", []string{"turned us away", "(554)", `"no service"`}},
		{"busy", script(t, "421 later"), "connect greeting!", []string{"busy (421)", "Try again"}},
		{"hangs up", script(t), "connect greeting!", []string{"ended the connection"}},
		{"name refused", script(t, "220 hi", "550 who", "550 who"), "connect greeting!", []string{"turned us away", "(550)"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := &steps{}
			if newTestEmail(t, c.port).Trial(t.Context(), mailMessage(), s.tell) {
				t.Error("taken")
			}
			s.want(t, "mail", c.steps, c.words...)
		})
	}
	e := newTestEmail(t, 25)
	e.cfg.Host, e.cfg.TLS = "mail.invalid", "starttls" // a name that never exists: RFC 6761 section 6.4
	s := &steps{}
	e.Trial(t.Context(), mailMessage(), s.tell)
	s.want(t, "mail", "name!", "The name mail.invalid is not found.")

	s = &steps{}
	m := mailMessage()
	m.To = "pat"
	e.Trial(t.Context(), m, s.tell)
	s.want(t, "mail", "recipient!", "no mail address")
}

// Whether a mail was taken whose answer was lost nobody can tell.
func TestEmailTrialLost(t *testing.T) {
	p := &postbox{data: func(c *emersion.Conn, _ []byte) error { c.Conn().Close(); return nil }}
	p.start(t, nil)
	s := &steps{}
	if newTestEmail(t, p.port).Trial(t.Context(), mailMessage(), s.tell) {
		t.Error("taken")
	}
	s.want(t, "mail", "connect greeting sender recipient taken!", "nobody can tell whether it was taken", "before you try again")
}

func TestEmailTrialSlow(t *testing.T) {
	e := newTestEmail(t, listenQuietly(t))
	e.cfg.Timeout = 10 * time.Millisecond
	s := &steps{}
	e.Trial(t.Context(), mailMessage(), s.tell)
	s.want(t, "mail", "connect greeting!", "says nothing on port", "write tls: tls under email:")

	gone := make(chan struct{})
	defer close(gone)
	p := &postbox{data: func(*emersion.Conn, []byte) error { <-gone; return nil }}
	p.start(t, nil)
	e = newTestEmail(t, p.port)
	e.cfg.Timeout = time.Second
	s = &steps{}
	e.Trial(t.Context(), mailMessage(), s.tell)
	s.want(t, "mail", "connect greeting sender recipient taken!", "nobody can tell whether it took it")

	stopped, cancel := context.WithCancel(t.Context())
	p = &postbox{data: func(*emersion.Conn, []byte) error { cancel(); <-gone; return nil }}
	p.start(t, nil)
	s = &steps{}
	newTestEmail(t, p.port).Trial(stopped, mailMessage(), s.tell)
	s.want(t, "mail", "connect greeting sender recipient taken!", "Stopped while the mail was handed over")
	s = &steps{}
	e.Trial(stopped, mailMessage(), s.tell)
	s.want(t, "mail", "connect!", "Stopped")
}

func TestEmailTrialEncryption(t *testing.T) {
	certs := httptest.NewTLSServer(http.NotFoundHandler())
	defer certs.Close()
	pool := certs.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	p, plain := &postbox{user: "plans", password: "s3cret"}, &postbox{}
	p.start(t, certs)
	plain.start(t, nil)
	for _, c := range []struct {
		name   string
		change func(*EmailConfig)
		steps  string
		words  []string
	}{
		{"no STARTTLS", func(c *EmailConfig) { c.Port = plain.port }, "connect greeting encryption!",
			[]string{"offers no encryption (STARTTLS)", "465 goes with tls: tls"}},
		{"unknown authority", func(c *EmailConfig) { c.RootCAs = nil }, "connect greeting encryption!",
			[]string{"certificate is not trusted"}},
		{"another name", func(c *EmailConfig) { c.Host = "localhost" }, "name connect greeting encryption!",
			[]string{"not for the name localhost", "host: under email:"}},
		{"TLS to a plain port", func(c *EmailConfig) { c.Port, c.TLS = plain.port, "tls" }, "connect encryption!",
			[]string{"does not speak TLS from the first byte", "tls: starttls"}},
		{"wrong password", func(c *EmailConfig) { c.Password = "canary-word" }, "connect greeting encryption login!",
			[]string{"The user or the password is wrong (535", "password: under email:"}},
		{"no login there", func(c *EmailConfig) { c.Port = none(t, certs) }, "connect greeting encryption login!",
			[]string{"no way to log in"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			cfg := EmailConfig{Host: "127.0.0.1", Port: p.port, From: "clinic@example.org", RootCAs: pool, User: "plans", Password: "s3cret"}
			c.change(&cfg)
			e, err := NewEmail(cfg)
			if err != nil {
				t.Fatal(err)
			}
			s := &steps{}
			if e.Trial(t.Context(), mailMessage(), s.tell) {
				t.Error("taken")
			}
			s.want(t, "mail", c.steps, c.words...)
			if strings.Contains(s.words(), "s3cret") || strings.Contains(s.words(), "canary-word") {
				t.Error("the password is told")
			}
		})
	}
	if len(p.got())+len(plain.got()) != 0 {
		t.Error("a mail was sent")
	}
}

// none is a server that knows no login.
func none(t *testing.T, certs *httptest.Server) int {
	t.Helper()
	p := &postbox{}
	p.start(t, certs)
	return p.port
}

// What a server repeats of a login is not shown, in whatever form.
func TestTrialQuotesNoPassword(t *testing.T) {
	p := peer{user: "plans", password: "canary-word"}
	plain := base64.StdEncoding.EncodeToString([]byte("\x00plans\x00canary-word"))
	for _, words := range []string{"canary-word is wrong", "bad " + plain, base64.StdEncoding.EncodeToString([]byte("canary-word")), " \r\n"} {
		if got := p.said(words); got != "" {
			t.Errorf("%q is shown as %q", words, got)
		}
	}
	if got := p.said("go\x1b]0;away\r\nnow \u009b1m"); got != ` The server said: "go ]0;away now 1m"` {
		t.Errorf("%q", got)
	}
	if got := p.said(strings.Repeat("a", 500)); len(got) > 250 {
		t.Errorf("%d characters of a server's words", len(got))
	}
}
