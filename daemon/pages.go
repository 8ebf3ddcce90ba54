package daemon

import (
	"net"
	"net/http"
	"strings"
	"sync"

	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/daemon/report"
	"stepgate/templates"
)

// pages shows the reports to a browser on this machine: / is the clinic's page
// and /patients/ID a patient's. They can only be read. Whoever can open a
// connection here sees them, so the listener is on a loopback address, and a
// request that names another host is turned away: it may come from a page of
// somebody else's whose name was pointed here.
func (s *Service) pages() http.Handler {
	p := &pageDoor{s: s}
	mux := http.NewServeMux()
	mux.HandleFunc("/{$}", p.clinic)
	mux.HandleFunc("/patients/{id}", p.patient)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", templates.ReportPolicy()+"; frame-ancestors 'none'")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		switch {
		case !thisMachine(r.Host):
			http.Error(w, "This address is not served under that name.", http.StatusMisdirectedRequest)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			h.Set("Allow", "GET, HEAD")
			http.Error(w, "These pages can only be read.", http.StatusMethodNotAllowed)
		default:
			mux.ServeHTTP(w, r)
		}
	})
}

// thisMachine tells whether the host of a request, with a port or without, is a
// loopback address or name.
func thisMachine(host string) bool {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
	if ip := net.ParseIP(host); ip != nil {
		return ip.IsLoopback()
	}
	return strings.EqualFold(host, "localhost")
}

// pageDoor makes the pages. The clinic's page reads every day of everybody, so
// one is made at a time.
type pageDoor struct {
	s  *Service
	mu sync.Mutex
}

// view is the service as it stands.
func (p *pageDoor) view() caseload.View {
	return caseload.View{Clinic: p.s.Clinic(), Words: p.s.o.Words, Now: p.s.o.Clock.Now(), Quick: p.s.o.Made}
}

func (p *pageDoor) clinic(w http.ResponseWriter, _ *http.Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	c, err := report.AtOnce(p.s.o.Journal.View, p.view())
	if err != nil {
		p.failed(w, err)
		return
	}
	p.show(w, c.Page(p.s.o.Words, true))
}

func (p *pageDoor) patient(w http.ResponseWriter, r *http.Request) {
	lang := r.URL.Query().Get("lang")
	if lang == "" {
		lang = "en"
	}
	if !p.s.o.Words.Reports(lang) {
		http.Error(w, "There are no words for reports in that language.", http.StatusNotFound)
		return
	}
	var found *templates.PatientReport
	err := p.s.o.Journal.View(func(tx *journal.Tx) (err error) {
		found, err = report.Patient(tx, p.view(), r.PathValue("id"), lang)
		return err
	})
	switch {
	case err != nil:
		p.failed(w, err)
	case found == nil:
		http.Error(w, "Nobody is enrolled under that id.", http.StatusNotFound)
	default:
		p.show(w, p.s.o.Words.PatientReport(*found, "/"))
	}
}

func (p *pageDoor) show(w http.ResponseWriter, page []byte) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(page)
}

func (p *pageDoor) failed(w http.ResponseWriter, err error) {
	p.s.o.Log.Error("journal.failed", "doing", "a report page", "error", safeError(err))
	http.Error(w, "The record could not be read; the log says why.", http.StatusInternalServerError)
}
