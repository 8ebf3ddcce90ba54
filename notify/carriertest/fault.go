package carriertest

import (
	"io"
	"net/http"
	"strings"
)

// Fault is one way of failing, used up by one request.
type Fault struct {
	accepted bool // the message was taken all the same
	answer   func(s *Server, w http.ResponseWriter, r *http.Request)
}

// Accepted makes a fault happen after the message was taken.
func (f Fault) Accepted() Fault {
	f.accepted = true
	return f
}

// Fail queues faults for the next create requests, one each.
func (s *Server) Fail(faults ...Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.creates = append(s.creates, faults...)
}

// FailList queues faults for the next listings, one each.
func (s *Server) FailList(faults ...Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lists = append(s.lists, faults...)
}

func pop(faults *[]Fault) *Fault {
	if len(*faults) == 0 {
		return nil
	}
	f := (*faults)[0]
	*faults = (*faults)[1:]
	return &f
}

// Refuse answers with an HTTP status and one of the carrier's codes. The
// message of the answer repeats the request's To and Body, as a carrier's may.
func Refuse(status, code int) Fault {
	return Fault{answer: func(_ *Server, w http.ResponseWriter, r *http.Request) {
		refuse(w, status, code, "Refused: "+r.PostForm.Get("To")+" "+r.PostForm.Get("Body"))
	}}
}

// TooMany answers 429 with code 20429 and a Retry-After header, if any.
func TooMany(retryAfter string) Fault {
	return Fault{answer: func(_ *Server, w http.ResponseWriter, _ *http.Request) {
		if retryAfter != "" {
			w.Header().Set("Retry-After", retryAfter)
		}
		refuse(w, http.StatusTooManyRequests, 20429, "Too Many Requests")
	}}
}

// HTML answers with a status and a page of about size bytes, as a proxy in
// front of the carrier does.
func HTML(status, size int) Fault {
	return Raw(status, "text/html", "<html><body>"+strings.Repeat("<p>out of order</p>\n", size/20)+"</body></html>")
}

// Raw answers with just this.
func Raw(status int, contentType, body string) Fault {
	return Fault{answer: func(_ *Server, w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", contentType)
		w.WriteHeader(status)
		_, _ = io.WriteString(w, body)
	}}
}

// Redirect answers 307 to another address.
func Redirect(to string) Fault {
	return Fault{answer: func(_ *Server, w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Location", to)
		w.WriteHeader(http.StatusTemporaryRedirect)
	}}
}

// Hang never answers: it waits until the sender or the server gives up.
func Hang() Fault {
	return Fault{answer: func(s *Server, _ http.ResponseWriter, r *http.Request) {
		select {
		case <-r.Context().Done():
		case <-s.ctx.Done():
		}
		panic(http.ErrAbortHandler)
	}}
}

// Cut closes the connection without an answer.
func Cut() Fault {
	return Fault{answer: func(_ *Server, _ http.ResponseWriter, _ *http.Request) {
		panic(http.ErrAbortHandler)
	}}
}

// CutAnswer closes the connection in the middle of an answer.
func CutAnswer(status int) Fault {
	return Fault{answer: func(_ *Server, w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Content-Length", "1000")
		w.WriteHeader(status)
		_, _ = io.WriteString(w, `{"code": 2`)
		_ = http.NewResponseController(w).Flush()
		panic(http.ErrAbortHandler)
	}}
}

// Usual are the ways a carrier fails that a sender must live with, each as
// likely as the others in [Server.Faulty]: before a message was taken and
// after, with an answer and without. None hangs; add Hang where the sender's
// time is short.
func Usual() []Fault {
	return []Fault{
		TooMany("1"),
		Refuse(http.StatusInternalServerError, 20500),
		Refuse(http.StatusServiceUnavailable, 20503).Accepted(),
		HTML(http.StatusBadGateway, 100_000),
		HTML(http.StatusGatewayTimeout, 100_000).Accepted(),
		Cut(),
		Cut().Accepted(),
		CutAnswer(http.StatusCreated).Accepted(),
	}
}
