package carriertest

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
)

// asked are the parameters of a listing in the carrier's published API. What
// follows DateSent is part of the name: DateSent>=2026-11-03 asks for that
// day and later ones.
var asked = []string{"To", "From", "DateSent", "DateSent<", "DateSent>", "PageSize", "Page", "PageToken"}

// list shows the messages, newest first, page by page, filtered.
func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	s.gets++
	fault, watch := s.fault(&s.lists), s.watch
	s.mu.Unlock()
	q := r.URL.Query()
	call(watch.list, q)
	switch {
	case !s.authorized(r):
		refuse(w, http.StatusUnauthorized, 20003, "Authenticate")
	case fault != nil:
		fault.answer(s, w, r)
	default:
		f, err := readFilter(q)
		if err != nil {
			refuse(w, http.StatusBadRequest, 20001, err.Error())
			break
		}
		s.respond(w, r, s.matching(f), f)
	}
	call(watch.listed, q)
}

// filter is what a listing asks for.
type filter struct {
	to, from      string
	since, before time.Time // of date_sent; from since on, and earlier than before
	size, page    int
	last          string // the id that the page before ended with; empty: the first page
}

func readFilter(q url.Values) (filter, error) {
	f := filter{to: q.Get("To"), from: q.Get("From"), size: 50}
	switch {
	case only(q, asked) != "":
		return f, errors.New("unknown parameter " + only(q, asked))
	case q.Has("To") && !e164.MatchString(f.to):
		return f, errors.New("invalid To")
	case q.Has("From") && !e164.MatchString(f.from):
		return f, errors.New("invalid From")
	case q.Has("PageSize") && (q.Get("PageSize") == "" || !within(q.Get("PageSize"), 1, 1000)):
		return f, errors.New("invalid PageSize")
	}
	if v := q.Get("PageSize"); v != "" {
		f.size, _ = strconv.Atoi(v)
	}
	if v := q.Get("Page"); v != "" {
		n, err := strconv.Atoi(v)
		last, ok := strings.CutPrefix(q.Get("PageToken"), "PA")
		if err != nil || n < 0 || n > 0 && !ok {
			return f, errors.New("invalid Page")
		}
		f.page, f.last = n, last
	}
	return f, f.readDates(q)
}

// readDates reads the filters on date_sent. Each takes a day, in GMT, or a
// time to the second; both ends are part of what is asked for (the API
// description's <= and >=). That a time is looked at to the second is from
// memory: the description knows days only, which show more, never less.
func (f *filter) readDates(q url.Values) error {
	for _, name := range []string{"DateSent", "DateSent<", "DateSent>"} {
		if !q.Has(name) {
			continue
		}
		v := q.Get(name)
		begin, err := time.Parse(time.DateOnly, v)
		end := begin.AddDate(0, 0, 1)
		if err != nil {
			if begin, err = time.Parse(time.RFC3339, v); err != nil {
				return errors.New("Invalid " + name)
			}
			begin = begin.Truncate(time.Second)
			end = begin.Add(time.Second)
			if name == "DateSent" { // the day it falls on
				begin = begin.UTC().Truncate(24 * time.Hour)
				end = begin.AddDate(0, 0, 1)
			}
		}
		if name != "DateSent<" && begin.After(f.since) {
			f.since = begin
		}
		if name != "DateSent>" && (f.before.IsZero() || end.Before(f.before)) {
			f.before = end
		}
	}
	return nil
}

func (f filter) shows(m Message) bool {
	if f.to != "" && f.to != m.To || f.from != "" && f.from != m.From {
		return false
	}
	if f.since.IsZero() && f.before.IsZero() {
		return true
	}
	// A message not sent yet has no date that could be in range.
	sent := m.Sent.Truncate(time.Second)
	return !m.Sent.IsZero() && !sent.Before(f.since) && (f.before.IsZero() || sent.Before(f.before))
}

// matching are the messages of a page and all pages after it. Pages hang on
// the last message shown, so that one which comes meanwhile moves none.
func (s *Server) matching(f filter) []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	end := len(s.messages)
	if f.last != "" {
		end = max(s.index(f.last), 0)
	}
	var out []Message
	for _, m := range slices.Backward(s.messages[:end]) {
		if f.shows(m) {
			out = append(out, m)
		}
	}
	return out
}

func (s *Server) respond(w http.ResponseWriter, r *http.Request, rest []Message, f filter) {
	shown := []any{}
	for _, m := range rest[:min(f.size, len(rest))] {
		shown = append(shown, s.resource(m))
	}
	var next any
	if len(rest) > f.size {
		q := r.URL.Query()
		q.Set("Page", strconv.Itoa(f.page+1))
		q.Set("PageToken", "PA"+rest[f.size-1].SID)
		q.Set("PageSize", strconv.Itoa(f.size))
		next = r.URL.Path + "?" + q.Encode()
	}
	reply(w, http.StatusOK, map[string]any{
		"messages":      shown,
		"page":          f.page,
		"page_size":     f.size,
		"next_page_uri": next,
		"uri":           r.URL.RequestURI(),
	})
}
