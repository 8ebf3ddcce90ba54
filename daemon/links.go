package daemon

import (
	"context"
	"crypto/hmac"
	"encoding/base64"
	"errors"
	"io"
	"net/http"
	"strconv"
	"strings"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// Where the pages lie below the public address.
const (
	linkPath  = "/r/" // a patient's answer
	stopPath  = "/u/" // the end of messages, by one click of a mail reader
	alertPath = "/a/" // a clinician's answer to alerts
)

// link is what a patient's link says: who, of which local date, what.
type link struct {
	id   string
	date rules.Date
	what string // d, s, n, p0 to p10, f0 to f10, or stop
}

// linkFor is how long a link is good for, in dates after its own. One that
// ends messages is good for ever.
const linkFor = 1

// linkToken signs a link: what it says and 128 bits of a keyed hash of it.
func linkToken(tx *journal.Tx, l link) string {
	said := l.what + "|" + l.date.String() + "|" + l.id
	mac := tx.ContactHash("patient link\x00" + said)
	enc := base64.RawURLEncoding
	return enc.EncodeToString([]byte(said)) + "." + enc.EncodeToString(mac[:16])
}

var errLink = errors.New("no link of ours")

// readLink reads a token, and refuses one that was not signed here.
func readLink(tx *journal.Tx, token string) (link, error) {
	said, _, ok := strings.Cut(token, ".")
	b, err := base64.RawURLEncoding.DecodeString(said)
	if !ok || err != nil || len(token) > 400 {
		return link{}, errLink
	}
	parts := strings.SplitN(string(b), "|", 3)
	if len(parts) != 3 {
		return link{}, errLink
	}
	d, err := rules.ParseDate(parts[1])
	l := link{id: parts[2], date: d, what: parts[0]}
	if err != nil || !hmac.Equal([]byte(linkToken(tx, l)), []byte(token)) {
		return link{}, errLink
	}
	return l, nil
}

// dayLinks are the links in a patient's mail of a date, where there are pages.
func (w *work) dayLinks(e *config.Enrollment, to config.Address, d rules.Date, firstStep bool) *templates.DayLinks {
	web := w.r.clinic.Web
	if web == nil || to.Channel != "email" || w.s.o.Made {
		return nil
	}
	at := func(path, what string) string { return web.Public + path + linkToken(w.tx, link{e.ID, d, what}) }
	l := &templates.DayLinks{Done: at(linkPath, "d"), Some: at(linkPath, "s"), None: at(linkPath, "n"), Stop: at(stopPath, "stop"), First: firstStep}
	letter := "p"
	if firstStep {
		letter = "f"
	}
	for n := range l.Pain {
		l.Pain[n] = at(linkPath, letter+strconv.Itoa(n))
	}
	return l
}

// Pages are the pages that links in mails lead to. Opening one changes
// nothing; it asks, and a POST records.
func (s *Service) Pages() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+linkPath+"{token}", s.linkPage)
	mux.HandleFunc("POST "+linkPath+"{token}", s.linkPost)
	mux.HandleFunc("GET "+stopPath+"{token}", s.linkPage)
	mux.HandleFunc("POST "+stopPath+"{token}", s.linkPost)
	mux.HandleFunc("GET "+alertPath+"{token}", s.alertPage)
	mux.HandleFunc("POST "+alertPath+"{token}", s.alertPost)
	return mux
}

// page writes a page that no one keeps, frames or sends further.
func page(w http.ResponseWriter, status int, html []byte) {
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
	w.WriteHeader(status)
	_, _ = w.Write(html)
}

// looking runs fn over the journal as it is now.
func (s *Service) looking(fn func(*work) error) error {
	return s.o.Journal.View(func(tx *journal.Tx) error {
		return fn(&work{s: s, tx: tx, r: s.roster.Load(), now: s.o.Clock.Now()})
	})
}

// follow finds out what a link is good for now: its state as the page says it,
// and the enrollment.
func (w *work) follow(token string) (link, *config.Enrollment, string) {
	l, err := readLink(w.tx, token)
	if err != nil || w.r.clinic == nil {
		return link{}, nil, "bad"
	}
	e := w.r.enrolled(l.id)
	if e == nil {
		return l, nil, "bad"
	}
	switch d := today(w.now, e); {
	case l.what != "stop" && (d < l.date || d > l.date+linkFor):
		return l, e, "expired"
	case w.linkUsed(token):
		return l, e, "used"
	}
	return l, e, "ask"
}

func (w *work) linkUsed(token string) bool {
	_, seen := w.tx.Seen(linkChannel, token)
	return seen
}

// linkChannel is the channel that answers by link are kept under.
const linkChannel = "link"

// pageFor is a page about a link, in the patient's language.
func (w *work) pageFor(l link, e *config.Enrollment, state, action string) templates.LinkPage {
	c := w.r.clinic
	p := templates.LinkPage{State: state, Action: action}
	if c != nil {
		p.Language, p.Clinic, p.Phone, p.Emergency = c.Language, c.Name, c.Phone, c.Emergency
	}
	if e != nil {
		p.Language = e.Language
	}
	switch {
	case l.what == "d":
		p.What = "done"
	case l.what == "s":
		p.What = "some"
	case l.what == "n":
		p.What = "none"
	case l.what == "stop":
		p.What = "stop"
	case strings.HasPrefix(l.what, "p"), strings.HasPrefix(l.what, "f"):
		p.What = map[byte]string{'p': "pain", 'f': "first step"}[l.what[0]]
		if n, err := strconv.Atoi(l.what[1:]); err == nil {
			p.Score = &n
		}
	}
	return p
}

