package daemon

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"stepgate/daemon/journal"
)

// Health is how the service is doing. It names no patient.
type Health struct {
	OK       bool      `json:"ok"`
	Now      time.Time `json:"now,omitzero"`
	Started  time.Time `json:"started,omitzero"`
	Quick    bool      `json:"quick"` // a made-up calendar
	LastTick time.Time `json:"last_tick,omitzero"`
	// LastSend is when any channel last took a message since the start, by the
	// machine's clock.
	LastSend time.Time `json:"last_send,omitzero"`
	// How long the oldest message that waits to be handed over has waited, and
	// the oldest answer or alert; 0: none waits.
	QueueOldest  float64 `json:"queue_oldest_seconds"`
	UrgentOldest float64 `json:"urgent_oldest_seconds"`
	// DiskFree is the room where the journal lies; left out where it can't be
	// measured.
	DiskFree *uint64  `json:"disk_free_bytes,omitempty"`
	Problems []string `json:"problems"` // in words, worst first; files that were refused among them
}

// When something is not well: ours to choose.
const (
	tickLate        = 3 * time.Minute    // after a tick, or the start, the next is missed
	urgentLate      = 10 * time.Minute   // an answer or alert has waited too long
	leastFree       = 100_000_000        // bytes on the disk; the journal of a large clinic grows by less in a month
	certificateSoon = 7 * 24 * time.Hour // before the end of the certificate; renewal is usually done by then
)

func (s *Service) ticked() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lastTick, s.tickedAt = s.o.Clock.Now(), time.Now()
}

// Health reports how the service is doing.
func (s *Service) Health() Health { return s.health(s.figures()) }

func (s *Service) health(f figures) Health {
	s.mu.Lock()
	h := Health{Now: s.o.Clock.Now(), Started: s.started, Quick: s.o.Made, LastTick: s.lastTick, LastSend: s.meter.lastSent(),
		QueueOldest: f.oldest.Seconds(), UrgentOldest: f.urgent.Seconds(), Problems: []string{}}
	late := time.Since(s.tickedAt) > tickLate
	bad, troubles := s.bad, slices.Sorted(maps.Values(s.troubles))
	s.mu.Unlock()
	say := func(format string, args ...any) { h.Problems = append(h.Problems, fmt.Sprintf(format, args...)) }
	if late {
		say("no tick for more than three minutes; look in the log for tick.failed")
	}
	if f.measured {
		h.DiskFree = &f.free
		if f.free < leastFree {
			say("the disk of the journal has only %d MB left; make room", f.free/1_000_000)
		}
	}
	if f.urgent > urgentLate && !s.o.Made { // made-up minutes are short
		say("an answer or alert has waited for %d minutes; look in the log for out.retry and sender.stopped", int(f.urgent.Minutes()))
	}
	if left := f.certificate.Sub(h.Now); !f.certificate.IsZero() && left < certificateSoon {
		say("the web certificate ends on %s; renew it", f.certificate.UTC().Format(time.DateOnly))
	}
	if len(bad) > 0 {
		say("the files were refused, the last good ones are in force:")
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
