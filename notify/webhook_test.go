package notify

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"stepgate/notify/carriertest"
)

const (
	testPublic = "https://clinic.example.org/sms?clinic=1"
	testSID    = "SM00000000000000000000000000000001"
)

// hookRequest makes a signed request and lets change spoil it.
func hookRequest(form url.Values, change func(*http.Request)) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "/sms?clinic=1", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded; charset=utf-8")
	r.Header.Set("X-Twilio-Signature", carriertest.Sign(testToken, testPublic, form))
	if change != nil {
		change(r)
	}
	return r
}

// serve gives a hook a signed form, which it is to answer so.
func serve(t *testing.T, h http.Handler, form url.Values, status int) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, hookRequest(form, nil))
	if w.Code != status {
		t.Errorf("answered %d, want %d", w.Code, status)
	}
	return w
}

func hookForm(c *carriertest.Server, body string) url.Values {
	return c.Inbound(testSID, testTo, testFrom, body)
}

func TestHookCommitsBeforeItAnswers(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	at := time.Date(2026, 10, 5, 15, 0, 0, 0, time.UTC)
	s.now = func() time.Time { return at }
	var got []Incoming
	fail := true
	take := func(_ context.Context, in Incoming) error {
		if fail {
			return errTake
		}
		got = append(got, in)
		return nil
	}
	var logs bytes.Buffer
	server := httptest.NewServer(s.Hook(testPublic, take, slog.New(slog.NewJSONHandler(&logs, nil))))
	defer server.Close()
	form := hookForm(carrier, "done, 3/10 🙂")

	status, body, err := carrier.Post(t.Context(), server.URL, testPublic, form)
	if err != nil || status != http.StatusServiceUnavailable || body != "" {
		t.Errorf("take failed: %d %q %v", status, body, err)
	}
	if l := logs.String(); !strings.Contains(l, "hook.failed") || !strings.Contains(l, testSID) || strings.Contains(l, testTo) {
		t.Errorf("log: %s", l)
	}
	fail = false
	status, body, err = carrier.Post(t.Context(), server.URL, testPublic, form)
	if err != nil || status != http.StatusOK || body != "<Response></Response>" {
		t.Errorf("taken: %d %q %v", status, body, err)
	}
	want := Incoming{ID: testSID, From: testTo, To: testFrom, Text: "done, 3/10 🙂", At: at}
	if len(got) != 1 || !reflect.DeepEqual(got[0], want) {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

func TestHookTakes(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	for name, c := range map[string]struct{ text, want string }{
		"nothing, as with a picture": {"", ""},
		"emoji":                      {"👍", "👍"},
		"broken bytes":               {"P5\xff", "P5\ufffd"},
		"long":                       {strings.Repeat("a", 1600), strings.Repeat("a", 1600)},
	} {
		var got *Incoming
		h := s.Hook(testPublic, func(_ context.Context, in Incoming) error { got = &in; return nil }, nil)
		w := httptest.NewRecorder()
		form := hookForm(carrier, c.text)
		form.Set("SomethingNew", "1") // the carrier adds parameters unannounced
		h.ServeHTTP(w, hookRequest(form, nil))
		if w.Code != 200 || got == nil || got.Text != c.want {
			t.Errorf("%s: %d, %+v", name, w.Code, got)
		}
		if ct := w.Header().Get("Content-Type"); ct != "text/xml" {
			t.Errorf("%s: content type %q", name, ct)
		}
	}
}

func TestHookRefuses(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	form := hookForm(carrier, "P5")
	without := func(key string) url.Values {
		f := maps.Clone(form)
		f.Del(key)
		return f
	}
	with := func(key, value string) url.Values {
		f := maps.Clone(form)
		f[key] = []string{value}
		return f
	}
	header := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	for name, c := range map[string]struct {
		form   url.Values
		change func(*http.Request)
		status int
		reason string
	}{
		"get":           {form, func(r *http.Request) { r.Method = http.MethodGet }, 405, "method"},
		"json":          {form, header("Content-Type", "application/json"), 400, "type"},
		"no type":       {form, header("Content-Type", ""), 400, "type"},
		"2 MB":          {with("Body", strings.Repeat("a", 2<<20)), nil, 413, "size"},
		"unsigned":      {form, header("X-Twilio-Signature", ""), 403, "unsigned"},
		"badly signed":  {form, header("X-Twilio-Signature", "AAAA"), 403, "signature"},
		"other token":   {form, header("X-Twilio-Signature", carriertest.Sign("other", testPublic, form)), 403, "signature"},
		"other address": {form, header("X-Twilio-Signature", carriertest.Sign(testToken, "https://evil.example/", form)), 403, "signature"},
		"malformed":     {form, func(r *http.Request) { r.Body = io.NopCloser(strings.NewReader("Body=%zz")) }, 400, "form"},
		"broken off":    {form, func(r *http.Request) { r.Body = brokenBody{} }, 400, "read"},
		"no id":         {without("MessageSid"), nil, 400, "fields"},
		"odd id":        {with("MessageSid", "../../x"), nil, 400, "fields"},
		"no sender":     {without("From"), nil, 400, "fields"},
		"long sender":   {with("From", strings.Repeat("1", 65)), nil, 400, "fields"},
		"no body":       {without("Body"), nil, 400, "fields"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, h := range bothHooks(t, s) {
				w := httptest.NewRecorder()
				h.ServeHTTP(w, hookRequest(c.form, c.change))
				if w.Code != c.status || w.Body.Len() != 0 {
					t.Errorf("%d %q, want %d and nothing", w.Code, w.Body, c.status)
				}
				if l := h.logs.String(); !strings.Contains(l, `"hook.refused","reason":"`+c.reason+`"`) {
					t.Errorf("log %s, want reason %s", l, c.reason)
				}
			}
		})
	}
}

// loggedHook is a hook and what it logs.
type loggedHook struct {
	http.Handler
	logs *bytes.Buffer
}

// bothHooks are the hooks for texts and for news, neither of which may take
// what it gets. A form of a text is refused by either: it has no status.
func bothHooks(t *testing.T, s *SMS) []loggedHook {
	var texts, news bytes.Buffer
	take := func(context.Context, Incoming) error { t.Error("taken"); return nil }
	tell := func(context.Context, News) error { t.Error("told"); return nil }
	return []loggedHook{
		{s.Hook(testPublic, take, slog.New(slog.NewJSONHandler(&texts, nil))), &texts},
		{s.StatusHook(testPublic, tell, slog.New(slog.NewJSONHandler(&news, nil))), &news},
	}
}

type brokenBody struct{}

func (brokenBody) Read([]byte) (int, error) { return 0, errors.New("cut") }
func (brokenBody) Close() error             { return nil }

// A second value of a name is not covered by the signature.
func TestHookUsesSignedValuesOnly(t *testing.T) {
	carrier := newCarrier(t)
	s := newTestSMS(t, carrier.URL())
	form := hookForm(carrier, "P2")
	var got Incoming
	h := s.Hook(testPublic, func(_ context.Context, in Incoming) error { got = in; return nil }, nil)
	r := hookRequest(form, nil)
	signature := r.Header.Get("X-Twilio-Signature")
	form.Add("Body", "P9")
	form.Add("From", "+12025550199")
	r = hookRequest(form, func(r *http.Request) { r.Header.Set("X-Twilio-Signature", signature) })
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if got.Text != "P2" || got.From != testTo {
		t.Errorf("took %+v", got)
	}
}

func FuzzHook(f *testing.F) {
	carrier := carriertest.New(testAccount, testToken)
	f.Cleanup(carrier.Close)
	s, err := NewSMS(SMSConfig{Account: testAccount, Token: testToken, Numbers: []string{testFrom}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(hookForm(carrier, "P5").Encode(), true)
	f.Add(carrier.Status(carriertest.Message{SID: testSID, ErrorCode: 30003}, "failed").Encode(), true)
	f.Add("Body=%zz&&=;", false)
	f.Fuzz(func(t *testing.T, body string, signed bool) {
		taken, told := false, false
		post := func(h http.Handler) int {
			r := httptest.NewRequest(http.MethodPost, "/sms", strings.NewReader(body))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if form, err := url.ParseQuery(body); err == nil && signed {
				r.Header.Set("X-Twilio-Signature", carriertest.Sign(testToken, testPublic, form))
			}
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			return w.Code
		}
		code := post(s.Hook(testPublic, func(context.Context, Incoming) error { taken = true; return nil }, nil))
		if taken != (code == 200) || taken && !signed {
			t.Errorf("taken %v, signed %v, status %d", taken, signed, code)
		}
		code = post(s.StatusHook(testPublic, func(context.Context, News) error { told = true; return nil }, nil))
		if told && code != 200 || code == 200 && !signed {
			t.Errorf("told %v, signed %v, status %d", told, signed, code)
		}
	})
}