var linkStatus = map[string]int{"ask": http.StatusOK, "thanks": http.StatusOK, "used": http.StatusConflict,
	"expired": http.StatusGone, "bad": http.StatusNotFound}

func (s *Service) linkPage(rw http.ResponseWriter, r *http.Request) {
	var p templates.LinkPage
	err := s.looking(func(w *work) error {
		l, e, state := w.follow(r.PathValue("token"))
		p = w.pageFor(l, e, state, r.PathValue("token"))
		return nil
	})
	if err != nil {
		http.Error(rw, "", http.StatusServiceUnavailable)
		return
	}
	page(rw, linkStatus[p.State], s.o.Words.LinkPage(p))
}

// linkPost records an answer by link as if it had come by mail. A mail
// reader's one click has List-Unsubscribe=One-Click in its body (RFC 8058) and
// is taken the same way.
func (s *Service) linkPost(rw http.ResponseWriter, r *http.Request) {
	_, _ = io.Copy(io.Discard, http.MaxBytesReader(rw, r.Body, 4<<10))
	token := r.PathValue("token")
	var l link
	var e *config.Enrollment
	var p templates.LinkPage
	err := s.looking(func(w *work) error {
		var state string
		l, e, state = w.follow(token)
		p = w.pageFor(l, e, state, r.PathValue("token"))
		return nil
	})
	if err == nil && p.State == "ask" {
		text := strings.ToUpper(l.what)
		err = s.takeLink(r.Context(), e, token, text)
		p.State, p.Action = "thanks", ""
		p.Answer = s.answerTo(linkChannel, token)
	}
	if err != nil {
		http.Error(rw, "", http.StatusServiceUnavailable)
		return
	}
	page(rw, linkStatus[p.State], s.o.Words.LinkPage(p))
}

// takeLink commits an answer by link. Its id is the link, so that it counts
// once.
func (s *Service) takeLink(ctx context.Context, e *config.Enrollment, token, text string) error {
	in := notify.Incoming{ID: token, From: e.Contacts()[len(e.Contacts())-1], Text: text, At: s.o.Clock.Now()}
	if err := s.commit(ctx, s.roster.Load(), func(w *work) error { return w.hear(e, linkChannel, "email", in, nil) }); err != nil {
		s.o.Log.ErrorContext(ctx, "in.failed", "channel", linkChannel, "error", safeError(err))
		return err
	}
	s.kick()
	return nil
}

// answerTo is the text that answers an incoming message, line by line.
func (s *Service) answerTo(channel, id string) (lines []string) {
	_ = s.looking(func(w *work) error { // the mail says it too
		row, err := w.tx.Row(answerKey(channel, id))
		if err == nil && row != nil {
			lines = strings.Split(strings.TrimSpace(row.Text), "\n")
		}
		return err
	})
	return lines
}

// alertPage shows the alerts of a mail with what can be done about each.
func (s *Service) alertPage(rw http.ResponseWriter, r *http.Request) {
	p, _, err := s.alertsByLink(r)
	if err != nil {
		http.Error(rw, "", http.StatusServiceUnavailable)
		return
	}
	page(rw, map[bool]int{true: http.StatusOK, false: http.StatusNotFound}[p.State == "ask"], s.o.Words.AlertPage(p))
}

func (s *Service) alertsByLink(r *http.Request) (templates.AlertPage, *answered, error) {
	p := templates.AlertPage{State: "bad", Action: r.PathValue("token")}
	var to *answered
	err := s.looking(func(w *work) (err error) {
		if w.r.clinic == nil {
			return nil
		}
		p.Clinic = words(w.r.clinic)
		to, err = w.answers("link", notify.Incoming{Subject: r.PathValue("token")})
		return err
	})
	if err != nil || to == nil {
		return p, nil, err
	}
	p.State = "ask"
	for i, row := range to.rows {
		p.Items = append(p.Items, templates.AlertPageItem{Number: i + 1, AlertData: to.data[i], Done: !row.Acked.IsZero()})
	}
	return p, to, nil
}

// alertPost does what a clinician chose on the page.
func (s *Service) alertPost(rw http.ResponseWriter, r *http.Request) {
	p, to, err := s.alertsByLink(r)
	if err == nil && to != nil {
		r.Body = http.MaxBytesReader(rw, r.Body, 4<<10)
		if err := r.ParseForm(); err != nil {
			http.Error(rw, "", http.StatusBadRequest)
			return
		}
		var c command
		var ok bool
		if c, ok = formCommand(r, len(to.rows), rules.DateOf(s.o.Clock.Now().In(s.Clinic().Zone))); !ok {
			page(rw, http.StatusBadRequest, s.o.Words.AlertPage(p))
			return
		}
		lines, acks := s.obey(r.Context(), to, []command{c}, "clinician, by link", "")
		err = s.commit(r.Context(), s.roster.Load(), func(w *work) error { return w.ack(acks, "link") })
		p, _, _ = s.alertsByLink(r)
		p.State, p.Lines = "done", lines
	}
	if err != nil {
		http.Error(rw, "", http.StatusServiceUnavailable)
		return
	}
	page(rw, map[bool]int{true: http.StatusOK, false: http.StatusNotFound}[to != nil], s.o.Words.AlertPage(p))
}

// formCommand reads the form of one alert: its number, what to do, and a date
// for a hold that has an end.
func formCommand(r *http.Request, n int, today rules.Date) (command, bool) {
	number, err := strconv.Atoi(r.PostForm.Get("number"))
	c := command{number: number, do: r.PostForm.Get("do")}
	if err != nil || number < 1 || number > n {
		return c, false
	}
	if until := r.PostForm.Get("until"); until != "" && c.do == "hold" {
		if c.until, err = readDay(until, today); err != nil {
			return c, false
		}
	}
	return c, true
}
