package config

import (
	"fmt"
	"regexp"
	"time"

	"stepgate/rules"
)

var accountForm = regexp.MustCompile(`^AC[0-9A-Za-z]+$`)

const (
	// usualRate, in segments a second, is what the carrier grants a US long
	// code, the slowest kind of number.
	usualRate        = 1
	minRate, maxRate = 0.01, 1000
	maxCap           = 999999 // segments a day
	usualUndelivered = 2      // dates
	mostUndelivered  = 14
	usualPoll        = time.Minute
	minPoll, maxPoll = time.Second, 5 * time.Minute // no day is decided unheard, so no slower
	usualLook        = time.Minute
	minLook, maxLook = time.Second, 10 * time.Minute
)

// retainWords are what the carrier may be told to do with the texts and
// numbers of messages.
var retainWords = []string{"retain"}

// stopReplyWords are who answers STOP and START, the default first.
var stopReplyWords = []string{"carrier", "clinic"}

// accentWords are what becomes of the accents that GSM 7 bit lacks, such as that
// of á, the default first.
var accentWords = []string{"drop", "keep"}

// sms reads the carrier account. Its values are not repeated in complaints:
// they identify the account.
func (l *loader) sms(s *smsShape) {
	l.channels[onSMS] = true
	if s.At.Bad {
		return
	}
	out := &SMS{At: s.At.Pos, Poll: usualPoll, LookAgain: usualLook, Confirms: true, Undelivered: usualUndelivered}
	if l.need(s.At, "account", "write the account's SID, which begins with AC") && s.Account.given() {
		out.Account = s.Account.Text
		if !accountForm.MatchString(out.Account) {
			l.wrong(s.Account.At, "account is no account SID", "write the SID: AC, then letters and digits only")
		}
	}
	if l.need(s.At, "token", "write token: {env: NAME} or token: {file: PATH}") {
		out.Token, _ = l.secret(s.Token)
	}
	out.Numbers = l.numbers(s)
	out.API = l.address(s.API)
	out.Public = l.address(s.Public)
	out.Listen = l.listen(s.Listen)
	switch listen, public := s.At.has("listen"), s.At.has("public"); {
	case listen && !public:
		l.wrong(s.Listen.At, "listen is set without public", "write the web address under which the carrier reaches it: public: https://...")
	case public && !listen:
		l.wrong(s.Public.At, "public is set without listen", "write the address to listen on, like listen: 127.0.0.1:8090")
	}
	if poll, ok := l.span(s.Poll, minPoll, maxPoll, "1m"); ok {
		out.Poll = poll
	}
	if again, ok := l.span(s.LookAgain, minLook, maxLook, "1m"); ok {
		out.LookAgain = again
	}
	content, addresses := l.retain(s.Content, "discard"), l.retain(s.Addresses, "obfuscate")
	out.Retain = content || addresses
	if who, ok := l.choice(s.StopReply, stopReplyWords...); ok {
		out.Confirms = who == stopReplyWords[0]
	}
	if accents, ok := l.choice(s.Accents, accentWords...); ok {
		out.Accents = accents == accentWords[1]
	}
	if days, ok := l.days(s.Undelivered, 1, mostUndelivered); ok {
		out.Undelivered = days
	}
	l.clinic.SMS = out
}

// retain tells whether the carrier is to be told to keep something. It cannot
// be told the opposite, for which it has a word too: a message is found by its
// text and number.
func (l *loader) retain(v Value, opposite string) bool {
	if v.given() && v.Text == opposite {
		l.wrong(v.At, v.Key+" can't be "+opposite+": a text whose hand-over was cut off could not be found again in the carrier's list",
			"write retain, or take the line away")
		return false
	}
	word, _ := l.choice(v, retainWords...)
	return word != ""
}

// numbers reads the numbers that texts come from: one, or a list of them. It
// gives none if any of them is wrong.
func (l *loader) numbers(s *smsShape) []SMSNumber {
	rate, most := l.rate(s.Rate, usualRate), l.dailyCap(s.DailyCap)
	one, several := s.At.has("from"), s.At.has("numbers")
	switch {
	case one && several:
		l.wrong(s.From.At, "from and numbers stand together", "keep from for one number, or numbers for several")
		l.several(s, rate) // for what else is wrong
		return nil
	case several:
		if s.At.has("daily cap") {
			l.wrong(s.DailyCap.At, "daily cap stands beside numbers, so it does not say whose it is",
				`write it with each number, like {from: "+1...", daily cap: 2000}`)
		}
		return l.several(s, rate)
	case !one:
		l.wrong(s.At.Pos, "sms has no number that the texts come from",
			"write from: and the number with its country code, or numbers: with several of them")
		return nil
	}
	out := SMSNumber{Rate: rate, DailyCap: most, At: s.From.At}
	var ok bool
	if out.Number, ok = l.phone(s.From); !ok {
		return nil
	}
	return []SMSNumber{out}
}

// several reads a list of numbers, each with a rate of its own or the one of
// all.
func (l *loader) several(s *smsShape, rate float64) []SMSNumber {
	var out []SMSNumber
	good := s.Numbers != nil // else it is no list, which is said already
	if good && len(s.Numbers) == 0 {
		l.wrong(s.At.Pos, "numbers is an empty list", `write the numbers below it, like - {from: "+1...", rate: 1}`)
	}
	first := map[string]rules.Pos{}
	for _, x := range s.Numbers {
		if x.At.Bad || !l.need(x.At, "from", "write the number with its country code") {
			good = false
			continue
		}
		n := SMSNumber{Rate: l.rate(x.Rate, rate), DailyCap: l.dailyCap(x.DailyCap), At: x.From.At}
		var ok bool
		if n.Number, ok = l.phone(x.From); !ok {
			good = false
			continue
		}
		if at, twice := first[n.Number]; twice {
			l.wrong(x.From.At, fmt.Sprintf("this number stands here twice, first at %s", at), "keep one of them")
			continue
		}
		first[n.Number] = n.At
		out = append(out, n)
	}
	if !good {
		return nil
	}
	return out
}

// rate reads how many segments a second a number may send.
func (l *loader) rate(v Value, usual float64) float64 {
	if rate, ok := l.decimal(v, minRate, maxRate); ok {
		return rate
	}
	return usual
}

// dailyCap reads how many segments a day a number may send; 0 is no cap.
func (l *loader) dailyCap(v Value) int {
	most, _ := l.whole(v, 1, maxCap)
	return most
}

// ours tells whether a contact is one of the clinic's own numbers.
func (l *loader) ours(a Address) bool { return a.Channel == onSMS && l.number(a.To) >= 0 }

// number is the place of a number among the clinic's; -1 if it is none.
func (l *loader) number(e164 string) int {
	if l.clinic.SMS != nil {
		for i, n := range l.clinic.SMS.Numbers {
			if n.Number == e164 {
				return i
			}
		}
	}
	return -1
}
