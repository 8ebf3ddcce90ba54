package carriertest

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"time"
)

// Directions of a message, as the carrier's published API names them.
const (
	Outbound = "outbound-api"   // made through the API
	Answered = "outbound-reply" // the carrier's own answer
	Incoming = "inbound"        // from a person
)

// Message is one message on the carrier's list.
type Message struct {
	SID       string
	To        string
	From      string
	Body      string
	Status    string
	Direction string // empty in Add: Outbound
	ErrorCode int    // why it was not delivered; 0: no reason
	Created   time.Time
	Sent      time.Time  // zero: not yet
	Form      url.Values // all that was posted
}

// Messages are those that were accepted from the account so far, oldest first.
func (s *Server) Messages() []Message { return s.those(Outbound) }

// Received are the messages from people, oldest first.
func (s *Server) Received() []Message { return s.those(Incoming) }

// Replies are the carrier's own answers to STOP, START and HELP, oldest first.
func (s *Server) Replies() []Message { return s.those(Answered) }

// All are all messages in the order they came on the list.
func (s *Server) All() []Message { return s.those("") }

func (s *Server) those(direction string) []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []Message
	for _, m := range s.messages {
		if direction == "" || m.Direction == direction {
			out = append(out, m)
		}
	}
	return out
}

// Message is the message of an id.
func (s *Server) Message(sid string) (Message, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if i := s.index(sid); i >= 0 {
		return s.messages[i], true
	}
	return Message{}, false
}

// index is a message's place on the list, or -1. The caller holds mu.
func (s *Server) index(sid string) int {
	if i, ok := s.places[sid]; ok {
		return i
	}
	return -1
}

// Changed is closed at the next change of the list.
func (s *Server) Changed() <-chan struct{} {
	return locked(s, func() chan struct{} { return s.changed })
}

// Await waits until ok, which is asked now and after every change of the list.
// It is false if ctx ended first.
func (s *Server) Await(ctx context.Context, ok func() bool) bool {
	for {
		changed := s.Changed()
		if ok() {
			return true
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return false
		}
	}
}

// Add puts a message on the carrier's list as if another request had made it.
// The id is the carrier's to give, unless m has one.
func (s *Server) Add(m Message) Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.add(m)
}

func (s *Server) add(m Message) Message {
	if m.SID == "" {
		m.SID = fmt.Sprintf("SM%016x%016x", s.run, len(s.messages)+1)
	}
	if m.Direction == "" {
		m.Direction = Outbound
	}
	if m.Created.IsZero() {
		m.Created = s.now()
	}
	if m.Status == "" {
		m.Status = s.status
	}
	if m.Sent.IsZero() && left(m.Status) {
		m.Sent = m.Created
	}
	s.places[m.SID] = len(s.messages)
	s.messages = append(s.messages, m)
	s.tell()
	return m
}

// tell wakes who waits for a change. The caller holds mu.
func (s *Server) tell() {
	close(s.changed)
	s.changed = make(chan struct{})
}

// left tells whether a message of this status has gone out, or come in.
func left(status string) bool {
	return slices.Contains([]string{"sent", "delivered", "undelivered", "received", "read"}, status)
}

// Progress moves a message on to a status, with an error code or 0, and posts
// nothing. It is false if there is no such message.
func (s *Server) Progress(sid, status string, code int) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := s.index(sid)
	if i < 0 {
		return false
	}
	m := &s.messages[i]
	m.Status, m.ErrorCode = status, code
	if m.Sent.IsZero() && left(status) {
		m.Sent = s.now()
	}
	s.tell()
	return true
}

// resource is a message as the API shows it. Dates are RFC 2822, in GMT, and
// a message that was not sent yet has none sent.
func (s *Server) resource(m Message) map[string]any {
	var sent, code any
	if !m.Sent.IsZero() {
		sent = m.Sent.UTC().Format(time.RFC1123Z)
	}
	if m.ErrorCode != 0 {
		code = m.ErrorCode
	}
	return map[string]any{
		"sid":          m.SID,
		"account_sid":  s.account,
		"to":           m.To,
		"from":         m.From,
		"body":         m.Body,
		"status":       m.Status,
		"direction":    m.Direction,
		"date_created": m.Created.UTC().Format(time.RFC1123Z),
		"date_sent":    sent,
		"error_code":   code,
		"num_segments": "1",
		"num_media":    "0",
		"api_version":  "2010-04-01",
	}
}
