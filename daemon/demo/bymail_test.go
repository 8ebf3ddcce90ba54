package demo

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/mail"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"
	"github.com/emersion/go-smtp"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

const (
	doctor    = "doctor@example.org"
	clinicBox = "plans@example.org"
)

// posted is a mail that came to the SMTP server.
type posted struct {
	to  string
	msg *mail.Message
	raw []byte
}

// post is a mail server: what is sent through it is kept, and clinicBox is a
// mailbox that is read by IMAP.
type post struct {
	mu    sync.Mutex
	mails []posted
	box   *imapmemserver.User
	smtp  int // ports
	imap  int
}

func (p *post) NewSession(*smtp.Conn) (smtp.Session, error) { return &delivery{post: p}, nil }

type delivery struct {
	*post
	to string
}

func (d *delivery) Mail(string, *smtp.MailOptions) error      { return nil }
func (d *delivery) Rcpt(to string, _ *smtp.RcptOptions) error { d.to = to; return nil }
func (d *delivery) Reset()                                    {}
func (d *delivery) Logout() error                             { return nil }
func (d *delivery) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	msg, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.mails = append(d.mails, posted{d.to, msg, raw})
	return nil
}

func openPost(t *testing.T) *post {
	t.Helper()
	listen := func() (net.Listener, int) {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		return l, l.Addr().(*net.TCPAddr).Port
	}
	p := &post{box: imapmemserver.NewUser(clinicBox, "open sesame")}
	if err := p.box.Create("INBOX", nil); err != nil {
		t.Fatal(err)
	}
	mem := imapmemserver.New()
	mem.AddUser(p.box)
	out := smtp.NewServer(p)
	in := imapserver.New(&imapserver.Options{InsecureAuth: true, NewSession: func(*imapserver.Conn) (imapserver.Session, *imapserver.GreetingData, error) {
		return mem.NewSession(), nil, nil
	}})
	var serving sync.WaitGroup
	for _, s := range []struct {
		port  *int
		serve func(net.Listener) error
	}{{&p.smtp, out.Serve}, {&p.imap, in.Serve}} {
		l, port := listen()
		*s.port = port
		serving.Go(func() { _ = s.serve(l) })
	}
	t.Cleanup(func() { out.Close(); in.Close(); serving.Wait() })
	return p
}

// subjects are those of the mails to an address, in order.
func (p *post) subjects(to string) (list []string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, m := range p.mails {
		if m.to == to {
			list = append(list, m.msg.Header.Get("Subject"))
		}
	}
	return list
}

// answer puts a patient's answer to the last mail they got into the clinic's
// mailbox, with what a mail reader puts around it.
func (p *post) answer(t *testing.T, from, text string, at time.Time) {
	t.Helper()
	p.mu.Lock()
	i := len(p.mails) - 1
	for i >= 0 && p.mails[i].to != from {
		i--
	}
	p.mu.Unlock()
	if i < 0 {
		t.Fatalf("%s answers before there was a mail", from)
	}
	last := p.mails[i].msg.Header
	raw := fmt.Sprintf("Return-Path: <%s>\r\nFrom: <%s>\r\nTo: <%s>\r\nSubject: Re: %s\r\nDate: %s\r\nMessage-ID: <%d.%d@mail.example.net>\r\n"+
		"In-Reply-To: %s\r\nContent-Type: text/plain; charset=utf-8\r\n\r\n%s\r\n\r\nOn %s, the clinic wrote:\r\n> D3 or P9, whatever was quoted\r\n",
		from, from, clinicBox, last.Get("Subject"), at.Format(time.RFC1123Z), at.UnixNano(), i, last.Get("Message-ID"), text, at.Format("Mon, Jan 2, 2006"))
	// The mailbox lives in real time.
	if _, err := p.box.Append("INBOX", bytes.NewReader([]byte(raw)), &imap.AppendOptions{Time: time.Now()}); err != nil {
		t.Fatal(err)
	}
}

