package daemon

import (
	"fmt"
	"log/slog"
	"net/http"
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
	q.SMS, q.Email = nil, nil
	q.Enrollments = make([]*config.Enrollment, len(c.Enrollments))
	for i, e := range c.Enrollments {
		copied := *e
		copied.Address = spoolAddress(e.Address, e.ID)
		q.Enrollments[i] = &copied
	}
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

func openChannels(c *config.Clinic, j *journal.Journal, clock Clock, made bool, log *slog.Logger) (*channels, error) {
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
		email, err := notify.NewEmail(notify.EmailConfig{Host: c.Email.Host, Port: c.Email.Port,
			From: c.Email.From, FromName: c.Name, User: c.Email.User,
			Password: c.Email.Password.Reveal(), TLS: c.Email.TLS})
		if err != nil {
			return nil, fmt.Errorf("set up email: %w", err)
		}
		// Answers by mail are not collected: its patients wait, unheard.
		chs.byName["email"] = Channel{Sender: email}
	}
	return chs, nil
}

// openSMS opens the carrier account.
func openSMS(c *config.SMS, j *journal.Journal, clock Clock, log *slog.Logger) (*notify.SMS, error) {
	since, err := firstPoint(j, "sms", clock.Now())
	if err != nil {
		return nil, fmt.Errorf("set up sms: %w", err)
	}
	o := notify.SMSConfig{Account: c.Account, Token: c.Token.Reveal(), API: c.API, Retain: c.Retain, Since: since, Log: log,
		Owned: func(id string) bool {
			// If it can't be read it counts as ours: a message is then not adopted, and
			// nobody is told that it went out when it may not have.
			ours, err := known(j, func(tx *journal.Tx) bool { return tx.Owned("sms", id) })
			return ours || err != nil
		},
		Seen: func(id string) bool {
			seen, _ := known(j, func(tx *journal.Tx) bool { _, ok := tx.Seen("sms", id); return ok })
			return seen // if it can't be read, taking it in says so
		},
	}
	for _, n := range c.Numbers {
		o.Numbers = append(o.Numbers, n.Number)
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

// hook is the web hook's handlers: texts at the path of its public address, news
// of deliveries below it, and nothing at any other.
func (chs *channels) hook(s *Service, c *config.Clinic, log *slog.Logger) (http.Handler, error) {
	if chs.sms == nil || c.SMS.Listen == "" {
		return nil, nil
	}
	path, err := publicPath(c.SMS.Public)
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.Handle(path, chs.sms.Hook(c.SMS.Public, s.Take("sms"), log))
	mux.Handle(strings.TrimSuffix(path, "/")+"/status", chs.sms.StatusHook(statusURL(c.SMS.Public), s.Tell("sms"), log))
	return mux, nil
}
