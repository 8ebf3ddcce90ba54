package config

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"stepgate/rules"
)

// held is a contact as one of the clinic's numbers reaches it.
type held struct {
	Address
	sender string
}

// anySender stands in for the sender of a contact that some sender has.
const anySender = "any"

// reached checks the contacts and the sender of an open enrollment.
func (l *loader) reached(p *patient) {
	l.configured(p.Address.Channel, p.place(p.at.contact), "the enrollment is on "+p.Address.Channel, useSpool)
	l.sameContact(p.place(p.at.contact), held{p.Address, p.Sender})
	if p.Fallback.To != "" {
		l.configured(onEmail, p.place(p.at.fallback), "the enrollment falls back on email", "take the email away")
		l.sameContact(p.place(p.at.fallback), held{Address: p.Fallback})
	}
	if s := l.clinic.SMS; p.Sender != "" && s != nil && len(s.Numbers) > 0 && l.number(p.Sender) < 0 {
		l.wrong(p.place(p.at.sender), "the sender is none of the clinic's numbers",
			"write one of those that begin at "+s.Numbers[0].At.String()+", or take sender away")
	}
}

// anotherWay is what to do about a contact that is taken, by channel. The
// carer of two patients is reached from two of the clinic's numbers.
var anotherWay = map[string]string{
	onSpool: "use another name on the spool",
	onSMS:   "give each of them a sender: of its own, use an email, or name a proxy: and write the proxy's number",
	onEmail: "use another address, sms alone, or name a proxy: and write the proxy's address",
}

// sameContact notes a contact that two open enrollments share: an answer from
// it could belong to either. Only the clinic's number that it was sent to can
// tell them apart, so those who share one need a sender each.
func (l *loader) sameContact(at rules.Pos, h held) {
	h.To = strings.ToLower(h.To)
	staff := func(a Address) bool { return a.Channel == h.Channel && strings.ToLower(a.To) == h.To }
	place, taken := l.holders[held{h.Address, ""}]
	if !taken {
		place, taken = l.holders[held{h.Address, cmp.Or(h.sender, anySender)}]
	}
	switch {
	case taken:
		first := l.people[place]
		l.wrong(at, fmt.Sprintf("this %s contact is already that of the open enrollment %s at %s", h.Channel, quoted(first.id), first.at),
			anotherWay[h.Channel])
		return
	case staff(l.clinic.Alerts):
		l.wrong(at, "this is the contact that alerts go to", "give the patient and the clinician contacts of their own")
	case staff(l.clinic.Backup), slices.ContainsFunc(l.clinic.Cover, func(c Cover) bool { return staff(c.Address) }):
		l.wrong(at, "this is a contact that alerts go to at times", "give the patient and the clinic's people contacts of their own")
	case staff(l.clinic.Admin):
		l.wrong(at, "this is the admin's contact", "give the patient and the admin contacts of their own")
	case l.ours(h.Address):
		l.wrong(at, "this is a number that the clinic's texts come from", "write the patient's number")
	}
	last := int32(len(l.people) - 1)
	l.holders[h] = last
	if h.sender != "" {
		l.holders[held{h.Address, anySender}] = last
	}
}
