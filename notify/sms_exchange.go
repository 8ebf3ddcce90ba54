package notify

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/url"
	"strconv"
	"sync/atomic"
	"syscall"
	"time"

	twilio "github.com/twilio/twilio-go/client"
	openapi "github.com/twilio/twilio-go/rest/api/v2010"
)

// Most bytes read of an answer. An error is short unless a proxy wrote it. A
// page of 1,000 messages stays under the other even if each has 1,600 characters
// of six bytes, as JSON may escape them, and 2 KiB besides.
const (
	maxErrorBody  = 64 << 10
	maxAnswerBody = 16 << 20
)

// maxRetryAfter bounds what a Retry-After header can ask for.
const maxRetryAfter = 24 * time.Hour

// exchange carries one call of the client library, which knows no context,
// hides Retry-After and leaves error bodies open. It lends the call a context,
// sends it to the configured address, reads and closes every body, and
// remembers what the answer said.
type exchange struct {
	ctx  context.Context
	base http.RoundTripper
	api  *url.URL // nil: the carrier's own address

	reached    atomic.Bool // a connection was had: something may have been sent
	posted     bool
	status     int // of the last answer; 0: none came
	retryAfter time.Duration
}

var errSecondPost = errors.New("a second create request within one call")

// RoundTrip sends one request. A create is sent once and no more: trying
// again is for the owner to decide, who looks first.
func (x *exchange) RoundTrip(req *http.Request) (*http.Response, error) {
	if req.Method == http.MethodPost {
		if x.posted {
			return nil, errSecondPost
		}
		x.posted = true
	}
	trace := &httptrace.ClientTrace{
		GotConn: func(httptrace.GotConnInfo) { x.reached.Store(true) },
	}
	out := req.Clone(httptrace.WithClientTrace(x.ctx, trace))
	if x.api != nil {
		out.URL.Scheme = x.api.Scheme
		out.URL.Host = x.api.Host
		out.URL.Path = x.api.Path + out.URL.Path
		out.Host = x.api.Host
	}
	resp, err := x.base.RoundTrip(out)
	if err != nil {
		return nil, err
	}
	x.status = resp.StatusCode
	x.retryAfter = retryAfter(resp.Header.Get("Retry-After"), time.Now())
	limit := int64(maxAnswerBody)
	if resp.StatusCode >= 300 {
		limit = maxErrorBody
	}
	// A body cut short fails to decode later, which is the outcome it should
	// have; the status is known by now.
	body, _ := io.ReadAll(io.LimitReader(resp.Body, limit))
	_ = resp.Body.Close()
	resp.Body = io.NopCloser(bytes.NewReader(body))
	return resp, nil
}

// service is the client library over this exchange. Its request handler is
// made by hand so that no environment variable moves the calls elsewhere.
func (x *exchange) service(account, token string) *openapi.ApiService {
	c := &twilio.Client{
		Credentials: twilio.NewCredentials(account, token),
		HTTPClient: &http.Client{
			Transport: x,
			CheckRedirect: func(*http.Request, []*http.Request) error {
				return http.ErrUseLastResponse
			},
		},
	}
	c.SetAccountSid(account)
	return openapi.NewApiService(&twilio.RequestHandler{Client: c})
}

// outcome says what a create that gave an error means.
func (x *exchange) outcome(err error) Result {
	if x.status == 0 {
		word := netWord(x.ctx, err)
		if !x.reached.Load() {
			return Result{Status: Retry, Code: word, Unreachable: word != "canceled"}
		}
		return Result{Status: Unknown, Code: word}
	}
	code := 0
	var rest *twilio.TwilioRestError
	if errors.As(err, &rest) {
		code = rest.Code
	}
	return refused(x.status, code, x.retryAfter)
}

// netWord names a failure of the network in one word.
func netWord(ctx context.Context, err error) string {
	var (
		dns  *net.DNSError
		cert *tls.CertificateVerificationError
		rec  tls.RecordHeaderError
		host x509.HostnameError
		tout net.Error
	)
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		return "canceled"
	case ctx.Err() != nil:
		return "timeout"
	case errors.As(err, &dns):
		return "dns"
	case errors.Is(err, syscall.ECONNREFUSED):
		return "refused"
	case errors.As(err, &cert), errors.As(err, &rec), errors.As(err, &host):
		return "tls"
	case errors.As(err, &tout) && tout.Timeout():
		return "timeout"
	}
	return "lost"
}

// retryAfter reads a Retry-After header, seconds or a date: RFC 9110 section
// 10.2.3. What can't be read counts as nothing.
func retryAfter(v string, now time.Time) time.Duration {
	var d time.Duration
	if n, err := strconv.ParseInt(v, 10, 32); err == nil {
		d = time.Duration(n) * time.Second
	} else if t, err := http.ParseTime(v); err == nil {
		d = t.Sub(now)
	}
	return min(max(d, 0), maxRetryAfter)
}
