package carriertest

import (
	"context"
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
)

// hookClient waits as long as the carrier does: 5 s for a connection and 15 s
// for an answer (the carrier's documentation of its web hooks).
func hookClient() *http.Client {
	return &http.Client{
		Timeout:   15 * time.Second,
		Transport: &http.Transport{DialContext: (&net.Dialer{Timeout: 5 * time.Second}).DialContext},
		CheckRedirect: func(*http.Request, []*http.Request) error {
			return http.ErrUseLastResponse
		},
	}
}

// Post posts a form to the web hook at address, signed for its public
// address, and gives back the status and body of the answer.
func (s *Server) Post(ctx context.Context, address, public string, form url.Values) (int, string, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, address, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, "", fmt.Errorf("make web hook request: %w", err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("X-Twilio-Signature", Sign(s.token, public, form))
	resp, err := s.client.Do(req)
	if err != nil {
		return 0, "", fmt.Errorf("post web hook: %w", err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(io.LimitReader(resp.Body, 64<<10))
	if err != nil {
		return 0, "", fmt.Errorf("read web hook answer: %w", err)
	}
	return resp.StatusCode, string(body), nil
}

// Sign computes a web hook's signature as the carrier documents it: the
// address, then every parameter's name and value in order of name, under
// HMAC-SHA1 with the account's token, in base64.
func Sign(token, address string, form url.Values) string {
	mac := hmac.New(sha1.New, []byte(token))
	mac.Write([]byte(address))
	for _, key := range slices.Sorted(maps.Keys(form)) {
		mac.Write([]byte(key + form.Get(key)))
	}
	return base64.StdEncoding.EncodeToString(mac.Sum(nil))
}

// SetHook has inbound messages posted to the web hook whose public address
// this is; empty: to none. Route says where on this machine it is.
func (s *Server) SetHook(public string) { s.set(func() { s.hook = public }) }

// Route says where on this machine a public address is reached: what goes to
// the origin of public, such as https://texts.example.org, is posted to that
// of local, under the same path and signed for the public address.
func (s *Server) Route(public, local string) error {
	from, err := origin(public)
	if err != nil {
		return err
	}
	to, err := origin(local)
	if err != nil {
		return err
	}
	s.set(func() { s.routes[from] = to })
	return nil
}

func origin(address string) (string, error) {
	if !webAddress(address) {
		return "", errors.New("a route wants addresses such as https://texts.example.org")
	}
	u, err := url.Parse(address)
	if err != nil {
		return "", err
	}
	return u.Scheme + "://" + u.Host, nil
}

// ErrElsewhere is for an address that is not on this machine and has no route:
// nothing is ever posted there.
var ErrElsewhere = errors.New("the address is not on this machine and has no route")

// local is where a public address is reached.
func (s *Server) local(public string) (string, error) {
	from, err := origin(public)
	if err != nil {
		return "", err
	}
	to := locked(s, func() string { return s.routes[from] })
	if to == "" {
		to = from
	}
	u, err := url.Parse(to)
	if err != nil {
		return "", err
	}
	if ip := net.ParseIP(u.Hostname()); u.Hostname() != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return "", ErrElsewhere
	}
	return to + strings.TrimPrefix(public, from), nil
}

// notify posts a form to a public address, and once more where that failed, as
// the carrier does. With Faulty it may come twice though it did not fail.
func (s *Server) notify(public string, form url.Values) error {
	address, err := s.local(public)
	if err != nil {
		return err
	}
	tries := 1
	if locked(s, s.strikes) {
		tries = 2
	}
	heard := false
	for try := 0; try < tries; try++ {
		var status int
		if status, _, err = s.Post(s.ctx, address, public, form); err == nil && status/100 != 2 {
			err = fmt.Errorf("the web hook answered %d", status)
		}
		if heard = heard || err == nil; !heard {
			tries = 2
		}
	}
	if heard {
		return nil
	}
	return err
}
