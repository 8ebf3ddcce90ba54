package notify

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	twilio "github.com/twilio/twilio-go/client"

	"stepgate/notify/carriertest"
)

// The example of the carrier's page on web hook security (the first two) and
// the vector of the client library's own test, client/request_validator_test.go
// of twilio-go 1.31.0 (the last). None is a text or delivery news, so that a
// good signature shows as a refusal for missing fields and a bad one as 403.
// The numbers are the published ones; the signature is over them.
func TestHookSignatureVectors(t *testing.T) {
	s := newTestSMS(t, "")
	s.cfg.Token = "12345"
	const public = "https://mycompany.com/myapp.php?foo=1&bar=2"
	reference := twilio.NewRequestValidator("12345")
	hooks := map[string]http.Handler{"texts": s.Hook(public, nil, nil), "news": s.StatusHook(public, nil, nil)}
	for signature, form := range map[string]url.Values{
		"0/KCTR6DLpKmkAf8muzZqo1nDgQ=": {
			"CallSid": {"CA1234567890ABCDE"}, "Caller": {"+12349013030"}, "Digits": {"1234"},
			"From": {"+12349013030"}, "To": {"+18005551212"},
		},
		"RSOYDt4T1cUTdK1PDd93/VVr8B8=": {
			"CallSid": {"CA1234567890ABCDE"}, "Caller": {"+14158675309"}, "Digits": {"1234"},
			"From": {"+14158675309"}, "To": {"+18005551212"},
		},
		"vOEb5UThFn24KEfnOFLQY2AE5FY=": {
			"CallSid": {"CA1234567890ABCDE"}, "Caller": {"+14158675309"}, "Digits": {"1234"},
			"From": {"+14158675309"}, "To": {"+18005551212"},
			"ReasonConferenceEnded": {"test"}, "Reason": {"Participant"},
		},
	} {
		check := func(want int) {
			for name, h := range hooks {
				w := httptest.NewRecorder()
				h.ServeHTTP(w, hookRequest(form, func(r *http.Request) { r.Header.Set("X-Twilio-Signature", signature) }))
				if w.Code != want {
					t.Errorf("%s, %s: %d, want %d", name, signature, w.Code, want)
				}
			}
			if got := reference.ValidateBody(public, []byte(form.Encode()), signature); got != (want == http.StatusBadRequest) {
				t.Errorf("the library's own check of %s says %v", signature, got)
			}
		}
		check(http.StatusBadRequest)
		if got := carriertest.Sign("12345", public, form); got != signature {
			t.Errorf("the stand-in signs %s, want %s", got, signature)
		}
		form.Set("Digits", "1235")
		check(http.StatusForbidden)
	}
}

// A form is taken if and only if the client library's own check of the whole
// request takes its signature. A parameter that nobody announced is signed
// like the others; one that was slipped in is not.
func TestHooksAgreeWithTheLibrary(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	reference := twilio.NewRequestValidator(testToken)
	taken := false
	text := func(public string) http.Handler {
		return s.Hook(public, func(context.Context, Incoming) error { taken = true; return nil }, nil)
	}
	news := func(public string) http.Handler {
		return s.StatusHook(public, func(context.Context, News) error { taken = true; return nil }, nil)
	}
	check := func(hook func(string) http.Handler, form url.Values, public, more, slipped string) {
		signed := form.Encode() + more
		values, err := url.ParseQuery(signed)
		if err != nil {
			t.Fatal(err)
		}
		signature := carriertest.Sign(testToken, public, values)
		want := slipped == ""
		if got := reference.ValidateBody(public, []byte(signed+slipped), signature); got != want {
			t.Errorf("the library says %v of %s with %q", got, public, slipped)
		}
		r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(signed+slipped))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("X-Twilio-Signature", signature)
		w := httptest.NewRecorder()
		taken = false
		hook(public).ServeHTTP(w, r)
		if taken != want || (w.Code == http.StatusOK) != want {
			t.Errorf("%s with %q and %q: %d, taken %v", public, more, slipped, w.Code, taken)
		}
	}
	delivered := carrier.Status(carriertest.Message{SID: testSID, To: testTo, From: testFrom}, "delivered")
	for _, public := range []string{
		testPublic, "https://clinic.example.org:443/sms?clinic=1", "https://clinic.example.org:8443/sms",
		"http://clinic.example.org/sms", "https://clinic.example.org/sms?a=1&b=ü",
	} {
		for _, more := range []string{"", "&Announced=no", "&A=&ZZ=%20+%2B"} {
			for _, slipped := range []string{"", "&Slipped=in", "&ForceBody="} {
				check(text, hookForm(carrier, "P5 + más 🙂 & = %"), public, more, slipped)
				check(news, delivered, public, more, slipped)
			}
		}
	}
}
