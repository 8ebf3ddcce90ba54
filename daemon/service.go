package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/rules/reply"
	"stepgate/templates"
)

// Channel is one way to reach people. Receive is nil where answers are not
// collected; its patients' program days then wait, reason unheard.
type Channel struct {
	Sender  notify.Sender
	Receive notify.Receiver
	// ConfirmsStop says that the carrier itself answers STOP and START, so
	// that a second confirmation from here would be one too many.
	ConfirmsStop bool
}

// Options are the parts a Service works with.
type Options struct {
	Journal  *journal.Journal
	Channels map[string]Channel // "spool", "sms", "email"
	Words    *templates.Set
	Log      *slog.Logger
	Clock    Clock
	Workers  int  // sends at a time; 0: 16
	Made     bool // a made-up calendar: approval of programs is not asked for
}

// Service does the clinic's work: it decides who is due, sends, and takes
// replies. Its methods are safe to call from several goroutines.
type Service struct {
	o       Options
	started time.Time
	readers map[string]*reply.Reader
	roster  atomic.Pointer[roster]
	kicked  chan struct{} // something may be waiting in the outbox

	mu       sync.Mutex
	heard    map[string]time.Time // channel: when the last reading that succeeded began
	limit    answerLimit
	lastTick time.Time         // by the service's clock
	tickedAt time.Time         // by the machine's
	bad      config.Problems   // of the edit that was refused, if one was
	troubles map[string]string // by what is in trouble, in words
}

// NewService returns a service with no patients yet; see [Service.Accept].
func NewService(o Options) (*Service, error) {
	if o.Workers == 0 {
		o.Workers = 16
	}
	s := &Service{
		o: o, started: o.Clock.Now(),
		readers: map[string]*reply.Reader{},
		kicked:  make(chan struct{}, 1),
		heard:   map[string]time.Time{}, troubles: map[string]string{},
	}
	for _, lang := range o.Words.Languages() {
		v, err := templates.Vocabulary(lang)
		if err != nil {
			return nil, fmt.Errorf("reply words of %q: %w", lang, err)
		}
		r, err := v.Compile()
		if err != nil {
			return nil, fmt.Errorf("reply words of %q: %w", lang, err)
		}
		s.readers[lang] = r
	}
	s.roster.Store(&roster{})
	return s, nil
}

// roster is the accepted clinic, indexed.
type roster struct {
	clinic    *config.Clinic
	byID      map[string]*config.Enrollment
	byContact map[config.Address]*config.Enrollment
}

func newRoster(c *config.Clinic, now time.Time) *roster {
	r := &roster{
		clinic:    c,
		byID:      make(map[string]*config.Enrollment, len(c.Enrollments)),
		byContact: make(map[config.Address]*config.Enrollment, len(c.Enrollments)),
	}
	for _, e := range c.Enrollments {
		r.byID[e.ID] = e
		// Of several enrollments of one contact all but one are discharged;
		// the open one answers for the contact, or else the latest.
		old := r.byContact[e.Address]
		if old == nil || discharged(old, today(now, old)) && (!discharged(e, today(now, e)) || e.Dispensed > old.Dispensed) {
			r.byContact[e.Address] = e
		}
	}
	return r
}

// discharged tells whether a discharge was written and its date has come.
func discharged(e *config.Enrollment, d rules.Date) bool {
	for _, n := range e.Entries {
		if n.Kind == rules.EntryDischarge && n.On <= d {
			return true
		}
	}
	return false
}

func (r *roster) program(e *config.Enrollment) *rules.Program { return r.clinic.Programs[e.Program] }

// Clinic is the clinic in force, or nil before the first is accepted.
func (s *Service) Clinic() *config.Clinic { return s.roster.Load().clinic }

// today is the patient's local date.
func today(now time.Time, e *config.Enrollment) rules.Date { return rules.DateOf(now.In(e.Zone)) }

// kick wakes the sender.
func (s *Service) kick() {
	select {
	case s.kicked <- struct{}{}:
	default:
	}
}

// Collect reads the waiting incoming messages of every channel. Failures are
// logged; the channel then counts as unheard.
func (s *Service) Collect(ctx context.Context) {
	for name, ch := range s.o.Channels {
		if ch.Receive == nil {
			continue
		}
		began := s.o.Clock.Now()
		if err := ch.Receive.Collect(ctx, s.Take(name)); err != nil {
			s.o.Log.WarnContext(ctx, "in.failed", "channel", name, "error", safeError(err))
			s.trouble("in "+name, "incoming messages of "+name+" cannot be read; look in the log for in.failed")
			continue
		}
		s.mu.Lock()
		s.heard[name] = began
		delete(s.troubles, "in "+name)
		s.mu.Unlock()
	}
}

// heardSince tells whether the channel was read successfully at or after t.
func (s *Service) heardSince(channel string, t time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	at, ok := s.heard[channel]
	return ok && !at.Before(t)
}

// trouble keeps what health shows until it is over.
func (s *Service) trouble(of, words string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.troubles[of] = words
}
