package daemon

import (
	"maps"
	"slices"
	"time"

	"stepgate/daemon/journal"
)

// Health is how the service is doing. It names no patient.
type Health struct {
	OK       bool      `json:"ok"`
	Now      time.Time `json:"now"`
	Started  time.Time `json:"started"`
	Quick    bool      `json:"quick"` // a made-up calendar
	LastTick time.Time `json:"last_tick,omitzero"`
	Problems []string  `json:"problems"` // in words, worst first; files that were refused among them
}

// tickLate is how long after a tick the next is missed.
const tickLate = 3 * time.Minute

func (s *Service) ticked() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lastTick, s.tickedAt = s.o.Clock.Now(), time.Now()
}

// Health reports how the service is doing.
func (s *Service) Health() Health {
	s.mu.Lock()
	h := Health{Now: s.o.Clock.Now(), Started: s.started, Quick: s.o.Made, LastTick: s.lastTick, Problems: []string{}}
	late := !s.tickedAt.IsZero() && time.Since(s.tickedAt) > tickLate
	bad, troubles := s.bad, slices.Sorted(maps.Values(s.troubles))
	s.mu.Unlock()
	if late {
		h.Problems = append(h.Problems, "no tick for more than three minutes; look in the log for tick.failed")
	}
	if len(bad) > 0 {
		h.Problems = append(h.Problems, "the files were refused, the last good ones are in force:")
		for _, p := range bad {
			h.Problems = append(h.Problems, p.String())
		}
	}
	h.Problems = append(h.Problems, troubles...)
	h.OK = len(h.Problems) == 0
	return h
}

// View lets a caller look at the journal and the clinic in force together.
func (s *Service) View(fn func(tx *journal.Tx) error) error { return s.o.Journal.View(fn) }
