package daemon

import (
	"stepgate/config"
	"stepgate/notify"
)

// What the files say of the accounts, as the channels want it: for the service
// and for a test of the set-up alike.

func emailAccount(c *config.Clinic) notify.EmailConfig {
	o := notify.EmailConfig{Host: c.Email.Host, Port: c.Email.Port, From: c.Email.From, FromName: c.Name,
		User: c.Email.User, Password: c.Email.Password.Reveal(), TLS: c.Email.TLS}
	if d := c.Email.DKIM; d != nil {
		o.DKIM = &notify.DKIMConfig{Domain: d.Domain, Selector: d.Selector, Key: d.Key.Reveal()}
	}
	return o
}

func mailboxAccount(m *config.IMAP) notify.MailboxConfig {
	return notify.MailboxConfig{Host: m.Host, Port: m.Port, User: m.User, Password: m.Password.Reveal(), TLS: m.TLS, Folder: m.Folder}
}

func smsAccount(c *config.SMS) notify.SMSConfig {
	o := notify.SMSConfig{Account: c.Account, Token: c.Token.Reveal(), API: c.API, Retain: c.Retain}
	for _, n := range c.Numbers {
		o.Numbers = append(o.Numbers, n.Number)
	}
	return o
}
