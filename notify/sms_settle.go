package notify

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// Words of Settle, in the Code of an Unknown.
const (
	CodeAbsent  = "absent"  // the whole list was read and the message is not on it
	CodeListing = "listing" // the list could not be read to its end
)

// listPage is how many messages are asked for at a time, at most 1,000 (the
// carrier's published API description).
const listPage = 200

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
	x := s.exchange(ctx)
	service := x.service(s.cfg.Account, s.cfg.Token)
	params := (&openapi.ListMessageParams{}).SetTo(m.To).SetPageSize(listPage)
	var found *openapi.ApiV2010Message
	for token, page := "", ""; ; {
		list, err := service.PageMessage(params, token, page)
		// An answer that holds no list at all would read as an empty one.
		if err != nil || x.status != http.StatusOK || list.Messages == nil {
			return Result{Status: Unknown, Code: CodeListing}
		}
		for i := range list.Messages {
			// Newest first: the last match is the oldest, which an earlier
			// try has made.
			if s.matches(&list.Messages[i], m) {
				found = &list.Messages[i]
			}
		}
		if value(list.NextPageUri) == "" {
			break
		}
		if token, page, err = nextPage(*list.NextPageUri); err != nil {
			return Result{Status: Unknown, Code: CodeListing}
		}
	}
	if found == nil {
		return Result{Status: Unknown, Code: CodeAbsent}
	}
	return taken(found)
}

// matches tells whether a listed message is m: sent by us, to the same number,
// with the same body, belonging to no other message, and not made before m.
func (s *SMS) matches(c *openapi.ApiV2010Message, m Message) bool {
	if value(c.To) != m.To || value(c.Body) != m.Text ||
		!strings.HasPrefix(value(c.Direction), "outbound") ||
		c.From != nil && *c.From != s.cfg.From ||
		s.cfg.Owned(value(c.Sid)) {
		return false
	}
	made, err := time.Parse(time.RFC1123Z, value(c.DateCreated))
	return err != nil || !made.Before(m.At.Add(-clockSlack))
}

var errNoPage = errors.New("next page names no page")

// nextPage reads the page and its token from the address of the next page.
func nextPage(address string) (token, page string, err error) {
	u, err := url.Parse(address)
	if err != nil {
		return "", "", errNoPage
	}
	q := u.Query()
	if q.Get("PageToken") == "" && q.Get("Page") == "" {
		return "", "", errNoPage
	}
	return q.Get("PageToken"), q.Get("Page"), nil
}
