package daemon

import (
	"context"
	"log/slog"
	"math"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

// lane paces what queues up behind one another: the messages of a channel, or
// of one of our numbers on it.
type lane struct {
	name   string
	sender int // which of the channel's numbers, from 1; 0: no number
	number config.SMSNumber
	limit  *rate.Limiter // in segments; nil: none
	slots  chan struct{} // a send under way holds one
	// rests is until when its pace is not asked again, however often the
	// dispatcher, whose alone it is, is kicked.
	rests time.Time

	mu     sync.Mutex
	busy   map[string]int  // messages given to a worker, with their segments
	fresh  map[string]bool // of these, those not yet marked as handed over
	closed time.Time       // nothing goes out before this
	pause  time.Duration   // how long the lane was closed for trouble last; 0: no trouble
	mute   time.Time       // since when the carrier could not be reached; zero: it can
	told   time.Time       // the end of the queue that was last logged
}

// longestText is the most segments of one text, and so the least a bucket
// must hold: 1,600 characters are eleven of GSM-7; ours are two at most by
// design, and the carrier takes ten.
const longestText = 12

// laneOf returns the lane of a name, made on first use.
func (s *Service) laneOf(name string) *lane {
	s.mu.Lock()
	defer s.mu.Unlock()
	l := s.lanes[name]
	if l != nil {
		return l
	}
	l = &lane{name: name, busy: map[string]int{}, fresh: map[string]bool{}}
	workers := fewWorkers
	channel, number, _ := strings.Cut(name, "/")
	for i, n := range s.o.Channels[channel].Numbers {
		if n.Number != number {
			continue
		}
		l.sender, l.number = i+1, n
		l.limit = rate.NewLimiter(rate.Limit(n.Rate), max(int(math.Ceil(n.Rate)), longestText))
		// A carrier takes about 200 ms for a text: enough workers to keep twice
		// the rate going.
		workers = max(workers, min(int(2*n.Rate/5), maxWorkers))
	}
	if s.o.Workers > 0 {
		workers = s.o.Workers
	}
	l.slots = make(chan struct{}, workers)
	s.lanes[name] = l
	return l
}

// The fewest and the most sends of one lane at a time.
const (
	fewWorkers = 16
	maxWorkers = 256
)

// share is the part of a daily cap that doses may use. The rest is kept for
// answers and alerts.
const share = 0.9

// wait is how long a message that was claimed has to wait for its lane; 0: its
// segments are taken from the bucket and it may go.
func (l *lane) wait(now time.Time, row journal.Queued, spent int, midnight time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if d := l.closed.Sub(now); d > 0 {
		return d
	}
	if l.pause > 0 && len(l.busy) > 1 {
		return time.Second // one at a time, until the carrier takes one
	}
	if allowed := float64(l.number.DailyCap); allowed > 0 {
		if row.Rank > rankUrgent {
			allowed *= share
		}
		if float64(spent+row.Segments) > allowed {
			return max(midnight.Sub(now), time.Second)
		}
	}
	if l.limit == nil || row.Segments == 0 {
		return 0
	}
	r := l.limit.ReserveN(now, min(row.Segments, l.limit.Burst()))
	d := r.DelayFrom(now)
	if d > 0 {
		r.CancelAt(now)
	}
	return d
}

// The shortest and the longest time a lane stays closed for trouble. It is
// doubled each time the trouble is still there.
const (
	firstPause = time.Minute
	longPause  = 30 * time.Minute
)

// trouble closes the lane for a while, and returns until when and whether the
// trouble is new.
func (l *lane) trouble(now time.Time) (until time.Time, fresh bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	fresh = l.pause == 0
	if l.closed.After(now) && !fresh {
		return l.closed, false // one that was under way already
	}
	l.pause = min(max(2*l.pause, firstPause), longPause)
	l.closed = now.Add(l.pause)
	return l.closed, fresh
}

// slow closes the lane for as long as the carrier asked.
func (l *lane) slow(until time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if until.After(l.closed) {
		l.closed = until
	}
}

// unreachable notes that the carrier could not be reached, and tells whether
// that has gone on for too long.
func (l *lane) unreachable(now time.Time) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.mute.IsZero() {
		l.mute = now
	}
	return now.Sub(l.mute) >= muteFor
}

// muteFor is how long a carrier may be out of reach before that is trouble.
const muteFor = 10 * time.Minute

