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
	Every   time.Duration // how often incoming messages are read; 0: at every look
	// Confirms tells whether the carrier itself answers a text, such as STOP,
	// so that a second confirmation from here would be one too many; nil: never.
	Confirms func(text string) bool

	// Numbers are those of ours that messages come from; none where the channel
	// has no such thing. The first is the default.
	Numbers []config.SMSNumber
	// LookAgain is how long after one look in the carrier's list comes the next;
	// 0: the carrier keeps no list.
	LookAgain time.Duration
	// News asks for what became of messages since a time, every NewsEvery; nil:
	// nothing is known of that.
	News      func(ctx context.Context, since time.Time, tell notify.Tell) error
	NewsEvery time.Duration
	// Undelivered is after how many dates running without a delivered message a
	// contact counts as dead.
	Undelivered int
	// Point is the time before which all that came in was read; nil: not kept.
	Point func() time.Time
}

// Options are the parts a Service works with.
type Options struct {
	Journal  *journal.Journal
	Channels map[string]Channel // "spool", "sms", "email"
	Words    *templates.Set
	Log      *slog.Logger
	Clock    Clock
	Workers  int  // sends of one lane at a time; 0: as many as its rate wants, 16 at least
	Made     bool // a made-up calendar: no approval is asked for, and each alert goes out at once and alone

	// Edit adds entries to an enrollment in the clinic's files, and Reread has the
	// service read them; nil: answers to alerts change nothing.
	Edit   func(id string, entries []rules.Entry) (at rules.Pos, err error)
	Reread func(ctx context.Context) error
	// Accepted is told of a clinic that was read and put in force; nil: nobody is.
	Accepted func(ctx context.Context, c *config.Clinic)
}

// Service does the clinic's work: it decides who is due, sends, and takes
// replies. Its methods are safe to call from several goroutines.
type Service struct {
	o       Options
	started time.Time
	readers map[string]*reply.Reader
	roster  atomic.Pointer[roster]
	kicked  chan struct{} // something may be waiting in the outbox
	heardOf chan struct{} // a channel can be read again, and somebody may have waited for that

	mu        sync.Mutex
	heard     map[string]time.Time // channel: when the last reading that succeeded began
	tried     map[string]time.Time // channel: when the last reading began
	lanes     map[string]*lane     // what messages queue up behind, by name
	asked     map[string]time.Time // channel: when news of deliveries was last asked for
	rereading sync.Mutex           // files are read again by one at a time
	retained  time.Time            // when discharged patients were last looked through
	told      map[string]time.Time // addressee: when a mail of new alerts was last made
	limit     answerLimit
	lastTick  time.Time         // by the service's clock
	tickedAt  time.Time         // by the machine's; before the first: the start
	wall      time.Time         // the clock at the last tick, for [Service.noteJump]
	turnedAt  time.Time         // when a tick last came to its end, well or not, by the machine's clock
	went      time.Duration     // the same by its steady time
	cert      *certificate      // the web listener's own; nil: none
	bad       config.Problems   // of the edit that was refused, if one was
	troubles  map[string]string // by what is in trouble, in words

	ahead   crew // for what comes in
	meter   *meter
	manager *manager // of services; nil: not told, or not yet
}

// NewService returns a service with no patients yet; see [Service.Accept].
func NewService(o Options) (*Service, error) {
	m := newMeter()
	o.Log = slog.New(lineCounter{o.Log.Handler(), m})
	s := &Service{
		o: o, started: o.Clock.Now(), tickedAt: time.Now(), meter: m,
		readers: map[string]*reply.Reader{},
		kicked:  make(chan struct{}, 1), heardOf: make(chan struct{}, 1),
		heard: map[string]time.Time{}, tried: map[string]time.Time{}, asked: map[string]time.Time{}, told: map[string]time.Time{},
		lanes: map[string]*lane{}, troubles: map[string]string{},
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
	m.registry.MustRegister(gauges{s})
	return s, nil
}

// roster is the accepted clinic, with whose a contact is.
type roster struct {
	clinic   *config.Clinic // nil before the first is accepted
	contacts *contacts
}

func newRoster(c *config.Clinic, now time.Time) *roster {
	return &roster{clinic: c, contacts: newContacts(c.Enrollments, now)}
}

// enrolled is the enrollment of an id, or nil. It is made for this call alone: pass
// it on rather than ask again.
func (r *roster) enrolled(id string) *config.Enrollment {
	if r.clinic == nil {
		return nil
	}
	return r.clinic.Enrollments.Get(id)
}

// whose is the enrollment that a message from a contact belongs to, or nil.
func (r *roster) whose(from config.Address, number string) *config.Enrollment {
	if e := r.contacts.of(contactAt{from, number}); e != nil {
		return e
	}
	return r.contacts.of(contactAt{from, ""})
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

// untrouble ends what health shows, and tells whether there was anything.
func (s *Service) untrouble(of string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	_, was := s.troubles[of]
	delete(s.troubles, of)
	return was
}

// trouble keeps what health shows until it is over.
func (s *Service) trouble(of, words string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.troubles[of] = words
}
