package main

import (
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"
	"unicode/utf16"

	"stepgate/notify/carriertest"
)

// phones lend a phone to each number:
//
//	GET /phone/{number}?after=N   the texts to and from it that came after the
//	                              one with id N, as an array of text; it waits
//	                              for one, at most `wait` (25s)
//	POST /phone/{number}          sends {to, text}, as JSON or as a form; without
//	                              to it goes to who texted this phone last, or
//	                              to the account's first number
type phones struct {
	carrier *carriertest.Server
	numbers []string
	dead    []string // nothing reaches these
}

// text is one text on a phone. Ids rise, with gaps.
type text struct {
	ID   int       `json:"id"`
	At   time.Time `json:"at"`
	From string    `json:"from"`
	To   string    `json:"to"`
	Text string    `json:"text"`
}

// maxWait is the longest that a phone waits for a text in one request.
const maxWait = 25 * time.Second

func newPhones(carrier *carriertest.Server, numbers, dead []string) *phones {
	return &phones{carrier, numbers, dead}
}

func (p *phones) register(mux *http.ServeMux) {
	mux.HandleFunc("GET /phone/{number}", p.get)
	mux.HandleFunc("POST /phone/{number}", p.post)
}

// on are the texts on a phone after an id.
func (p *phones) on(number string, after int) []text {
	texts := []text{}
	for i, m := range p.carrier.All() {
		reached := m.To == number && m.Direction != carriertest.Incoming && !slices.Contains(p.dead, number)
		said := m.From == number && m.Direction == carriertest.Incoming
		if i+1 > after && (reached || said) {
			texts = append(texts, text{i + 1, m.Created.UTC(), m.From, m.To, m.Body})
		}
	}
	return texts
}

func (p *phones) get(w http.ResponseWriter, r *http.Request) {
	number, q := r.PathValue("number"), r.URL.Query()
	after, wait, err := readGet(q)
	if err == nil && !e164.MatchString(number) {
		err = errNumber
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	late := time.NewTimer(wait)
	defer late.Stop()
	for {
		changed := p.carrier.Changed()
		texts := p.on(number, after)
		if len(texts) > 0 || wait == 0 {
			answer(w, http.StatusOK, texts)
			return
		}
		select {
		case <-changed:
		case <-late.C:
			wait = 0
		case <-r.Context().Done():
			return
		}
	}
}

var (
	errNumber = errors.New("a phone number is written like +15035550120")
	errAfter  = errors.New("after wants the id of a text, and wait a time such as 10s")
	errTo     = errors.New("say which number the text goes to")
	errText   = errors.New("a text has 1 to 1600 characters")
)

func readGet(q url.Values) (after int, wait time.Duration, err error) {
	wait = maxWait
	if v := q.Get("after"); v != "" {
		if after, err = strconv.Atoi(v); err != nil || after < 0 {
			return 0, 0, errAfter
		}
	}
	if v := q.Get("wait"); v != "" {
		if wait, err = time.ParseDuration(v); err != nil || wait < 0 {
			return 0, 0, errAfter
		}
	}
	return after, min(wait, maxWait), nil
}

func (p *phones) post(w http.ResponseWriter, r *http.Request) {
	number := r.PathValue("number")
	to, body, err := readPost(http.MaxBytesReader(w, r.Body, 16<<10), r)
	if to == "" {
		to = p.correspondent(number)
	}
	switch {
	case err != nil:
	case !e164.MatchString(number) || to != "" && !e164.MatchString(to):
		err = errNumber
	case to == "":
		err = errTo
	case body == "" || len(utf16.Encode([]rune(body))) > 1600:
		err = errText
	}
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	m := p.carrier.Receive(number, to, body)
	answer(w, http.StatusCreated, map[string]string{"to": m.To, "text": m.Body})
}

// readPost reads a text as JSON or as a form.
func readPost(body io.ReadCloser, r *http.Request) (to, text string, err error) {
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind == "application/json" {
		var in struct{ To, Text string }
		if err := json.NewDecoder(body).Decode(&in); err != nil {
			return "", "", errors.New("the body is not JSON with to and text")
		}
		return in.To, in.Text, nil
	}
	r.Body = body
	if err := r.ParseForm(); err != nil {
		return "", "", errors.New("the body is not a form with to and text")
	}
	return r.PostForm.Get("to"), r.PostForm.Get("text"), nil
}

// correspondent is whom a text without a number to it goes to.
func (p *phones) correspondent(number string) string {
	for _, t := range slices.Backward(p.on(number, 0)) {
		if t.To == number {
			return t.From
		}
	}
	if len(p.numbers) > 0 {
		return p.numbers[0]
	}
	return ""
}

func answer(w http.ResponseWriter, status int, v any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(v)
}
