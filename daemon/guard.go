package daemon

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
)

// route is one documented path of what is served to the outside.
type route struct {
	path    string // one that ends in a slash takes one more segment, a token
	methods []string
	body    int64 // most bytes of a request's body
	handler http.Handler
}

// The most bytes of a body. A text of ten segments and its parameters take
// under 8 KiB, the form of a page under one; ours to choose.
const (
	hookBody = 64 << 10
	pageBody = 4 << 10
)

// maxToken is the most bytes of the last segment of a path.
const maxToken = 400

// What is worked on at a time, and how long a request waits for its turn: ours
// to choose. A request waits only once it was read whole, so a slow client
// holds up nobody.
const (
	guardSlots = 64
	guardWait  = 3 * time.Second
)

// guard stands before everything that is served to the outside. What it turns
// away gets a status and no word. It is one for all listeners.
type guard struct {
	book  *addressBook
	slots chan struct{}
	log   *slog.Logger
	count func(reason string)
	told  limitedLines
}

func newGuard(log *slog.Logger, count func(reason string)) *guard {
	return &guard{book: newAddressBook(mostAddresses), slots: make(chan struct{}, guardSlots), log: log, count: count}
}

// handler serves routes and nothing else.
func (g *guard) handler(routes []route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		from := remoteOf(r)
		leave, ok := g.book.enter(from, time.Now())
		if !ok {
			g.limited(w, from, "rate", http.StatusTooManyRequests)
			return
		}
		seen := &statusSeen{ResponseWriter: w, status: http.StatusOK}
		defer func() {
			if v := recover(); v != nil {
				if v == http.ErrAbortHandler {
					leave(false, time.Now())
					panic(v)
				}
				g.log.Error("hook.failed", "error", "panic") // what it says may be about a person
				seen.refuse(http.StatusInternalServerError)
			}
			leave(blames(seen.status), time.Now())
		}()
		g.serve(seen, r, from, routes)
	})
}

func (g *guard) serve(w *statusSeen, r *http.Request, from remote, routes []route) {
	at := slices.IndexFunc(routes, func(x route) bool { return x.takes(r.URL) })
	switch {
	case at < 0:
		g.refuse(w, "path", http.StatusNotFound)
		return
	case !slices.Contains(routes[at].methods, r.Method):
		w.Header().Set("Allow", strings.Join(routes[at].methods, ", "))
		g.refuse(w, "method", http.StatusMethodNotAllowed)
		return
	}
	if no, status := readWhole(w, r, routes[at].body); no != "" {
		g.refuse(w, no, status)
		return
	}
	inWork(r, true)
	defer inWork(r, false)
	if !g.turn(r.Context()) {
		g.limited(w, from, "busy", http.StatusServiceUnavailable)
		return
	}
	defer func() { <-g.slots }()
	routes[at].handler.ServeHTTP(w, r)
}

// turn waits for a slot, for a while.
func (g *guard) turn(ctx context.Context) bool {
	select {
	case g.slots <- struct{}{}:
		return true
	default:
	}
	wait := time.NewTimer(guardWait)
	defer wait.Stop()
	select {
	case g.slots <- struct{}{}:
		return true
	case <-wait.C:
	case <-ctx.Done():
	}
	return false
}

func (g *guard) refuse(w *statusSeen, reason string, status int) {
	g.count(reason)
	w.refuse(status)
}

// limited turns away what there is no room for, and logs it now and then.
func (g *guard) limited(w http.ResponseWriter, from remote, reason string, status int) {
	g.count(reason)
	if n := g.told.due(from.class+reason, time.Now()); n > 0 {
		g.log.Warn("hook.limited", "from", from.class, "reason", reason, "requests", n)
	}
	w.Header().Set("Retry-After", strconv.Itoa(int(guardWait/time.Second)))
	w.Header().Set("Connection", "close")
	w.WriteHeader(status)
}

// blames tells whether a status says that the request was none of those the
// service is for. An answer that comes too late, or again, is.
func blames(status int) bool {
	return status >= 400 && status < 500 && status != http.StatusConflict && status != http.StatusGone
}

// readWhole reads a body before any work begins. It returns why not, size or
// read, and the status for that.
func readWhole(w http.ResponseWriter, r *http.Request, most int64) (no string, status int) {
	if r.ContentLength > most {
		return "size", http.StatusRequestEntityTooLarge
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, most))
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		return "size", http.StatusRequestEntityTooLarge
	case err != nil:
		return "read", http.StatusBadRequest
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	return "", 0
}

// statusSeen remembers the status that was answered.
type statusSeen struct {
	http.ResponseWriter
	status int
	wrote  bool
}

func (s *statusSeen) WriteHeader(status int) {
	if !s.wrote {
		s.status, s.wrote = status, true
	}
	s.ResponseWriter.WriteHeader(status)
}

func (s *statusSeen) Write(p []byte) (int, error) {
	s.wrote = true
	return s.ResponseWriter.Write(p)
}

// refuse answers a status without a word, and ends the connection.
func (s *statusSeen) refuse(status int) {
	if s.wrote {
		return
	}
	s.Header().Set("Connection", "close")
	s.WriteHeader(status)
}

// guarded is the server of one address to the outside, hardened against slow
// clients.
func guarded(h http.Handler) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 15 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
		ErrorLog:    slog.NewLogLogger(slog.DiscardHandler, slog.LevelError), // its lines name addresses
		ConnContext: func(ctx context.Context, c net.Conn) context.Context { return withDoor(ctx, c) },
	}
}
