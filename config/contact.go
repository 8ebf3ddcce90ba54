package config

import (
	"net/mail"
	"regexp"
	"slices"
	"strings"

	"github.com/nyaruka/phonenumbers"
)

// The channels.
const (
	onSpool = "spool"
	onSMS   = "sms"
	onEmail = "email"
)

var (
	phoneForm = regexp.MustCompile(`^\+[0-9 .()/-]+$`)
	spoolForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,39}$`)
	readForm  = regexp.MustCompile(`[0-9]`)
	justDials = regexp.MustCompile(`^[0-9 +-]+$`)
	noHours   = regexp.MustCompile(`^[0-9 +().-]+$`)
)

// contact reads one channel and contact: of a patient, or of someone at the
// clinic.
func (n *notes) contact(c contactShape, of string) (Address, Value, bool) {
	p := c.At
	var given []Value
	var names []string
	for _, x := range []struct {
		channel string
		v       Value
	}{{onSpool, c.Spool}, {onSMS, c.SMS}, {onEmail, c.Email}} {
		if p.has(x.channel) {
			given, names = append(given, x.v), append(names, x.channel)
		}
	}
	switch {
	case p.Bad:
		return Address{}, Value{}, false
	case len(given) == 0:
		n.wrong(p.Pos, of+" has no contact", `write one of spool: NAME, sms: "+1..." or email: ADDRESS`)
		return Address{}, Value{}, false
	case len(given) > 1:
		n.wrong(given[1].At, of+" has more than one contact: "+strings.Join(names, ", "), "keep one of them")
		return Address{}, Value{}, false
	}
	v, a := given[0], Address{Channel: names[0]}
	var ok bool
	switch a.Channel {
	case onSpool:
		a.To, ok = n.spoolName(v)
	case onSMS:
		a.To, ok = n.phone(v)
	case onEmail:
		a.To, ok = n.mailbox(v)
	}
	return a, v, ok
}

// contacts reads how a patient is reached: one channel, or sms with email to
// fall back on. The address stays empty if any part can't be read.
func (r *reading) contacts(p *patient, s *enrollmentShape) {
	c := contactShape{At: s.At, Spool: s.Spool, SMS: s.SMS, Email: s.Email}
	both := s.At.has(onSMS) && s.At.has(onEmail) && !s.At.has(onSpool)
	good := true
	if both {
		c.At.Keys = slices.DeleteFunc(slices.Clone(s.At.Keys), func(key string) bool { return key == onEmail })
		p.Fallback.Channel, p.at.fallback = onEmail, spotOf(s.Email.At)
		p.Fallback.To, good = r.mailbox(s.Email)
	}
	a, contact, ok := r.contact(c, "the enrollment")
	p.at.contact = spotOf(contact.At)
	if s.At.has("sender") {
		var okSender bool
		p.at.sender = spotOf(s.Sender.At)
		p.Sender, okSender = r.phone(s.Sender)
		good = good && okSender
		if ok && a.Channel != onSMS {
			r.wrong(s.Sender.At, "sender is for texts, and the enrollment has no sms", `write sms: "+1..." with the patient's number, or take sender away`)
		}
	}
	if ok && good {
		p.Address = a
	}
}

// phone reads a phone number with its country code and writes it in E.164.
// Only its length is judged: numbers kept for fiction are possible but in no
// country's plan.
func (n *notes) phone(v Value) (string, bool) {
	if !v.given() {
		return "", false
	}
	number, err := phonenumbers.Parse(v.Text, "ZZ")
	if !phoneForm.MatchString(v.Text) || err != nil || !phonenumbers.IsPossibleNumber(number) {
		n.wrong(v.At, v.Key+" is no phone number that can be texted",
			`write it with + and the country code, without letters or extension, like "+12125550123"`)
		return "", false
	}
	return phonenumbers.Format(number, phonenumbers.E164), true
}

// mailbox reads a plain mail address. It comes back in small letters: an
// opt-out belongs to the contact and must outlast a change of capitals.
func (n *notes) mailbox(v Value) (string, bool) {
	if !v.given() {
		return "", false
	}
	a, err := mail.ParseAddress(v.Text)
	plain := err == nil && a.Address == v.Text && len(v.Text) <= 254 // RFC 5321: a path is at most 256 with its brackets
	if !plain || strings.ContainsFunc(v.Text, func(r rune) bool { return r <= ' ' || r > '~' || r == '"' }) {
		n.wrong(v.At, v.Key+" is no plain mail address", "write it without a name or brackets, like pat@example.com")
		return "", false
	}
	return strings.ToLower(a.Address), true
}

// spoolName reads a name on the spool, where it becomes a folder.
func (n *notes) spoolName(v Value) (string, bool) {
	if !v.given() {
		return "", false
	}
	if !spoolForm.MatchString(v.Text) {
		n.wrong(v.At, "this name on the spool can't be a folder",
			"write letters, digits, - and _ only, at most 40, beginning with a letter or digit")
		return "", false
	}
	return v.Text, true
}

// readNumber reads a phone number as people read it, such as 911 or
// 212-555-0123; it is printed, never dialed.
func (n *notes) readNumber(v Value) (string, bool) {
	text, ok := n.line(v, 40)
	if ok && len(readForm.FindAllString(text, -1)) < 2 {
		n.wrong(v.At, v.Key+" has no phone number in it", "write the number that patients should call")
		return "", false
	}
	return text, ok
}

// emergencyNumber reads the number of the safety texts. It is to be dialed as
// it stands by somebody in haste, so there is nothing else beside it. Numbers are
// of 3 to 15 digits (15: ITU-T E.164; 3: 911, 112, from memory).
func (n *notes) emergencyNumber(v Value) string {
	text, ok := n.readNumber(v)
	if digits := len(readForm.FindAllString(text, -1)); ok && (!justDials.MatchString(text) || digits < 3 || digits > 15) {
		n.wrong(v.At, v.Key+" is no number that can be dialed as it stands", "write the one number of 3 to 15 digits, such as 911 or 112")
		return ""
	}
	return text
}

// openingHours reads the hours as people read them. A phone number there is an
// answer to the wrong question.
func (n *notes) openingHours(v Value) string {
	text, ok := n.line(v, 60)
	if ok && noHours.MatchString(text) && len(readForm.FindAllString(text, -1)) >= 7 {
		n.wrong(v.At, v.Key+" is a phone number, or names no day", "write the opening hours, like Mon-Fri 8:30-17:00")
		return ""
	}
	return text
}
