package notify

import (
	"errors"
	"io"
	"log/slog"
	"mime"
	"net/http"
	"net/url"
	"strings"

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
	log = logger(log)
	signed := twilio.NewRequestValidator(s.cfg.Token)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		in, no := s.readHook(w, r, public, &signed)
		if no != nil {
			log.Warn("hook.refused", "reason", no.reason)
			if no.status == http.StatusMethodNotAllowed {
				w.Header().Set("Allow", http.MethodPost)
			}
			w.WriteHeader(no.status)
			return
		}
		if err := take(r.Context(), in); err != nil {
			// The error may tell whose text it was.
			log.Error("hook.failed", "id", in.ID)
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		w.Header().Set("Content-Type", "text/xml")
		_, _ = io.WriteString(w, emptyReply)
	})
}

// readHook reads and checks one request.
func (s *SMS) readHook(w http.ResponseWriter, r *http.Request, public string, signed *twilio.RequestValidator) (Incoming, *refusal) {
	if r.Method != http.MethodPost {
		return Incoming{}, &refusal{http.StatusMethodNotAllowed, "method"}
	}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/x-www-form-urlencoded" {
		return Incoming{}, &refusal{http.StatusBadRequest, "type"}
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxHookBody))
	if err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			return Incoming{}, &refusal{http.StatusRequestEntityTooLarge, "size"}
		}
		return Incoming{}, &refusal{http.StatusBadRequest, "read"}
	}
	signature := r.Header.Get("X-Twilio-Signature")
	if signature == "" {
		return Incoming{}, &refusal{http.StatusForbidden, "unsigned"}
	}
	form, err := url.ParseQuery(string(body))
	if err != nil {
		return Incoming{}, &refusal{http.StatusBadRequest, "form"}
	}
	// The signature covers the first value of each name; nothing but these
	// may be used.
	first := make(map[string]string, len(form))
	for name, values := range form {
		first[name] = values[0]
	}
	if !signed.Validate(public, first, signature) {
		return Incoming{}, &refusal{http.StatusForbidden, "signature"}
	}
	return s.incoming(first)
}

// incoming makes a message of a form's values. A body may be empty, as that
// of a picture is, but a form without one is no message.
func (s *SMS) incoming(form map[string]string) (Incoming, *refusal) {
	text, hasBody := form["Body"]
	id, from := form["MessageSid"], form["From"]
	if !hasBody || !messageSID.MatchString(id) || from == "" || len(from) > 64 {
		return Incoming{}, &refusal{http.StatusBadRequest, "fields"}
	}
	return Incoming{
		ID:   id,
		From: from,
		To:   form["To"],
		Text: strings.ToValidUTF8(text, "\ufffd"),
		At:   s.now().UTC(),
	}, nil
}

// logger is log, or one that says nothing.
func logger(log *slog.Logger) *slog.Logger {
	if log == nil {
		return slog.New(slog.DiscardHandler)
	}
	return log
}
