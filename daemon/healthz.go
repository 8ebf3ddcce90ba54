package daemon

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"stepgate/daemon/journal"
)

// figures are what health and monitoring show of the queue and the disk.
type figures struct {
	enrolled    int
	lanes       map[string]int // messages waiting, by the lane's label
	oldest      time.Duration  // since the oldest of them was made
	urgent      time.Duration  // the same of answers and alerts
	measured    bool           // the disk could be measured
	journal     int64
	free        uint64
	certificate time.Time // when the own certificate ends; zero: none
}

// lookAt is how many messages of a lane are looked at for the oldest. They come
// by rank, so that the urgent ones are surely among them, and within a rank the
// oldest come first.
const lookAt = 1000

func (s *Service) figures() figures {
	f := figures{lanes: map[string]int{}}
	s.mu.Lock()
	for _, l := range s.lanes {
		f.lanes[l.label()] = 0
	}
	cert := s.cert
	s.mu.Unlock()
	if cert != nil {
		f.certificate = cert.Ends()
	}
	now := s.o.Clock.Now()
	_ = s.o.Journal.View(func(tx *journal.Tx) error { // closed: nothing waits any more
		for _, name := range tx.Lanes() {
			n, _ := tx.Backlog(name)
			f.lanes[s.laneOf(name).label()] += n
			rows, err := tx.Waiting(name, now.AddDate(1, 0, 0), lookAt) // those to be tried later too
			if err != nil {
				return err
			}
			for _, row := range rows {
				age := now.Sub(row.Made)
				f.oldest = max(f.oldest, age)
				if row.Rank <= rankUrgent {
					f.urgent = max(f.urgent, age)
				}
			}
		}
		return nil
	})
	c := s.Clinic()
	if c == nil {
		return f
	}
	f.enrolled = c.Enrollments.Len()
	info, err := os.Stat(filepath.Join(c.Data, "journal.db"))
	free, ferr := diskFree(c.Data)
	if err == nil && ferr == nil {
		f.measured, f.journal, f.free = true, info.Size(), free
	}
	return f
}

// diskFree is how many bytes a user without privileges can still write where
// dir lies.
func diskFree(dir string) (uint64, error) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return 0, err
	}
	return st.Bavail * uint64(st.Bsize), nil
}

// watched is what monitoring asks: /metrics and /healthz. It names no patient,
// and is for this machine only.
func (s *Service) watched() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(s.meter.registry, promhttp.HandlerOpts{MaxRequestsInFlight: 2}))
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, r *http.Request) {
		h := s.Health()
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Cache-Control", "no-store")
		w.WriteHeader(map[bool]int{true: http.StatusOK, false: http.StatusServiceUnavailable}[h.OK])
		_ = json.NewEncoder(w).Encode(h)
	})
	return mux
}
