package daemon

import (
	"context"
	"errors"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/robfig/cron/v3"

	"stepgate/config"
	"stepgate/daemon/journal"
)

// RunOptions say how a service lives until it is stopped.
type RunOptions struct {
	Load   func() (*config.Clinic, config.Problems) // reads the clinic folder again
	Reload <-chan struct{}                          // asks for it
	Tick   string                                   // cron spec of the tick, in UTC; "" is once a minute
	Poll   time.Duration                            // how often the turns of the channels are looked at; 0: as often as they need
	Often  bool                                     // tick at every poll: for a made-up calendar
	Grace  time.Duration                            // how long in-flight sends may take at a stop; 0: 30 s

	Web []WebServer
}

// WebServer is what is served at one address.
type WebServer struct {
	Handler  http.Handler
	Listener net.Listener
}

// Run works until ctx is done, then stops in order: the ticking, the intake,
// the sends in flight (for at most Grace), their outcomes. The journal is the
// caller's to close, last.
func (s *Service) Run(ctx context.Context, o RunOptions) error {
	if o.Poll == 0 {
		o.Poll = s.lookEvery()
	}
	o.setDefaults()
	ticks := make(chan struct{}, 1)
	ticker := cron.New(cron.WithLocation(time.UTC))
	_, err := ticker.AddFunc(o.Tick, func() { nudge(ticks) })
	if err == nil {
		err = s.Recover(ctx)
	}
	if err != nil {
		for _, web := range o.Web {
			_ = web.Listener.Close()
		}
		return err
	}
	web := s.openWeb(o)
	sender := s.startSender(ctx)
	erranding, endErrands := context.WithCancel(ctx)
	defer endErrands()
	sender.working.Go(func() { s.errands(erranding) })
	ticker.Start()
	nudge(ticks) // what came due while nobody ran
	s.loop(ctx, o, ticks)

	s.o.Log.Info("stop.begun")
	<-ticker.Stop().Done()
	closeWeb(web, o.Grace)
	endErrands()
	sender.stop(o.Grace)
	s.notePoints()
	s.o.Log.Info("stop.done")
	return nil
}

func (o *RunOptions) setDefaults() {
	if o.Tick == "" {
		o.Tick = "* * * * *"
	}
	if o.Grace == 0 {
		o.Grace = 30 * time.Second
	}
}

// lookEvery is a quarter of the shortest time after which any channel is read
// again, and at most five seconds.
func (s *Service) lookEvery() time.Duration {
	every := 5 * time.Second
	for _, ch := range s.o.Channels {
		if ch.Receive != nil && ch.Every > 0 {
			every = min(every, ch.Every/4)
		}
	}
	return every
}

func nudge(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// loop reads incoming messages, decides who is due and rereads the clinic
// folder, one after the other, until ctx is done.
func (s *Service) loop(ctx context.Context, o RunOptions, ticks chan struct{}) {
	poll := time.NewTicker(o.Poll)
	defer poll.Stop()
	for ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case <-poll.C:
			if o.Often {
				nudge(ticks)
				continue
			}
			s.collect(ctx, false)
		case <-o.Reload:
			_ = s.Reload(ctx, o.Load) // logged, and shown by health
		case <-s.heardOf:
			nudge(ticks)
		case <-ticks:
			s.collect(ctx, s.anyDue()) // no day is decided unheard
			s.tickOnce(ctx)
			s.turned()
			s.kick()
		}
	}
}

// tickOnce is a tick of the loop. One that failed is over as soon as one works.
func (s *Service) tickOnce(ctx context.Context) {
	err := s.Tick(ctx)
	switch {
	case err == nil:
		s.untrouble("tick")
		s.ticked()
	case !errors.Is(err, context.Canceled):
		s.o.Log.Error("tick.failed", "error", safeError(err))
		s.trouble("tick", "the last tick failed: "+safeError(err)+"; look at the disk of the data folder, it is tried again by itself")
	}
}

func (s *Service) openWeb(o RunOptions) []*http.Server {
	var open []*http.Server
	for _, web := range o.Web {
		srv := guarded(web.Handler)
		open = append(open, srv)
		go func() {
			if err := srv.Serve(web.Listener); !errors.Is(err, http.ErrServerClosed) {
				s.o.Log.Error("hook.closed")
			}
		}()
	}
	return open
}

// closeWeb lets requests under way end. What is cut off was not acknowledged,
// and comes again.
func closeWeb(open []*http.Server, grace time.Duration) {
	ctx, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	for _, srv := range open {
		_ = srv.Shutdown(ctx)
	}
}

