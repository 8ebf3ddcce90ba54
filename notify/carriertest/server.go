package carriertest

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Server is the stand-in. Make it with New and Close it.
type Server struct {
	account, token string
	run            uint64 // part of every id, so that no two servers give the same one
	mux            *http.ServeMux
	http           *httptest.Server // nil: served by somebody else, through Handler
	client         *http.Client     // posts callbacks and web hooks
	ctx            context.Context  // done once the server closes
	closing        context.CancelFunc
	work           sync.WaitGroup // deliveries under way
	arrived        chan struct{}

	mu       sync.Mutex
	closed   bool
	messages []Message
	places   map[string]int // of messages, by id
	changed  chan struct{}  // closed at the next change of the list
	creates  []Fault
	lists    []Fault
	chance   *chance
	watch    watch
	now      func() time.Time
	numbers  []string // our own; none: any
	status   string
	posts    int
	gets     int

	optedOut   map[string]bool // by person's number, whoever sends
	blocked    map[pair]bool   // by STOP
	stopWords  bool
	hook       string // public address of the web hook; empty: none
	routes     map[string]string
	delivery   Delivery
	deliveryTo map[string]Delivery
}

// New starts a stand-in for one account.
func New(account, token string) *Server {
	s := Make(account, token)
	s.http = httptest.NewServer(s.mux)
	return s
}

// Make makes a stand-in that does not listen itself: serve its Handler.
func Make(account, token string) *Server {
	s := &Server{
		account:    account,
		token:      token,
		run:        rand.Uint64(),
		mux:        http.NewServeMux(),
		client:     hookClient(),
		arrived:    make(chan struct{}, 1024),
		places:     map[string]int{},
		changed:    make(chan struct{}),
		now:        time.Now,
		status:     "queued",
		optedOut:   map[string]bool{},
		blocked:    map[pair]bool{},
		stopWords:  true,
		routes:     map[string]string{},
		deliveryTo: map[string]Delivery{},
	}
	s.ctx, s.closing = context.WithCancel(context.Background())
	path := "/2010-04-01/Accounts/" + account + "/Messages.json"
	s.mux.HandleFunc("POST "+path, s.create)
	s.mux.HandleFunc("GET "+path, s.list)
	return s
}

// URL is the base address to send API calls to.
func (s *Server) URL() string { return s.http.URL }

// Handler answers API calls.
func (s *Server) Handler() http.Handler { return s.mux }

// Close lets go of every hung request and delivery, and stops the server.
func (s *Server) Close() {
	s.mu.Lock()
	s.closed = true // no delivery begins any more
	s.mu.Unlock()
	s.closing()
	s.work.Wait()
	s.client.CloseIdleConnections()
	if s.http != nil {
		s.http.CloseClientConnections()
		s.http.Close()
	}
}

// Posts counts the create requests that arrived, whatever became of them.
func (s *Server) Posts() int { return locked(s, func() int { return s.posts }) }

// Gets counts the listings asked for, one a page.
func (s *Server) Gets() int { return locked(s, func() int { return s.gets }) }

func locked[T any](s *Server, f func() T) T {
	s.mu.Lock()
	defer s.mu.Unlock()
	return f()
}

func (s *Server) set(f func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f()
}

// SetStatus sets the status that new messages get; at first it is "queued".
func (s *Server) SetStatus(status string) { s.set(func() { s.status = status }) }

// SetClock sets the clock that messages are dated by.
func (s *Server) SetClock(now func() time.Time) { s.set(func() { s.now = now }) }

// SetNumbers tells the account's own numbers: a message from any other is
// refused (21606). At first every number is taken for one.
func (s *Server) SetNumbers(numbers ...string) {
	s.set(func() { s.numbers = slices.Clone(numbers) })
}

// chance fails requests at random.
type chance struct {
	rand        *rand.Rand
	probability float64
	faults      []Fault
}

// Faulty fails each create and each listing with this probability, by one of
// faults, or of Usual where none is given; queued faults come first. With the
// same probability a callback or a web hook comes twice. The draws are a
// sequence fixed by the seed, handed out in the order requests arrive.
// Probability 0 ends it.
func (s *Server) Faulty(seed uint64, probability float64, faults ...Fault) {
	if len(faults) == 0 {
		faults = Usual()
	}
	s.set(func() { s.chance = &chance{rand.New(rand.NewPCG(seed, seed)), probability, faults} })
}

// fault is the fault for a request: the next queued one, or a random one. The
// caller holds mu.
func (s *Server) fault(queued *[]Fault) *Fault {
	if f := pop(queued); f != nil || !s.strikes() {
		return f
	}
	return &s.chance.faults[s.chance.rand.IntN(len(s.chance.faults))]
}

// strikes draws. The caller holds mu.
func (s *Server) strikes() bool {
	return s.chance != nil && s.chance.rand.Float64() < s.chance.probability
}

func (s *Server) authorized(r *http.Request) bool {
	user, pass, ok := r.BasicAuth()
	return ok && user == s.account && pass == s.token
}

// reply writes an answer whole, so that the caller has it before the handler
// returns.
func reply(w http.ResponseWriter, status int, v any) {
	var b strings.Builder
	_ = json.NewEncoder(&b).Encode(v)
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(status)
	_, _ = w.Write([]byte(b.String()))
	_ = http.NewResponseController(w).Flush()
}

func refuse(w http.ResponseWriter, status, code int, text string) {
	reply(w, status, map[string]any{
		"code":      code,
		"message":   text,
		"more_info": "https://carrier.example/errors/" + strconv.Itoa(code),
		"status":    status,
	})
}

// only names a parameter that is not one of known, or "".
func only(form url.Values, known []string) string {
	for key := range form {
		if !slices.Contains(known, key) {
			return key
		}
	}
	return ""
}
