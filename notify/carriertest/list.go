package carriertest

import (
	"net/http"
	"net/url"
	"strconv"
)

// list shows the accepted messages, newest first, page by page, filtered by
// To and From.
func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	s.gets++
	fault := pop(&s.lists)
	s.mu.Unlock()
	switch {
	case !s.authorized(r):
		refuse(w, http.StatusUnauthorized, 20003, "Authenticate")
		return
	case fault != nil:
		fault.answer(s, w, r)
		return
	}
	q := r.URL.Query()
	size, page := 50, 0
	if v := q.Get("PageSize"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil || n < 1 || n > 1000 {
			refuse(w, http.StatusBadRequest, 20001, "Invalid PageSize")
			return
		}
		size = n
	}
	if v := q.Get("Page"); v != "" {
		n, err := strconv.Atoi(v)
		if err != nil || n < 0 || q.Get("PageToken") != "PA"+v {
			refuse(w, http.StatusBadRequest, 20001, "Invalid Page")
			return
		}
		page = n
	}
	s.respond(w, r, s.matching(q), page, size)
}

func (s *Server) matching(q url.Values) []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []Message
	for i := len(s.messages) - 1; i >= 0; i-- {
		m := s.messages[i]
		if to := q.Get("To"); to != "" && to != m.To {
			continue
		}
		if from := q.Get("From"); from != "" && from != m.From {
			continue
		}
		out = append(out, m)
	}
	return out
}

func (s *Server) respond(w http.ResponseWriter, r *http.Request, all []Message, page, size int) {
	from := min(page*size, len(all))
	to := min(from+size, len(all))
	shown := []any{}
	for _, m := range all[from:to] {
		shown = append(shown, s.resource(m))
	}
	var next any
	if to < len(all) {
		q := r.URL.Query()
		q.Set("Page", strconv.Itoa(page+1))
		q.Set("PageToken", "PA"+strconv.Itoa(page+1))
		q.Set("PageSize", strconv.Itoa(size))
		next = r.URL.Path + "?" + q.Encode()
	}
	reply(w, http.StatusOK, map[string]any{
		"messages":      shown,
		"page":          page,
		"page_size":     size,
		"next_page_uri": next,
		"uri":           r.URL.RequestURI(),
	})
}