// sender hands over what waits in the outbox, several at a time.
type sender struct {
	quit    chan struct{}
	done    chan struct{}
	cut     context.CancelFunc // ends sends that outlast the grace time
	working sync.WaitGroup
	settler *settler
}

func (s *Service) startSender(ctx context.Context) *sender {
	sendCtx, cut := context.WithCancel(context.WithoutCancel(ctx))
	x := &sender{quit: make(chan struct{}), done: make(chan struct{}), cut: cut, settler: s.startSettler()}
	go func() {
		defer close(x.done)
		s.dispatch(sendCtx, x)
	}()
	return x
}

func (x *sender) stop(grace time.Duration) {
	close(x.quit)
	<-x.done
	idle := make(chan struct{})
	go func() { x.working.Wait(); close(idle) }()
	select {
	case <-idle:
	case <-time.After(grace):
		x.cut()
		<-idle
	}
	x.cut()
	x.settler.stop()
}

// dispatch gives waiting messages to workers, until quit. It looks again when
// something comes in, when a send ends, and when a lane has room.
func (s *Service) dispatch(ctx context.Context, x *sender) {
	room := time.NewTimer(time.Hour)
	defer room.Stop()
	for {
		select {
		case <-x.quit:
			return
		case <-s.kicked:
		case <-room.C:
		}
		next := time.Hour
		for _, name := range s.waitingLanes() {
			l := s.laneOf(name)
			if d := time.Until(l.rests); d > 0 {
				next = min(next, d)
				continue
			}
			wait, err := s.deal(ctx, x, l)
			if err != nil {
				s.o.Log.Error("outbox.failed", "error", safeError(err))
				continue
			}
			if wait > 0 {
				next = min(next, wait)
			}
		}
		room.Reset(max(next, breath))
	}
}

// breath is the least time between two looks at a lane that has no room: fast
// lanes are served in small bunches, each of which is one commit.
const breath = 100 * time.Millisecond

// deal gives the messages of one lane to workers for which it has room. It
// returns after how long there may be room for the next; 0: nothing waits. A
// message being worked on is not given out twice.
func (s *Service) deal(ctx context.Context, x *sender, l *lane) (time.Duration, error) {
	now := s.o.Clock.Now()
	// In this order: what is with a worker now may be marked as handed over, and
	// counted, at any moment, and is then counted twice rather than not at all.
	unmarked, segments := l.claimed()
	spent, midnight := s.spent(l, now)
	spent += segments
	rows, err := s.waiting(l.name, now, cap(l.slots)-len(l.slots)+unmarked+1)
	if err != nil {
		return 0, err
	}
	var lot []string
	wait := time.Duration(0)
	for _, row := range rows {
		if !l.claim(row) {
			continue
		}
		if wait = s.room(x, l, now, row, spent, midnight); wait > 0 {
			l.release(row.Key)
			break
		}
		spent += row.Segments
		lot = append(lot, row.Key)
	}
	if len(lot) > 0 {
		x.working.Go(func() { s.handLot(ctx, x, l, lot) })
	}
	return wait, nil
}

// room takes a slot of the lane and a place among the unsettled for a message;
// 0: it may go. Otherwise there may be room after that time.
func (s *Service) room(x *sender, l *lane, now time.Time, row journal.Queued, spent int, midnight time.Time) time.Duration {
	select {
	case l.slots <- struct{}{}:
	default:
		// All workers are busy, and some of them may be for long: it is looked
		// again soon whoever ends, and at once when several have.
		return breath
	}
	if !x.settler.admit() {
		<-l.slots
		return breath
	}
	if d := l.wait(now, row, spent, midnight); d > 0 {
		l.rests = time.Now().Add(breath)
		x.settler.drop()
		<-l.slots
		return d
	}
	return 0
}

// about names a message in the log.
func (s *Service) about(key string) (args []any) {
	_ = s.o.Journal.View(func(tx *journal.Tx) error { // closed: nothing is known
		row, err := tx.Progress(key)
		if err == nil && row != nil {
			args = append(whose(row.Enrollment), "kind", row.Kind)
		}
		return err
	})
	return args
}

// spent is how many segments of a lane's daily cap are used, and when the cap
// begins anew.
func (s *Service) spent(l *lane, now time.Time) (n int, midnight time.Time) {
	if l.number.DailyCap == 0 {
		return 0, now
	}
	begin, end := s.midnight(now)
	_ = s.o.Journal.View(func(tx *journal.Tx) error { n = tx.Spent(l.number.Number, begin); return nil }) // closed: nothing goes out
	return n, end
}
