package carriertest

import (
	"net/url"
	"slices"
	"strings"
)

// Inbound is the form of an inbound message as the carrier posts it.
func (s *Server) Inbound(sid, from, to, body string) url.Values {
	return url.Values{
		"MessageSid":    {sid},
		"SmsMessageSid": {sid},
		"AccountSid":    {s.account},
		"From":          {from},
		"To":            {to},
		"Body":          {body},
		"NumMedia":      {"0"},
		"NumSegments":   {"1"},
		"ApiVersion":    {"2010-04-01"},
	}
}

// Receive takes a text from a person to one of our numbers: it comes on the
// list, the carrier answers it if it is one of its words, and where there is a
// web hook it is posted there before Receive returns. A web hook that fails
// twice has missed it; the list has it.
func (s *Server) Receive(from, to, body string) Message {
	s.mu.Lock()
	m := s.add(Message{From: from, To: to, Body: body, Status: "received", Direction: Incoming})
	s.answer(m)
	hook := s.hook
	s.mu.Unlock()
	if hook != "" {
		_ = s.notify(hook, s.Inbound(m.SID, from, to, body))
	}
	return m
}

// pair is one of our numbers and a person's.
type pair struct{ ours, theirs string }

// The words the carrier acts on by default, each only as the whole of a text
// (its published default list).
var (
	stopWords  = []string{"STOP", "STOPALL", "UNSUBSCRIBE", "CANCEL", "END", "QUIT", "REVOKE", "OPTOUT"}
	startWords = []string{"START", "YES", "UNSTOP"}
	helpWords  = []string{"HELP", "INFO"}
)

// SetStopWords tells whether the carrier acts on its words itself, as it does
// at first, or leaves them all to the account.
func (s *Server) SetStopWords(on bool) { s.set(func() { s.stopWords = on }) }

// answer does what the carrier does by itself: STOP blocks messages from that
// number of ours to that person until START. Each is answered where it changes
// something (that it is not answered else is from memory). The caller holds mu.
func (s *Server) answer(m Message) {
	if !s.stopWords {
		return
	}
	word, key := strings.ToUpper(strings.TrimSpace(m.Body)), pair{m.To, m.From}
	switch {
	case slices.Contains(stopWords, word) && !s.blocked[key]:
		s.blocked[key] = true
		s.reply(m, "You will get no more messages from this number. Reply START to get them again.")
	case slices.Contains(startWords, word) && (s.blocked[key] || s.optedOut[m.From]):
		delete(s.blocked, key)
		delete(s.optedOut, m.From)
		s.reply(m, "You will get messages from this number again. Reply STOP to end them.")
	case slices.Contains(helpWords, word):
		s.reply(m, "Reply STOP to end messages from this number.")
	}
}

func (s *Server) reply(to Message, body string) {
	s.add(Message{From: to.To, To: to.From, Body: body, Status: "delivered", Direction: Answered})
}
