package daemon

import (
	"fmt"
	"log/slog"
	"net/http"
	"path/filepath"
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
		sms, err := notify.NewSMS(notify.SMSConfig{Account: c.SMS.Account, Token: c.SMS.Token.Reveal(),
			From: c.SMS.From, API: c.SMS.API, Owned: func(id string) bool { return owned(j, "sms", id) }})
		if err != nil {
			return nil, fmt.Errorf("set up sms: %w", err)
		}
		chs.sms = sms
		chs.byName["sms"] = Channel{Sender: sms, Receive: sms, ConfirmsStop: true}
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

// owned tells whether a carrier's record is one of our messages already. If
// that can't be read it counts as ours: a message is then not adopted, and
// nobody is told that it went out when it may not have.
func owned(j *journal.Journal, channel, id string) bool {
	ours := true
	err := j.View(func(tx *journal.Tx) error { ours = tx.Owned(channel, id); return nil })
	return ours || err != nil
}

// hook is the web hook's handler at the path of its public address, and
// nothing at any other.
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
	return mux, nil
}
