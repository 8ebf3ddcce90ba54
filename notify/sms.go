package notify

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync/atomic"
	"time"

	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// SMSConfig is an account at the carrier.
type SMSConfig struct {
	Account string        // the account's SID
	Token   string        // its auth token; signs web hooks too
	From    string        // our number, E.164
	API     string        // base address of the API; empty: the carrier's own
	Timeout time.Duration // longest time one Send or Settle takes; 0: 15 s

	// Validity is how long the carrier may keep a message queued before it
	// gives it up, 1 s to 10 h; 0 leaves it to the carrier, which keeps it
	// for 10 h (the carrier's published API description).
	Validity time.Duration

	// Owned says whether a carrier's id already belongs to a message, so that
	// a look-up never takes an earlier text of the same words for this one.
	// nil: none does.
	Owned func(id string) bool
}

// defaultTimeout of one call, ours.
const defaultTimeout = 15 * time.Second

// SMS sends texts through the carrier's API and hears through its web hook.
type SMS struct {
	cfg       SMSConfig
	api       *url.URL
	base      *http.Transport
	listening atomic.Bool
	now       func() time.Time
}

var (
	_ Sender   = (*SMS)(nil)
	_ Receiver = (*SMS)(nil)
)

var (
	// e164 is a number in international form: ITU-T E.164 allows 15 digits.
	e164 = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)
	// alnum is what the client library lets pass in a credential.
	alnum = regexp.MustCompile(`^[A-Za-z0-9]+$`)
	// messageSID is the shape of a message's id at the carrier.
	messageSID = regexp.MustCompile(`^(SM|MM)[0-9a-fA-F]{32}$`)
)

// NewSMS checks the account's settings; it makes no call. No error it returns
// repeats a setting.
func NewSMS(cfg SMSConfig) (*SMS, error) {
	switch {
	case !alnum.MatchString(cfg.Account):
		return nil, errors.New("sms: the account SID must be letters and digits")
	case !alnum.MatchString(cfg.Token):
		return nil, errors.New("sms: the auth token must be letters and digits")
	case !e164.MatchString(cfg.From):
		return nil, errors.New("sms: the sender number must be in E.164, such as +12025550100")
	case cfg.Validity != 0 && (cfg.Validity < time.Second || cfg.Validity > 10*time.Hour):
		return nil, errors.New("sms: validity must be from 1 s to 10 h")
	}
	api, err := apiAddress(cfg.API)
	if err != nil {
		return nil, err
	}
	cfg.Timeout = cmp.Or(cfg.Timeout, defaultTimeout)
	if cfg.Owned == nil {
		cfg.Owned = func(string) bool { return false }
	}
	base := http.DefaultTransport.(*http.Transport).Clone()
	// Many sends at once share one host. A connection is dropped well before
	// the far side would: a create on a connection that was just closed is
	// one that has to be looked up.
	base.MaxIdleConns, base.MaxIdleConnsPerHost = 256, 256
	base.IdleConnTimeout = 20 * time.Second
	return &SMS{cfg: cfg, api: api, base: base, now: time.Now}, nil
}

// apiAddress reads the base address. The token travels with every call, so it
// goes over plain HTTP to this machine only.
func apiAddress(s string) (*url.URL, error) {
	if s == "" {
		return nil, nil
	}
	u, err := url.Parse(s)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.RawQuery != "":
		return nil, errors.New("sms: the API address must be like https://api.example.com")
	case u.Scheme == "http" && !loopback(u.Hostname()):
		return nil, errors.New("sms: the API address must be https unless it is on this machine")
	case u.Scheme != "http" && u.Scheme != "https":
		return nil, errors.New("sms: the API address must begin with https://")
	}
	u.Path = strings.TrimSuffix(u.Path, "/")
	return u, nil
}

// loopback tells whether a host is this machine: localhost or an address of
// 127.0.0.0/8 or ::1.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

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
	params := (&openapi.CreateMessageParams{}).SetTo(m.To).SetFrom(s.cfg.From).SetBody(m.Text)
	if v := s.validity(m); v != 0 {
		params.SetValidityPeriod(int(v / time.Second))
	}
	x := s.exchange(ctx)
	made, err := x.service(s.cfg.Account, s.cfg.Token).CreateMessage(params)
	if err != nil {
		return x.outcome(err)
	}
	if x.status < 200 || x.status > 299 {
		return refused(x.status, 0, 0)
	}
	return taken(made)
}

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
	switch value(m.Status) {
	case "failed", "undelivered", "canceled":
		// On record and given up: never to be tried again by itself.
		r := Result{Status: Rejected, ID: id, Code: value(m.Status)}
		if m.ErrorCode != nil {
			r.Code = codeWord(http.StatusOK, *m.ErrorCode)
			r.BadContact = carrierCodes[*m.ErrorCode] == contact
			r.OptedOut = carrierCodes[*m.ErrorCode] == optedOut
		}
		return r
	}
	return Result{Status: Sent, ID: id}
}

func value(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// ErrNotListening says that texts can't come in: the web hook is not served.
var ErrNotListening = errors.New("sms: web hook is not served")

// SetListening tells whether the web hook is being served.
func (s *SMS) SetListening(on bool) { s.listening.Store(on) }

// Collect has nothing to pull: the carrier pushes, and [SMS.Hook] commits
// before it acknowledges. It returns nil while the web hook is served.
func (s *SMS) Collect(ctx context.Context, _ Take) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("collect sms: %w", err)
	}
	if !s.listening.Load() {
		return ErrNotListening
	}
	return nil
}
