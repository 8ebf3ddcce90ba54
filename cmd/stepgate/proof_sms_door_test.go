//go:build proof

package main

import (
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"time"
)

// cut ends a request without an answer.
func cut() { panic(http.ErrAbortHandler) }

// door is where requests come to the carrier.
func (x *morning) door(w http.ResponseWriter, r *http.Request) {
	x.calls.Add(1)
	defer x.calls.Done()
	seen := &answer{ResponseWriter: w}
	good := false
	defer func() {
		x.mu.Lock()
		defer x.mu.Unlock()
		if !good || seen.status >= http.StatusMultipleChoices {
			x.faults++
		} else if m := newSID.FindStringSubmatch(seen.body.String()); m != nil {
			x.whole[m[1]] = true
		}
	}()
	if r.Method == http.MethodPost {
		if x.at(atMark, 0) {
			cut()
		}
		if x.faulty.Load() && x.rnd.n(40) == 0 {
			x.takeLate(r)
			cut()
		}
	}
	x.carrier.Handler().ServeHTTP(seen, r)
	good = true
}

var newSID = regexp.MustCompile(`"sid":"(SM[0-9a-f]{32})"`)

// latest is how long after the connection was lost the carrier takes a text at
// most: the service looks a second time a second after the first. One that a
// busy machine holds up longer is not taken at all.
const latest = 600 * time.Millisecond

// takeLate has the carrier take a text though the connection is lost now.
func (x *morning) takeLate(r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		cut()
	}
	again := r.Clone(x.t.Context())
	again.Body = io.NopCloser(bytes.NewReader(body))
	lost := time.Now()
	x.late.Go(func() {
		defer func() {
			if v := recover(); v != nil && v != http.ErrAbortHandler {
				panic(v)
			}
		}()
		<-time.After(x.rnd.within(latest / 2))
		if time.Since(lost) < latest {
			x.carrier.Handler().ServeHTTP(httptest.NewRecorder(), again)
		}
	})
}

// answer remembers what the carrier answered.
type answer struct {
	http.ResponseWriter
	status int
	body   bytes.Buffer
}

func (a *answer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

func (a *answer) WriteHeader(status int) {
	a.status = status
	a.ResponseWriter.WriteHeader(status)
}

func (a *answer) Write(p []byte) (int, error) {
	if a.status == http.StatusCreated {
		a.body.Write(p)
	}
	return a.ResponseWriter.Write(p)
}

// passOn takes what the carrier posts to the service's web hook.
func (x *morning) passOn(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		cut()
	}
	reply := !strings.HasSuffix(r.URL.Path, "/status")
	if reply {
		go x.at(atPost, outcomeTime) // the post is under way meanwhile
	}
	req, err := http.NewRequestWithContext(r.Context(), r.Method, "http://"+*x.listens.Load()+r.URL.Path, bytes.NewReader(body))
	if err != nil {
		cut()
	}
	for _, name := range []string{"Content-Type", "X-Twilio-Signature"} {
		req.Header.Set(name, r.Header.Get(name))
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		cut() // nobody listens, or it died over it
	}
	defer res.Body.Close()
	if reply && res.StatusCode == http.StatusOK {
		form, _ := url.ParseQuery(string(body))
		x.mu.Lock()
		x.hooked[form.Get("MessageSid")]++
		x.mu.Unlock()
		if x.at(atTaken, 0) {
			cut()
		}
	}
	w.WriteHeader(res.StatusCode)
	_, _ = io.Copy(w, res.Body)
}
