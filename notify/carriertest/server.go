package carriertest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"sync"
	"time"
	"unicode/utf16"
)

// Message is one message that the carrier accepted.
type Message struct {
	SID     string
	To      string
	From    string
	Body    string
	Status  string
	Created time.Time
	Form    url.Values // all that was posted
}

// Server is the stand-in. Make it with New and Close it.
type Server struct {
	account, token string
	http           *httptest.Server
	closing        chan struct{}

	mu       sync.Mutex
	messages []Message
	creates  []Fault
	lists    []Fault
	optedOut map[string]bool
	status   string
	posts    int
	gets     int
	arrived  chan struct{}
}

// New starts a stand-in for one account.
func New(account, token string) *Server {
	s := &Server{
		account:  account,
		token:    token,
		closing:  make(chan struct{}),
		optedOut: map[string]bool{},
		status:   "queued",
		arrived:  make(chan struct{}, 1024),
	}
	mux := http.NewServeMux()
	path := "/2010-04-01/Accounts/" + account + "/Messages.json"
	mux.HandleFunc("POST "+path, s.create)
	mux.HandleFunc("GET "+path, s.list)
	s.http = httptest.NewServer(mux)
	return s
}

// URL is the base address to send API calls to.
func (s *Server) URL() string { return s.http.URL }

// Close lets go of every hung request and stops the server.
func (s *Server) Close() {
	close(s.closing)
	s.http.CloseClientConnections()
	s.http.Close()
}

// Messages are those accepted so far, oldest first.
func (s *Server) Messages() []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.messages)
}

// Posts counts the create requests that arrived, whatever became of them.
func (s *Server) Posts() int { return s.count(&s.posts) }

// Gets counts the listings asked for, one a page.
func (s *Server) Gets() int { return s.count(&s.gets) }

func (s *Server) count(n *int) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return *n
}

// Arrived gets a value for each create request once its form was read, so
// that a test can wait for one to be under way.
func (s *Server) Arrived() <-chan struct{} { return s.arrived }

// OptOut makes the carrier refuse messages to a number, as after STOP.
func (s *Server) OptOut(number string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.optedOut[number] = true
}

// SetStatus sets the status that new messages get; at first it is "queued".
func (s *Server) SetStatus(status string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.status = status
}

// Add puts a message on the carrier's list as if another request had made it.
func (s *Server) Add(m Message) Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.add(m)
}

func (s *Server) add(m Message) Message {
	m.SID = fmt.Sprintf("SM%032x", len(s.messages)+1)
	if m.Created.IsZero() {
		m.Created = time.Now()
	}
	if m.Status == "" {
		m.Status = s.status
	}
	s.messages = append(s.messages, m)
	return m
}

func (s *Server) create(w http.ResponseWriter, r *http.Request) {
	err := r.ParseForm()
	s.mu.Lock()
	s.posts++
	fault := pop(&s.creates)
	s.mu.Unlock()
	select {
	case s.arrived <- struct{}{}:
	default:
	}
	switch {
	case !s.authorized(r):
		refuse(w, http.StatusUnauthorized, 20003, "Authenticate")
		return
	case err != nil:
		refuse(w, http.StatusBadRequest, 20001, "Bad form")
		return
	}
	if fault != nil && !fault.accepted {
		fault.answer(s, w, r)
		return
	}
	if code, text := s.check(r.PostForm); code != 0 {
		refuse(w, http.StatusBadRequest, code, text)
		return
	}
	s.mu.Lock()
	m := s.add(Message{
		To:   r.PostForm.Get("To"),
		From: r.PostForm.Get("From"),
		Body: r.PostForm.Get("Body"),
		Form: r.PostForm,
	})
	s.mu.Unlock()
	if fault != nil {
		fault.answer(s, w, r)
		return
	}
	reply(w, http.StatusCreated, s.resource(m))
}

var e164 = regexp.MustCompile(`^\+[1-9][0-9]{6,14}$`)

// known are the form fields of the carrier's published API description that
// a sender of plain texts has a use for.
var known = []string{"To", "From", "Body", "StatusCallback", "ValidityPeriod"}

// check refuses what the carrier refuses: 21211 a bad To, 21212 a bad From,
// 21602 no body, 21617 a body over 1,600 characters, 21610 an opted-out To
// (the carrier's published error list).
func (s *Server) check(form url.Values) (int, string) {
	for key := range form {
		if !slices.Contains(known, key) {
			return 20001, "Unknown parameter"
		}
	}
	if v := form.Get("ValidityPeriod"); v != "" {
		if n, err := strconv.Atoi(v); err != nil || n < 1 || n > 36000 {
			return 20001, "Invalid ValidityPeriod"
		}
	}
	s.mu.Lock()
	out := s.optedOut[form.Get("To")]
	s.mu.Unlock()
	switch body := form.Get("Body"); {
	case !e164.MatchString(form.Get("To")):
		return 21211, "Invalid 'To' Phone Number: " + form.Get("To")
	case !e164.MatchString(form.Get("From")):
		return 21212, "Invalid 'From' Phone Number"
	case body == "":
		return 21602, "Message body is required"
	case len(utf16.Encode([]rune(body))) > 1600:
		return 21617, "The concatenated message body exceeds the 1600 character limit"
	case out:
		return 21610, "Attempt to send to unsubscribed recipient " + form.Get("To")
	}
	return 0, ""
}

func (s *Server) authorized(r *http.Request) bool {
	user, pass, ok := r.BasicAuth()
	return ok && user == s.account && pass == s.token
}

// resource is a message as the API shows it. Dates are RFC 2822, and a
// message that was not sent yet has none sent.
func (s *Server) resource(m Message) map[string]any {
	return map[string]any{
		"sid":          m.SID,
		"account_sid":  s.account,
		"to":           m.To,
		"from":         m.From,
		"body":         m.Body,
		"status":       m.Status,
		"direction":    "outbound-api",
		"date_created": m.Created.UTC().Format(time.RFC1123Z),
		"date_sent":    nil,
		"error_code":   nil,
		"num_segments": "1",
		"api_version":  "2010-04-01",
	}
}

func reply(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(v)
}

func refuse(w http.ResponseWriter, status, code int, text string) {
	reply(w, status, map[string]any{
		"code":      code,
		"message":   text,
		"more_info": "https://carrier.example/errors/" + strconv.Itoa(code),
		"status":    status,
	})
}
