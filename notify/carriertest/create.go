package carriertest

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"unicode/utf16"
)

// Arrived gets a value for each create request once its form was read, so
// that a test can wait for one to be under way.
func (s *Server) Arrived() <-chan struct{} { return s.arrived }

// watch is told how requests go.
type watch struct {
	arrive, accept, answer func(Message)
	list, listed           func(url.Values)
}

// OnArrive has f called with each create once its form was read and before
// anything comes of it. The message has no id yet. Like the other watchers f
// runs on the request's own goroutine, so that waiting in it holds the request
// up; nil ends it.
func (s *Server) OnArrive(f func(Message)) { s.set(func() { s.watch.arrive = f }) }

// OnAccept has f called once a message is on the list and before the request
// is answered.
func (s *Server) OnAccept(f func(Message)) { s.set(func() { s.watch.accept = f }) }

// OnAnswer has f called once the whole answer to a create was written. A
// message that was not accepted has no id; where the connection is cut there
// is no answer.
func (s *Server) OnAnswer(f func(Message)) { s.set(func() { s.watch.answer = f }) }

// OnList has f called with the query of each listing before it is answered.
func (s *Server) OnList(f func(url.Values)) { s.set(func() { s.watch.list = f }) }

// OnListed has f called with the query of each listing once it was answered.
func (s *Server) OnListed(f func(url.Values)) { s.set(func() { s.watch.listed = f }) }

func call[T any](f func(T), v T) {
	if f != nil {
		f(v)
	}
}

// OptOut makes the carrier refuse messages to a number from any of ours.
func (s *Server) OptOut(number string) { s.set(func() { s.optedOut[number] = true }) }

func (s *Server) create(w http.ResponseWriter, r *http.Request) {
	err := r.ParseForm()
	s.mu.Lock()
	s.posts++
	fault, watch := s.fault(&s.creates), s.watch
	s.mu.Unlock()
	select {
	case s.arrived <- struct{}{}:
	default:
	}
	m := Message{
		To:        r.PostForm.Get("To"),
		From:      r.PostForm.Get("From"),
		Body:      r.PostForm.Get("Body"),
		Direction: Outbound,
		Form:      r.PostForm,
	}
	call(watch.arrive, m)
	s.take(w, r, &m, fault, err)
	call(watch.answer, m)
}

// take decides a create and answers it. m gets its id if it was accepted.
func (s *Server) take(w http.ResponseWriter, r *http.Request, m *Message, fault *Fault, err error) {
	switch {
	case !s.authorized(r):
		refuse(w, http.StatusUnauthorized, 20003, "Authenticate")
		return
	case err != nil:
		refuse(w, http.StatusBadRequest, 20001, "Bad form")
		return
	case fault != nil && !fault.accepted:
		fault.answer(s, w, r)
		return
	}
	s.mu.Lock()
	code, text := s.check(r.PostForm)
	if code == 0 {
		*m = s.add(*m)
	}
	watch := s.watch
	s.mu.Unlock()
	if code != 0 {
		refuse(w, http.StatusBadRequest, code, text)
		return
	}
	call(watch.accept, *m)
	if fault != nil {
		// The message goes its way though the sender may never hear of it.
		s.goOn(*m)
		fault.answer(s, w, r)
		return
	}
	reply(w, http.StatusCreated, s.resource(*m))
	s.goOn(*m)
}

var e164 = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)

// known are the form fields of the carrier's published API description that
// a sender of plain texts has a use for.
var known = []string{"To", "From", "Body", "StatusCallback", "ValidityPeriod", "ContentRetention", "AddressRetention"}

// check refuses what the carrier refuses: 21211 a bad To, 21212 a bad From,
// 21606 a From that is not the account's, 21602 no body, 21617 a body over
// 1,600 characters, 21609 a bad StatusCallback, 21610 an opted-out To (the
// carrier's published error list). The caller holds mu.
func (s *Server) check(form url.Values) (int, string) {
	to, from, body := form.Get("To"), form.Get("From"), form.Get("Body")
	switch {
	case only(form, known) != "":
		return 20001, "Unknown parameter"
	case !within(form.Get("ValidityPeriod"), 1, 36000):
		return 20001, "Invalid ValidityPeriod"
	// Discarding and obfuscating have to be switched on for an account, and
	// for this one they are not.
	case !oneOf(form.Get("ContentRetention"), "", "retain"):
		return 20001, "Invalid ContentRetention"
	case !oneOf(form.Get("AddressRetention"), "", "retain"):
		return 20001, "Invalid AddressRetention"
	case !e164.MatchString(to):
		return 21211, "Invalid 'To' Phone Number: " + to
	case !e164.MatchString(from):
		return 21212, "Invalid 'From' Phone Number"
	case len(s.numbers) > 0 && !slices.Contains(s.numbers, from):
		return 21606, "The 'From' phone number provided is not a valid, SMS-capable number of your account"
	case body == "":
		return 21602, "Message body is required"
	case len(utf16.Encode([]rune(body))) > 1600:
		return 21617, "The concatenated message body exceeds the 1600 character limit"
	case form.Has("StatusCallback") && !webAddress(form.Get("StatusCallback")):
		return 21609, "Invalid 'StatusCallback' URL"
	case s.optedOut[to] || s.blocked[pair{from, to}]:
		return 21610, "Attempt to send to unsubscribed recipient " + to
	}
	return 0, ""
}

func oneOf(v string, known ...string) bool { return slices.Contains(known, v) }

// within tells whether v is empty or a whole number from low to high.
func within(v string, low, high int) bool {
	n, err := strconv.Atoi(v)
	return v == "" || err == nil && n >= low && n <= high
}

func webAddress(v string) bool {
	u, err := url.Parse(v)
	return err == nil && u.Host != "" && (u.Scheme == "https" || u.Scheme == "http")
}
