package notify

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// overlap is how far before the point the list is read again. A message may
// be listed later than one that came in after it, and the carrier's clock may
// be behind ours. An hour is ours to choose: far more than either, and what
// was seen already costs a row and nothing else.
const overlap = time.Hour

// Collect reads what came in to each of our numbers from the carrier's list,
// from the point less an overlap, and gives what was not seen to take, oldest
// first. It asks for nothing that needs an address of ours to be public.
//
// The point moves only if every page and every message was read and
// committed. If take fails, Collect stops there, so that a person's messages
// stay in order. A message that can't be read holds the point too, after the
// others were taken: it may be somebody's STOP or pain, and to pass over it
// would be to call everything heard.
//
// Several at once wait for one another. No error repeats a number or a text.
func (s *SMS) Collect(ctx context.Context, take Take) error {
	select {
	case s.collecting <- struct{}{}:
		defer func() { <-s.collecting }()
	case <-ctx.Done():
	}
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("collect sms: %w", err)
	}
	begin := s.now().UTC()
	rows, unread := s.rows(ctx, true, s.from(begin))
	for _, r := range rows {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("collect sms: %w", err)
		}
		if s.cfg.Seen(r.id) {
			continue
		}
		in := Incoming{ID: r.id, From: r.from, To: r.to, Text: clean(value(r.msg.Body)), At: r.at}
		if err := take(ctx, in); err != nil {
			return &callerError{"collect sms: message " + r.id + " was not committed", err}
		}
	}
	if unread != nil {
		return fmt.Errorf("collect sms: %w", unread)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.point = begin
	return nil
}

// from is where a reading that begins now starts. A point after now was set
// by a clock that has been put right since.
func (s *SMS) from(now time.Time) time.Time {
	p := s.Point()
	if p.IsZero() {
		return p
	}
	if p.After(now) {
		p = now
	}
	return p.Add(-overlap)
}

// Point is up to where everything that came in was read: the time at which
// the last complete Collect began, and Since before the first.
func (s *SMS) Point() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.point
}

// clean makes a text of the carrier's well formed.
func clean(text string) string { return strings.ToValidUTF8(text, "\ufffd") }

// goodSender tells whether an incoming message says whom it is from. A short
// code or a name is a sender too.
func goodSender(from string) bool { return from != "" && len(from) <= 64 }

// callerError is an error of the caller's own, whose words may tell whose
// message it was: it says only where it happened, and errors.Is sees through.
type callerError struct {
	what string
	err  error
}

func (e *callerError) Error() string { return e.what }
func (e *callerError) Unwrap() error { return e.err }
