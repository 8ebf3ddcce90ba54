package notify

import (
	"context"
	"strings"
	"time"

	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// Words of Settle, in the Code of an Unknown.
const (
	CodeAbsent  = "absent"  // the whole list was read and the message is not on it
	CodeListing = "listing" // the list could not be read to its end
)

// clockSlack is how far the carrier's clock may be behind ours. Ours to
// choose: wide, for a text not found may be sent a second time.
const clockSlack = time.Hour

// Settle looks a message up in the carrier's own list: everything sent to the
// same number, page by page to the end, with no filter on dates, for a
// message that was not sent yet may have none. Found, it is Sent under the
// carrier's id (or Rejected, if the carrier gave it up). Not found it stays
// Unknown with CodeAbsent, for a message may take a moment to be listed; only
// the owner can say that it was absent often enough.
func (s *SMS) Settle(ctx context.Context, m Message) Result {
	ctx, cancel := context.WithTimeout(ctx, s.cfg.Timeout)
	defer cancel()
	var found *openapi.ApiV2010Message
	err := s.walk(ctx, (&openapi.ListMessageParams{}).SetTo(m.To), func(page []openapi.ApiV2010Message) bool {
		for i := range page {
			// Newest first: the last match is the oldest, which an earlier
			// try has made.
			if s.matches(&page[i], m) {
				found = &page[i]
			}
		}
		return true
	})
	switch {
	case err != nil:
		return Result{Status: Unknown, Code: CodeListing}
	case found == nil:
		return Result{Status: Unknown, Code: CodeAbsent}
	}
	return taken(found)
}

// matches tells whether a listed message is m: sent by us, to the same number,
// with the same body, belonging to no other message, and not made before m. It
// may come from any of our numbers, or the one m names: which of them sends
// may have been changed since the try.
func (s *SMS) matches(c *openapi.ApiV2010Message, m Message) bool {
	if value(c.To) != m.To || value(c.Body) != m.Text ||
		!strings.HasPrefix(value(c.Direction), "outbound") ||
		c.From != nil && *c.From != m.From && !s.ours(*c.From) ||
		s.cfg.Owned(value(c.Sid)) {
		return false
	}
	made, ok := readDate(c.DateCreated)
	return !ok || !made.Before(m.At.Add(-clockSlack))
}
