package notify

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// SMS sends texts through the carrier's API, and hears through the carrier's
// list of messages and its web hooks.
type SMS struct {
	cfg  SMSConfig
	api  *url.URL
	base *http.Transport
	now  func() time.Time

	collecting chan struct{} // holds one value while a Collect runs
	mu         sync.Mutex
	point      time.Time
}

var (
	_ Sender   = (*SMS)(nil)
	_ Receiver = (*SMS)(nil)
)

// Close drops idle connections. The SMS may still be used.
func (s *SMS) Close() { s.base.CloseIdleConnections() }

func (s *SMS) exchange(ctx context.Context) *exchange {
	return &exchange{ctx: ctx, base: s.base, api: s.api}
}

// Send hands one text to the carrier, once. A text that may have been taken is
// Unknown: the carrier knows no key that would make a second try harmless.
func (s *SMS) Send(ctx context.Context, m Message) Result {
	switch {
	case !e164.MatchString(m.To):
		return Result{Status: Rejected, Code: "contact", BadContact: true}
	case strings.TrimSpace(m.Text) == "":
		return Result{Status: Rejected, Code: "content"}
	}
	ctx, cancel := context.WithTimeout(ctx, s.cfg.Timeout)
	defer cancel()
	x := s.exchange(ctx)
	made, err := x.service(s.cfg.Account, s.cfg.Token).CreateMessage(s.create(m))
	if err != nil {
		return x.outcome(err)
	}
	if x.status < 200 || x.status > 299 {
		return refused(x.status, 0, 0)
	}
	return taken(made)
}

// create is what the carrier is asked for.
func (s *SMS) create(m Message) *openapi.CreateMessageParams {
	from := s.cfg.Numbers[0]
	if s.ours(m.From) {
		from = m.From
	}
	p := (&openapi.CreateMessageParams{}).SetTo(m.To).SetFrom(from).SetBody(m.Text)
	if v := s.validity(m); v != 0 {
		p.SetValidityPeriod(int(v / time.Second))
	}
	if s.cfg.StatusURL != "" {
		p.SetStatusCallback(s.cfg.StatusURL)
	}
	if s.cfg.Retain {
		p.SetContentRetention("retain").SetAddressRetention("retain")
	}
	return p
}

func (s *SMS) ours(number string) bool { return slices.Contains(s.cfg.Numbers, number) }

// validity is how long the carrier may keep a text it can't deliver at once:
// the configured time, and never past the message's own end.
func (s *SMS) validity(m Message) time.Duration {
	v := s.cfg.Validity
	if m.Until.IsZero() {
		return v
	}
	left := max(m.Until.Sub(s.now()), time.Second)
	if v == 0 {
		v = maxValidity
	}
	return min(v, left)
}

// maxValidity is the carrier's longest and its default (its published API
// description: 1 to 36000 seconds).
const maxValidity = 10 * time.Hour

// taken reads the carrier's own record of a message. A record without an id
// is none: whatever answered, nobody knows what became of the message.
func taken(m *openapi.ApiV2010Message) Result {
	id := value(m.Sid)
	if !messageSID.MatchString(id) {
		return Result{Status: Unknown, Code: "answer"}
	}
	n, final := news(id, value(m.Status), value(m.ErrorCode))
	if !final || n.Delivered {
		return Result{Status: Sent, ID: id}
	}
	// On record and given up: never to be tried again by itself.
	return Result{
		Status: Rejected, ID: id, Code: n.Code,
		BadContact: n.BadContact, OptedOut: n.OptedOut, Trouble: n.Trouble,
	}
}

// value is what p points to, or the zero value.
func value[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}
