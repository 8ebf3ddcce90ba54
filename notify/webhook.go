package notify

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"mime"
	"net/http"
	"net/url"

	twilio "github.com/twilio/twilio-go/client"
)

// maxHookBody is the most bytes read of a web hook's form. A text of ten
// segments and its parameters take under 8 KiB; ours to choose.
const maxHookBody = 64 << 10

// emptyReply tells the carrier that there is nothing to say back.
const emptyReply = "<Response></Response>"

// refusal is why a request was turned away: an HTTP status and a word.
type refusal struct {
	status int
	reason string
}

// call is a request that was found good: the carrier's id of the message it
// is about, what is to be committed, and what is said once it is.
type call struct {
	id     string
	commit func(ctx context.Context) error
	reply  string // XML; may be empty
}

// Hook is the web hook for incoming texts. public is the address as the
// carrier has it, which is what it signs. A text is given to take, and
// acknowledged only after take returned nil; on an error it is answered 503, so
// that the carrier knows it was not taken.
//
// Everything else is turned away without a word in the body and logged as
// hook.refused with a reason: method (405), type, read, form, fields (400),
// size (413), unsigned, signature (403). A take that failed is logged as
// hook.failed with the carrier's message id.
func (s *SMS) Hook(public string, take Take, log *slog.Logger) http.Handler {
	return s.hook(public, log, func(form map[string]string) (call, *refusal) {
		in, no := s.incoming(form)
		commit := func(ctx context.Context) error { return take(ctx, in) }
		return call{id: in.ID, commit: commit, reply: emptyReply}, no
	})
}

// hook serves signed requests: read makes a call of a form that was found
// signed.
func (s *SMS) hook(public string, log *slog.Logger, read func(form map[string]string) (call, *refusal)) http.Handler {
	log = logger(log)
	signed := twilio.NewRequestValidator(s.cfg.Token)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		form, no := signedForm(w, r, public, &signed)
		var c call
		if no == nil {
			c, no = read(form)
		}
		if no != nil {
			log.Warn("hook.refused", "reason", no.reason)
			if no.status == http.StatusMethodNotAllowed {
				w.Header().Set("Allow", http.MethodPost)
			}
			w.WriteHeader(no.status)
			return
		}
		if err := c.commit(r.Context()); err != nil {
			// The error may tell whose text it was.
			log.Error("hook.failed", "id", c.id)
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		if c.reply != "" {
			w.Header().Set("Content-Type", "text/xml")
			_, _ = io.WriteString(w, c.reply)
		}
	})
}

// signedForm reads one request and gives the values that its signature covers.
func signedForm(w http.ResponseWriter, r *http.Request, public string, signed *twilio.RequestValidator) (map[string]string, *refusal) {
	if r.Method != http.MethodPost {
		return nil, &refusal{http.StatusMethodNotAllowed, "method"}
	}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/x-www-form-urlencoded" {
		return nil, &refusal{http.StatusBadRequest, "type"}
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxHookBody))
	if err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			return nil, &refusal{http.StatusRequestEntityTooLarge, "size"}
		}
		return nil, &refusal{http.StatusBadRequest, "read"}
	}
	signature := r.Header.Get("X-Twilio-Signature")
	if signature == "" {
		return nil, &refusal{http.StatusForbidden, "unsigned"}
	}
	form, err := url.ParseQuery(string(body))
	if err != nil {
		return nil, &refusal{http.StatusBadRequest, "form"}
	}
	// The signature covers the first value of each name; nothing but these
	// may be used.
	first := make(map[string]string, len(form))
	for name, values := range form {
		first[name] = values[0]
	}
	if !signed.Validate(public, first, signature) {
		return nil, &refusal{http.StatusForbidden, "signature"}
	}
	return first, nil
}

// incoming makes a message of a form's values. A body may be empty, as that
// of a picture is, but a form without one is no message.
func (s *SMS) incoming(form map[string]string) (Incoming, *refusal) {
	text, hasBody := form["Body"]
	id, from := form["MessageSid"], form["From"]
	if !hasBody || !messageSID.MatchString(id) || !goodSender(from) {
		return Incoming{}, &refusal{http.StatusBadRequest, "fields"}
	}
	return Incoming{ID: id, From: from, To: form["To"], Text: clean(text), At: s.now().UTC()}, nil
}

// logger is log, or one that says nothing.
func logger(log *slog.Logger) *slog.Logger {
	if log == nil {
		return slog.New(slog.DiscardHandler)
	}
	return log
}
