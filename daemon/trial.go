package daemon

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/mail"
	"regexp"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/notify"
)

// Trial is one message that tests a clinic's set-up. It goes to a person who
// sets things up, never to a patient, and needs no journal: it can be sent
// beside a running service, which takes no notice of it.
type Trial struct {
	To   config.Address
	Wait time.Duration          // for the end of a text
	Tell func(notify.TrialStep) // each step, once it is over
}

var (
	numberForm = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)
	numberGaps = strings.NewReplacer(" ", "", "-", "", ".", "", "(", "", ")", "")
)

// TrialAddress reads where a test goes: a mail address, or a phone number with
// a plus.
func TrialAddress(s string) (config.Address, error) {
	switch number := numberGaps.Replace(s); {
	case strings.Contains(s, "@"):
		a, err := mail.ParseAddress(s)
		if err != nil || a.Address != s {
			return config.Address{}, errors.New("this is no plain mail address; write it like you@example.com")
		}
		return config.Address{Channel: "email", To: s}, nil
	case numberForm.MatchString(number):
		return config.Address{Channel: "sms", To: number}, nil
	}
	return config.Address{}, errors.New("a test goes to a mail address, or to a phone number with + and the country code")
}

// Run sends the message and tells each step. It returns whether all went well.
func (t Trial) Run(ctx context.Context, c *config.Clinic) bool {
	if why := t.refused(c); why != "" {
		t.settings(why)
		return false
	}
	if t.To.Channel == "sms" {
		return t.text(ctx, c)
	}
	sent := t.mail(ctx, c)
	if c.Email.IMAP == nil {
		return sent
	}
	return t.mailbox(ctx, c) && sent
}

// settings tells of what the files alone stand in the way of.
func (t Trial) settings(why string) { t.Tell(notify.TrialStep{Name: "settings", Words: why}) }

// refused says why nothing is sent, if so. A patient's contact gets none: the
// journal, which knows who sent STOP and when, may be the service's own.
func (t Trial) refused(c *config.Clinic) string {
	switch {
	case t.To.Channel == "sms" && c.SMS == nil:
		return "Texts are not set up: stepgate.yaml has no sms: block. Add it; the README has one to begin with."
	case t.To.Channel == "email" && c.Email == nil:
		return "Mail is not set up: stepgate.yaml has no email: block. Add it; the README has one to begin with."
	}
	for e := range c.Enrollments.All() {
		for _, contact := range e.Contacts() {
			if strings.EqualFold(contact, t.To.To) {
				return "This is the contact of the enrollment " + e.ID + ". A test goes to yourself, not to a patient."
			}
		}
	}
	return ""
}

func (t Trial) mail(ctx context.Context, c *config.Clinic) bool {
	o := emailAccount(c)
	o.Secret = []byte(rand.Text())
	email, err := notify.NewEmail(o)
	if err != nil {
		t.settings(notGood("email", err))
		return false
	}
	return email.Trial(ctx, t.message(c), t.Tell)
}

func (t Trial) mailbox(ctx context.Context, c *config.Clinic) bool {
	m := c.Email.IMAP
	box, err := notify.NewMailbox(mailboxAccount(m))
	if err != nil {
		t.settings(notGood("imap", err))
		return false
	}
	return box.Trial(ctx, t.Tell)
}

// text sends from the clinic's first number. News of it is not posted to the
// web hook, where a running service would hear of a text it does not know.
func (t Trial) text(ctx context.Context, c *config.Clinic) bool {
	sms, err := notify.NewSMS(smsAccount(c.SMS))
	if err != nil {
		t.settings(notGood("sms", err))
		return false
	}
	defer sms.Close()
	return sms.Trial(ctx, t.message(c), t.Wait, t.Tell)
}

func notGood(block string, err error) string {
	return fmt.Sprintf("The settings under %s: can't be used: %v.", block, err)
}

// message says that it is a test, and from whom; nothing in it is a patient's.
func (t Trial) message(c *config.Clinic) notify.Message {
	m := notify.Message{Key: "trial/" + rand.Text(), To: t.To.To, At: time.Now().UTC().Truncate(time.Second)}
	if t.To.Channel == "sms" {
		m.Text = notify.Plain("This is a test from " + c.Name + ", to see that texts arrive. It holds no patient data and needs no answer.")
		m.Until = m.At.Add(cmp.Or(t.Wait, time.Minute) + time.Minute)
		return m
	}
	m.Subject = "Test from " + c.Name
	m.Text = "This is a test from " + c.Name + ". Somebody who sets up its messages sent it to\n" +
		"see that mail arrives.\n\nIt holds no patient data and needs no answer.\n"
	return m
}
