package carriertest

import (
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"time"
)

// Delivery is what becomes of a message that was accepted. Every step is told
// to the message's own StatusCallback, if it has one.
type Delivery struct {
	Status   string        // what it comes to: delivered, undelivered or failed; empty: it stays queued
	Code     int           // why it was not delivered
	Wait     time.Duration // before each step
	Twice    bool          // every callback comes twice
	Reversed bool          // callbacks come last first, after all steps
	Silent   bool          // no callback comes
}

// steps are the statuses it goes through. The first status of a message is
// never told (the carrier's documentation), so it is not among them.
func (d Delivery) steps() []string {
	switch d.Status {
	case "":
		return nil
	case "failed":
		return []string{"failed"}
	}
	return []string{"sent", d.Status}
}

// SetDelivery says what becomes of new messages, by themselves; at first they
// stay as they are.
func (s *Server) SetDelivery(d Delivery) { s.set(func() { s.delivery = d }) }

// SetDeliveryTo says what becomes of new messages to one number.
func (s *Server) SetDeliveryTo(number string, d Delivery) {
	s.set(func() { s.deliveryTo[number] = d })
}

// goOn has a new message go its way.
func (s *Server) goOn(m Message) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, ok := s.deliveryTo[m.To]
	if !ok {
		d = s.delivery
	}
	if s.closed || d.Status == "" {
		return
	}
	s.work.Go(func() { _ = s.Deliver(m.SID, d) }) // a callback nobody hears is lost, as a carrier's is
}

// ErrNoMessage is for an id that no message has.
var ErrNoMessage = errors.New("the carrier has no such message")

// Deliver has a message go its way now. It returns when every callback was
// answered, with what went wrong with them.
func (s *Server) Deliver(sid string, d Delivery) error {
	var errs []error
	var told []string
	for _, status := range d.steps() {
		select {
		case <-time.After(d.Wait):
		case <-s.ctx.Done():
			return s.ctx.Err()
		}
		code := d.Code
		if status == "sent" || status == "delivered" {
			code = 0
		}
		if !s.Progress(sid, status, code) {
			return ErrNoMessage
		}
		if told = append(told, status); !d.Reversed && !d.Silent {
			errs = append(errs, s.callbacks(sid, status, d.Twice))
		}
	}
	if d.Reversed && !d.Silent {
		for _, status := range slices.Backward(told) {
			errs = append(errs, s.callbacks(sid, status, d.Twice))
		}
	}
	return errors.Join(errs...)
}

func (s *Server) callbacks(sid, status string, twice bool) error {
	err := s.Callback(sid, status)
	if twice {
		err = errors.Join(err, s.Callback(sid, status))
	}
	return err
}

// Callback tells a message's own StatusCallback, if it has one, that the
// message came to a status, whatever its status is now: so a test has one come
// late, twice or out of order.
func (s *Server) Callback(sid, status string) error {
	m, ok := s.Message(sid)
	if !ok {
		return ErrNoMessage
	}
	to := m.Form.Get("StatusCallback")
	if to == "" {
		return nil
	}
	if err := s.notify(to, s.Status(m, status)); err != nil {
		return fmt.Errorf("status callback: %w", err)
	}
	return nil
}

// Status is the form of a status callback as the carrier posts it.
func (s *Server) Status(m Message, status string) url.Values {
	form := url.Values{
		"MessageSid":    {m.SID},
		"MessageStatus": {status},
		"SmsSid":        {m.SID},
		"SmsStatus":     {status},
		"AccountSid":    {s.account},
		"From":          {m.From},
		"To":            {m.To},
		"ApiVersion":    {"2010-04-01"},
	}
	if m.ErrorCode != 0 && (status == "undelivered" || status == "failed") {
		form.Set("ErrorCode", strconv.Itoa(m.ErrorCode))
	}
	return form
}
