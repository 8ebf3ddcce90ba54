package notify

import (
	"cmp"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"
)

// SMSConfig is an account at the carrier.
type SMSConfig struct {
	Account string        // the account's SID
	Token   string        // its auth token; signs web hooks too
	Numbers []string      // our numbers, E.164, at least one; texts that name none come from the first
	API     string        // base address of the API; empty: the carrier's own
	Timeout time.Duration // longest time one Send or Settle takes, or one page of a list; 0: 15 s

	// Validity is how long the carrier may keep a message queued before it
	// gives it up, 1 s to 10 h; 0 leaves it to the carrier, which keeps it
	// for 10 h (the carrier's published API description).
	Validity time.Duration
	// Retain asks the carrier in so many words to keep the text and the number
	// of every message, which Settle needs to find one again.
	Retain bool
	// StatusURL is where the carrier posts delivery news: the public address
	// of StatusHook. Empty: it posts none.
	StatusURL string

	// Owned says whether a carrier's id already belongs to a message, so that
	// a look-up never takes an earlier text of the same words for this one.
	// nil: none does.
	Owned func(id string) bool
	// Seen says whether an incoming message was taken already. nil: none was,
	// and every Collect gives what the last one gave again.
	Seen func(id string) bool
	// Since is up to where everything incoming was read before; see Point.
	// Zero: nothing was, and the first Collect reads all that the carrier kept.
	Since time.Time

	// Log gets sms.unread, with a reason, for a message on the carrier's list
	// that can't be read. nil: nothing is logged.
	Log *slog.Logger
}

// defaultTimeout of one call, ours.
const defaultTimeout = 15 * time.Second

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
	case cfg.Validity != 0 && (cfg.Validity < time.Second || cfg.Validity > maxValidity):
		return nil, errors.New("sms: validity must be from 1 s to 10 h")
	}
	cfg.Numbers = slices.Clone(cfg.Numbers)
	if err := checkNumbers(cfg.Numbers); err != nil {
		return nil, err
	}
	if err := checkStatusURL(cfg.StatusURL); err != nil {
		return nil, err
	}
	api, err := apiAddress(cfg.API)
	if err != nil {
		return nil, err
	}
	cfg.Timeout = cmp.Or(cfg.Timeout, defaultTimeout)
	none := func(string) bool { return false }
	if cfg.Owned == nil {
		cfg.Owned = none
	}
	if cfg.Seen == nil {
		cfg.Seen = none
	}
	cfg.Log = logger(cfg.Log)
	base := http.DefaultTransport.(*http.Transport).Clone()
	// Many sends at once share one host. A connection is dropped well before
	// the far side would: a create on a connection that was just closed is
	// one that has to be looked up.
	base.MaxIdleConns, base.MaxIdleConnsPerHost = 256, 256
	base.IdleConnTimeout = 20 * time.Second
	return &SMS{
		cfg: cfg, api: api, base: base, now: time.Now,
		collecting: make(chan struct{}, 1), point: cfg.Since,
	}, nil
}

func checkNumbers(numbers []string) error {
	if len(numbers) == 0 {
		return errors.New("sms: no sender number")
	}
	for i, n := range numbers {
		if !e164.MatchString(n) {
			return errors.New("sms: a sender number must be in E.164, such as +12025550100")
		}
		if slices.Contains(numbers[:i], n) {
			return errors.New("sms: a sender number is there twice")
		}
	}
	return nil
}

// checkStatusURL looks at the address of delivery news. The carrier takes no
// host with an underscore (its published API description).
func checkStatusURL(s string) error {
	if s == "" {
		return nil
	}
	u, err := url.Parse(s)
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.User != nil ||
		u.Fragment != "" || strings.Contains(u.Host, "_") {
		return errors.New("sms: the address of delivery news must be like https://clinic.example.org/status")
	}
	return nil
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
