package daemon

import (
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// quickClinic is the clinic as it lives on a made-up calendar: data apart, and
// every message on the spool whatever the files say, so that no real person
// is ever written to.
func quickClinic(c *config.Clinic) *config.Clinic {
	q := *c
	q.Data = filepath.Join(c.Data, "quick")
	q.Spool.Dir = filepath.Join(q.Data, "spool")
	q.Alerts = spoolAddress(c.Alerts, "clinician")
	q.Admin, q.Backup, q.Cover = config.Address{}, config.Address{}, nil
	q.SMS, q.Email, q.Web, q.Digest, q.Metrics = nil, nil, nil, "", ""
	q.Enrollments = c.Enrollments.Changed(func(e *config.Enrollment) {
		e.Address = spoolAddress(e.Address, e.ID)
		e.Fallback, e.Sender = config.Address{}, ""
	})
	return &q
}

func spoolAddress(a config.Address, name string) config.Address {
	if a.Channel != "spool" {
		a = config.Address{Channel: "spool", To: name}
	}
	return a
}

// channels are the ways to reach people that a clinic has set up.
type channels struct {
	byName map[string]Channel
	sms    *notify.SMS
}

func openChannels(c *config.Clinic, s *Service, clock Clock) (*channels, error) {
	j, made, log := s.o.Journal, s.o.Made, s.o.Log
	spoolOptions := notify.SpoolOptions{Log: log}
	if made {
		spoolOptions.Now = clock.Now
		spoolOptions.Settle = time.Second
	}
	spool := notify.NewSpool(c.Spool.Dir, spoolOptions)
	chs := &channels{byName: map[string]Channel{"spool": {Sender: spool, Receive: spool}}}
	if c.SMS != nil {
		sms, err := openSMS(c.SMS, j, clock, log)
		if err != nil {
			return nil, err
		}
		chs.sms = sms
		chs.byName["sms"] = smsChannel(c.SMS, sms)
	}
	if c.Email != nil {
		ch, err := openEmail(c, s, clock)
		if err != nil {
			return nil, err
		}
		chs.byName["email"] = ch
	}
	return chs, nil
}

// openEmail opens the mail server, and the mailbox where there is one. Without
// one answers by mail are not collected: its patients wait, unheard.
func openEmail(c *config.Clinic, s *Service, clock Clock) (Channel, error) {
	o := emailAccount(c)
	err := s.o.Journal.View(func(tx *journal.Tx) error { o.Secret = tx.ContactHash("message ids"); return nil })
	if err != nil {
		return Channel{}, fmt.Errorf("set up email: %w", err)
	}
	email, err := notify.NewEmail(o)
	if err != nil {
		return Channel{}, fmt.Errorf("set up email: %w", err)
	}
	ch := Channel{Sender: email, Undelivered: 1}
	m := c.Email.IMAP
	if m == nil {
		return ch, nil
	}
	since, err := firstPoint(s.o.Journal, "email", clock.Now())
	if err != nil {
		return Channel{}, fmt.Errorf("set up the mailbox: %w", err)
	}
	in := mailboxAccount(m)
	in.Since, in.Tell, in.Log = since, s.Tell("email"), s.o.Log
	in.Seen = func(id string) bool {
		seen, _ := known(s.o.Journal, func(tx *journal.Tx) bool { _, ok := tx.Seen("email", id); return ok })
		return seen
	}
	box, err := notify.NewMailbox(in)
	if err != nil {
		return Channel{}, fmt.Errorf("set up the mailbox: %w", err)
	}
	ch.Receive, ch.Every, ch.Point = box, c.Email.Poll, box.Point
	return ch, nil
}

// openSMS opens the carrier account.
func openSMS(c *config.SMS, j *journal.Journal, clock Clock, log *slog.Logger) (*notify.SMS, error) {
	since, err := firstPoint(j, "sms", clock.Now())
	if err != nil {
		return nil, fmt.Errorf("set up sms: %w", err)
	}
	o := smsAccount(c)
	o.Since, o.Log = since, log
	o.Owned = func(id string) bool {
		// If it can't be read it counts as ours: a message is then not adopted, and
		// nobody is told that it went out when it may not have.
		ours, err := known(j, func(tx *journal.Tx) bool { return tx.Owned("sms", id) })
		return ours || err != nil
	}
	o.Seen = func(id string) bool {
		seen, _ := known(j, func(tx *journal.Tx) bool { _, ok := tx.Seen("sms", id); return ok })
		return seen // if it can't be read, taking it in says so
	}
	if c.Public != "" {
		o.StatusURL = statusURL(c.Public)
	}
	sms, err := notify.NewSMS(o)
	if err != nil {
		return nil, fmt.Errorf("set up sms: %w", err)
	}
	return sms, nil
}

// How often the carrier is asked what became of texts: where it tells us itself,
// only for what it failed to tell.
const (
	newsEvery     = 10 * time.Minute
	newsEveryHook = time.Hour
)

func smsChannel(c *config.SMS, sms *notify.SMS) Channel {
	ch := Channel{Sender: sms, Receive: sms, Every: c.Poll, Numbers: c.Numbers, LookAgain: c.LookAgain,
		News: sms.News, NewsEvery: newsEvery, Undelivered: c.Undelivered, Point: sms.Point}
	if c.Public != "" {
		ch.NewsEvery = newsEveryHook
	}
	if c.Confirms {
		ch.Confirms = sms.Confirms
	}
	return ch
}

// known asks the journal about a carrier's record.
func known(j *journal.Journal, ask func(*journal.Tx) bool) (yes bool, err error) {
	err = j.View(func(tx *journal.Tx) error { yes = ask(tx); return nil })
	return yes, err
}

// statusURL is the public address of delivery news: below that of the texts.
func statusURL(public string) string { return strings.TrimSuffix(public, "/") + "/status" }

// sites are what is served, by the address it listens on: the carrier's web
// hooks, and the pages that links in mails lead to.
func (chs *channels) sites(s *Service, c *config.Clinic) (map[string][]route, error) {
	sites := map[string][]route{}
	at := func(address, path string, body int64, h http.Handler, methods ...string) {
		sites[address] = append(sites[address], route{path: path, methods: methods, body: body, handler: h})
	}
	if chs.sms != nil && c.SMS.Listen != "" {
		path, err := publicPath(c.SMS.Public)
		if err != nil {
			return nil, err
		}
		log := s.o.Log
		at(c.SMS.Listen, path, hookBody, chs.sms.Hook(c.SMS.Public, s.Take("sms"), log), http.MethodPost)
		at(c.SMS.Listen, strings.TrimSuffix(path, "/")+"/status", hookBody,
			chs.sms.StatusHook(statusURL(c.SMS.Public), s.Tell("sms"), log), http.MethodPost)
	}
	if c.Web != nil {
		path, err := publicPath(c.Web.Public)
		if err != nil {
			return nil, err
		}
		below := strings.TrimSuffix(path, "/")
		pages := http.StripPrefix(below, s.Pages())
		for _, page := range []string{linkPath, stopPath, alertPath} {
			at(c.Web.Listen, below+page, pageBody, pages, http.MethodGet, http.MethodHead, http.MethodPost)
		}
	}
	return sites, nil
}

func publicPath(public string) (string, error) {
	u, err := url.Parse(public)
	if err != nil {
		return "", fmt.Errorf("public address: %w", err)
	}
	if u.Path == "" {
		return "/", nil
	}
	return u.Path, nil
}