// works says that the carrier took a message, and returns whether that ends a
// trouble.
func (l *lane) works() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	was := l.pause > 0
	l.pause, l.mute = 0, time.Time{}
	return was
}

// opens is when the lane is open again; a time in the past: it is.
func (l *lane) opens() time.Time {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.closed
}

func (l *lane) claim(row journal.Queued) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if _, taken := l.busy[row.Key]; taken {
		return false
	}
	l.busy[row.Key], l.fresh[row.Key] = row.Segments, true
	return true
}

func (l *lane) release(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.busy, key)
	delete(l.fresh, key)
}

// free gives back a message's worker.
func (l *lane) free(key string) {
	l.release(key)
	<-l.slots
}

// marked says that a message is marked as handed over, and waits no more.
func (l *lane) marked(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.fresh, key)
}

// roomy tells whether enough workers are free that it is worth looking for what
// is next: a look for each of hundreds of them would cost more than the sends.
func (l *lane) roomy() bool { return len(l.slots) <= cap(l.slots)*3/4 }

// claimed is how many messages are with a worker and may still be waiting, and
// the segments of all that are with one.
func (l *lane) claimed() (unmarked, segments int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, s := range l.busy {
		segments += s
	}
	return len(l.fresh), segments
}

// stopLane acts on trouble with our own account or number: nobody's message
// will be taken, so nothing goes out by this lane for a while; the admin is
// told once, and the first message taken ends it.
func (s *Service) stopLane(ctx context.Context, l *lane, code string) time.Time {
	now := s.o.Clock.Now()
	until, fresh := l.trouble(now)
	s.o.Log.ErrorContext(ctx, "sender.stopped", "lane", l.label(), "code", code, "until", until.UTC())
	if !fresh {
		return until
	}
	s.trouble("sender "+l.name, "nothing goes out by "+l.label()+": the carrier says "+code+" about the account or number; it is tried again by itself")
	err := s.commit(ctx, s.roster.Load(), func(w *work) error {
		cause := l.label() + " " + code + " " + rules.DateOf(now.In(w.r.clinic.Zone)).String()
		return w.alert(alert{notice: rules.Notice{Kind: rules.NoticeSender}, cause: cause, detail: "Through: " + l.label() + ". " + notify.Explain(code)})
	})
	if err != nil {
		s.o.Log.ErrorContext(ctx, "journal.failed", "doing", "alert of sender trouble")
	}
	return until
}

// laneWorks notes that the carrier takes messages.
func (s *Service) laneWorks(ctx context.Context, l *lane) {
	if l.works() {
		s.untrouble("sender " + l.name)
		s.o.Log.InfoContext(ctx, "sender.resumed", "lane", l.label())
	}
}

// label names a lane in the log, where no number may stand: "sms 1" is the
// first of ours in the files.
func (l *lane) label() string {
	channel, _, _ := strings.Cut(l.name, "/")
	if l.sender == 0 {
		return channel
	}
	return channel + " " + strconv.Itoa(l.sender)
}

// forecast logs, for each lane whose queue takes longer than a minute, when
// the last of it will go out.
func (s *Service) forecast(ctx context.Context) {
	now := s.o.Clock.Now()
	type queue struct {
		l                  *lane
		messages, segments int
	}
	var queues []queue
	err := s.o.Journal.View(func(tx *journal.Tx) error {
		for _, name := range tx.Lanes() {
			if l := s.laneOf(name); l.limit != nil {
				n, segments := tx.Backlog(name)
				queues = append(queues, queue{l, n, segments})
			}
		}
		return nil
	})
	if err != nil {
		return // the tick itself tells
	}
	for _, q := range queues {
		last := latest(now, q.l.opens()).Add(time.Duration(float64(q.segments) / q.l.number.Rate * float64(time.Second)))
		if last.Sub(now) < time.Minute || last.Sub(q.l.told).Abs() < time.Minute {
			continue
		}
		q.l.told = last
		s.o.Log.Log(ctx, slog.LevelInfo, "out.queue", "lane", q.l.label(), "messages", q.messages, "segments", q.segments, "last", last.UTC().Truncate(time.Second))
	}
}

// midnight is the next midnight at the clinic: when a day's cap begins anew.
func (s *Service) midnight(now time.Time) (begin, end time.Time) {
	c := s.Clinic()
	if c == nil {
		return now, now
	}
	d := rules.DateOf(now.In(c.Zone))
	return localInstant(d, 0, c.Zone), localInstant(d+1, 0, c.Zone)
}