// byMail is the demo's clinic with every patient reached by mail, and its
// people told by mail.
func byMail(t *testing.T, dir string) *config.Clinic {
	t.Helper()
	if err := layOut(dir); err != nil {
		t.Fatal(err)
	}
	change := func(name string, pairs ...string) {
		t.Helper()
		path := filepath.Join(dir, name)
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.NewReplacer(pairs...).Replace(string(b))
		if text == string(b) {
			t.Fatalf("nothing to change in %s", name)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	change("stepgate.yaml", "alerts: {spool: clinician}", "alerts: {email: "+doctor+"}\nemail: {host: 127.0.0.1, tls: none, from: "+clinicBox+"}")
	for _, p := range patients {
		name := strings.ToLower(p.name)
		change("enrollments/"+name+".yaml", "spool: "+name, "email: "+name+"@example.net")
	}
	c, problems := config.Load(dir, os.Getenv)
	if c == nil {
		t.Fatal(problems)
	}
	return c
}

// TestEightWeeksByMail lives the demo's eight weeks with patients who have no
// phone: real SMTP and IMAP servers, a tick an hour, and the entry of the
// clinician. At the end the clinician's inbox holds what the stories deserve,
// and nothing else.
func TestEightWeeksByMail(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	c := byMail(t, dir)
	p := openPost(t)
	if err := os.MkdirAll(c.Data, 0o700); err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(filepath.Join(c.Data, "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	g := &game{o: Options{Dir: dir}, clinic: c, journal: j, clock: &daemon.SetClock{}, words: words}
	g.clock.Set(g.at(1, 7*60))
	email, err := notify.NewEmail(notify.EmailConfig{Host: "127.0.0.1", Port: p.smtp, TLS: "none", From: clinicBox})
	if err != nil {
		t.Fatal(err)
	}
	logs := &bytes.Buffer{}
	log := slog.New(slog.NewTextHandler(logs, nil))
	box, err := notify.NewMailbox(notify.MailboxConfig{Host: "127.0.0.1", Port: p.imap, TLS: "none", User: clinicBox, Password: "open sesame", Log: log})
	if err != nil {
		t.Fatal(err)
	}
	g.service, err = daemon.NewService(daemon.Options{Journal: j, Words: words, Log: log, Clock: g.clock,
		Channels: map[string]daemon.Channel{"email": {Sender: email, Receive: box}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := g.service.Accept(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	for day := 1; day <= weeks*7; day++ {
		g.mailDay(t, p, day)
	}
	g.wantPatientMails(t, p)
	if got, want := p.subjects(doctor), deserved; !slices.Equal(unsigned(got), want) {
		t.Errorf("the clinician's inbox:\n%s\nwant\n%s", strings.Join(unsigned(got), "\n"), strings.Join(want, "\n"))
	}
	if _, err := j.Verify(); err != nil {
		t.Error(err)
	}
	for _, word := range []string{"example.net", "example.org", "Ana", "Finn"} {
		if strings.Contains(logs.String(), word) {
			t.Errorf("the log has %q in it", word)
		}
	}
}

// mailDay lives one date: a tick an hour, and each answer when it comes.
func (g *game) mailDay(t *testing.T, p *post, day int) {
	t.Helper()
	type moment struct {
		at   int
		from patient
		says string
	}
	var moments []moment
	for hour := 7; hour <= 20; hour++ {
		moments = append(moments, moment{at: hour * 60})
	}
	for _, who := range patients {
		for _, says := range who.replies(day) {
			moments = append(moments, moment{says.at, who, says.says})
		}
	}
	slices.SortStableFunc(moments, func(a, b moment) int { return a.at - b.at })
	for _, m := range moments {
		now := g.at(day, m.at)
		g.clock.Set(now)
		for _, en := range entries {
			if en.day == day && m.at == 8*60 {
				if err := g.write(t.Context(), en); err != nil {
					t.Fatal(err)
				}
			}
		}
		if m.says != "" {
			p.answer(t, strings.ToLower(m.from.name)+"@example.net", m.says, now)
		}
		if err := g.step(context.Background()); err != nil {
			t.Fatal(err)
		}
	}
}

// wantPatientMails checks that each patient had the days the story gives them,
// one mail a date and never two.
func (g *game) wantPatientMails(t *testing.T, p *post) {
	t.Helper()
	for _, who := range patients {
		dates, reminded := map[string]bool{}, 0
		for _, s := range p.subjects(strings.ToLower(who.name) + "@example.net") {
			switch {
			case strings.HasPrefix(s, "Your plan for ") && dates[s]:
				t.Errorf("%s had two mails %q", who.name, s)
			case strings.HasPrefix(s, "Your plan for "):
				dates[s] = true
			case s == "Please call your clinic":
				reminded++
			}
		}
		// Ella is asked daily through day 12 and weekly twice; Finn is paused on days 12
		// to 17, and told once that nobody has released him.
		want := map[string]int{"Ella": 14, "Finn": 50}[who.name]
		if want == 0 {
			want = weeks * 7
		}
		if len(dates) != want || reminded != map[bool]int{true: 1}[who.name == "Finn"] {
			t.Errorf("%s had mails for %d dates, want %d, and %d reminders", who.name, len(dates), want, reminded)
		}
		var st rules.State
		err := g.journal.View(func(tx *journal.Tx) error {
			person, err := tx.Person(who.id)
			if err == nil && person != nil {
				st = person.State
			}
			return err
		})
		if err != nil || who.id != "p-05" && st.P < 20 {
			t.Errorf("%s ends on program day %d, %v", who.name, st.P, err)
		}
	}
}

// unsigned takes the tokens off subjects.
func unsigned(subjects []string) (out []string) {
	for _, s := range subjects {
		if i := strings.LastIndex(s, " [A"); i > 0 {
			s = s[:i]
		}
		out = append(out, s)
	}
	return out
}

// deserved are the mails the clinician should have, in order. Nobody answers
// one, so each goes out once more after a clinic day. A hold of a few days and a
// step back are in the digest's lines and in no alert.
var deserved = []string{
	"Stepgate: Dev (p-04) blister or skin mark",
	"Stepgate: Mar 2 to Mar 8, 1 to look at",
	"Not answered yet: Stepgate: Dev (p-04) blister or skin mark",
	"Stepgate: Ella (p-05) no answer to 3 messages",
	"Not answered yet: Stepgate: Ella (p-05) no answer to 3 messages",
	`Stepgate: Finn (p-06) paused, danger word "sudden pop", "cannot bear weight"`,
	`Not answered yet: Stepgate: Finn (p-06) paused, danger word "sudden pop", "cannot bear weight"`,
	"Stepgate: Mar 9 to Mar 15, 1 to look at, 1 silent",
	"Stepgate: Mar 16 to Mar 22, 1 silent",
	"Stepgate: Mar 23 to Mar 29, 1 silent",
	"Stepgate: Ella (p-05) no answer for 21 days, messages stopped",
	"Not answered yet: Stepgate: Ella (p-05) no answer for 21 days, messages stopped",
	"Stepgate: Mar 30 to Apr 5, 1 silent",
	"Stepgate: Apr 6 to Apr 12, 1 silent",
	"Stepgate: Apr 13 to Apr 19, 1 silent",
}
