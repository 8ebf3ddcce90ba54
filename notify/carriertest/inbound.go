package carriertest

import (
	"context"
	"crypto/hmac"
	"crypto/sha1"
	"encoding/base64"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
)

// Inbound is the form of an inbound message as the carrier posts it.
func (s *Server) Inbound(sid, from, to, body string) url.Values {
	return url.Values{
		"MessageSid":    {sid},
		"SmsMessageSid": {sid},
		"AccountSid":    {s.account},
		"From":          {from},
		"To":            {to},
		"Body":          {body},
		"NumMedia":      {"0"},
		"NumSegments":   {"1"},
		"ApiVersion":    {"2010-04-01"},
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
	resp, err := s.http.Client().Do(req)
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
