package notify

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/mail"
	"net/url"
	"slices"
	"strings"
	"time"

	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// listPage is how many messages are asked for at a time, the most there may
// be (the carrier's published API description).
const listPage = 1000

// walk reads a list page by page and gives each page to read, newest messages
// first as the carrier has them, until read wants no more. It returns nil only
// if every page up to there was read. Its errors hold a short word and nothing
// of what was asked or answered.
func (s *SMS) walk(ctx context.Context, params *openapi.ListMessageParams, read func([]openapi.ApiV2010Message) (more bool)) error {
	params.SetPageSize(listPage)
	been := map[string]bool{}
	for token, page := "", ""; ; {
		list, err := s.page(ctx, params, token, page)
		if err != nil {
			return err
		}
		next := value(list.NextPageUri)
		if !read(list.Messages) || next == "" {
			return nil
		}
		if token, page, err = nextPage(next); err != nil || been[next] {
			return errNoPage
		}
		been[next] = true
	}
}

// page reads one page within the configured timeout.
func (s *SMS) page(ctx context.Context, params *openapi.ListMessageParams, token, number string) (*openapi.ListMessageResponse, error) {
	within, cancel := context.WithTimeout(ctx, s.cfg.Timeout)
	defer cancel()
	x := s.exchange(within)
	list, err := x.service(s.cfg.Account, s.cfg.Token).PageMessage(params, token, number)
	switch {
	case err == nil && x.status == http.StatusOK && list.Messages != nil:
		return list, nil
	case ctx.Err() != nil:
		return nil, fmt.Errorf("read the carrier's list: %w", ctx.Err())
	case err != nil:
		// The error itself may hold the address asked, with a number in it.
		return nil, ListError{x.outcome(err).Code}
	}
	// An answer that holds no list at all would read as an empty one.
	return nil, fmt.Errorf("read the carrier's list: no list under %s", codeWord(x.status, 0))
}

// ListError says why a carrier's list could not be read, by the carrier's code or
// a word of ours, as in Result: safe to log, and for [Explain].
type ListError struct{ Code string }

func (e ListError) Error() string { return "read the carrier's list: " + e.Code }

var errNoPage = errors.New("read the carrier's list: the next page is none, or one that was read")

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

// row is a message on the carrier's list.
type row struct {
	id   string
	at   time.Time // when it was sent, or made
	from string
	to   string
	msg  *openapi.ApiV2010Message
}

// rows reads the lists of all our numbers from since on (zero: from the
// beginning), and gives the messages of one direction, oldest first and by id
// within a second. A number whose list broke off gives none, for its older
// messages are those that are missing. What could be read is given beside the
// error, so that one number's trouble keeps nobody else unheard.
func (s *SMS) rows(ctx context.Context, inbound bool, since time.Time) ([]row, error) {
	var (
		all    []row
		errs   []error
		unread int
	)
	for _, number := range s.cfg.Numbers {
		these, bad, err := s.rowsOf(ctx, number, inbound, since)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		unread += bad
		all = append(all, these...)
	}
	if unread > 0 {
		errs = append(errs, fmt.Errorf("%d messages on the carrier's list can't be read", unread))
	}
	slices.SortFunc(all, func(a, b row) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.id, b.id)) })
	// Pages may shift while messages come in, which shows one twice.
	all = slices.CompactFunc(all, func(a, b row) bool { return a.id == b.id })
	return all, errors.Join(errs...)
}

// rowsOf reads the list of one number, and counts what can't be read on it.
//
// What came in is filtered by the carrier, by date sent. What went out is not:
// a text that failed before it was sent may have no such date (from memory) and
// would never be shown. That list is read until a page holds nothing that
// recent.
func (s *SMS) rowsOf(ctx context.Context, number string, inbound bool, since time.Time) (these []row, bad int, err error) {
	params := (&openapi.ListMessageParams{}).SetFrom(number)
	if inbound {
		params = (&openapi.ListMessageParams{}).SetTo(number)
		if !since.IsZero() {
			// On the wire "DateSent>=": at that time or after.
			params.SetDateSentAfter(since.UTC())
		}
	}
	err = s.walk(ctx, params, func(page []openapi.ApiV2010Message) bool {
		more := inbound
		for i := range page {
			r, ok, err := readRow(&page[i], number, inbound)
			recent := inbound || !r.at.Before(since)
			more = more || recent
			switch {
			case err != nil:
				bad++
				s.logUnread(r.id, err)
			case ok && recent:
				these = append(these, r)
			}
		}
		return more
	})
	return these, bad, err
}

// logUnread names a message that can't be read, by its id where it has one.
func (s *SMS) logUnread(id string, why error) {
	if messageSID.MatchString(id) {
		s.cfg.Log.Warn("sms.unread", "reason", why.Error(), "id", id)
	} else {
		s.cfg.Log.Warn("sms.unread", "reason", why.Error())
	}
}

// What makes a message on the list unreadable.
var (
	errDirection = errors.New("direction")
	errID        = errors.New("id")
	errSender    = errors.New("sender")
	errDate      = errors.New("date")
)

// readRow reads one message of the list, and tells whether it is of the
// direction and the number asked for. A body may be missing, as that of a
// picture may; then it is empty.
func readRow(m *openapi.ApiV2010Message, number string, inbound bool) (row, bool, error) {
	r := row{id: value(m.Sid), from: value(m.From), to: value(m.To), msg: m}
	direction, ourEnd := value(m.Direction), r.from
	var dated bool
	r.at, dated = readDate(m.DateSent, m.DateCreated)
	if inbound {
		ourEnd = r.to
	}
	switch {
	case direction != "inbound" && !strings.HasPrefix(direction, "outbound"):
		return r, false, errDirection
	case (direction == "inbound") != inbound || ourEnd != number:
		return r, false, nil
	case !messageSID.MatchString(r.id):
		return r, false, errID
	case !goodSender(r.from):
		return r, false, errSender
	case !dated:
		return r, false, errDate
	}
	return r, true, nil
}

// readDate is the first of the dates that is there. The carrier writes them
// as RFC 2822 does (its published API description).
func readDate(dates ...*string) (time.Time, bool) {
	for _, d := range dates {
		if value(d) != "" {
			if t, err := mail.ParseDate(*d); err == nil {
				return t.UTC(), true
			}
			return time.Time{}, false
		}
	}
	return time.Time{}, false
}
