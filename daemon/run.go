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
)

// RunOptions say how a service lives until it is stopped.
type RunOptions struct {
	Load   func() (*config.Clinic, config.Problems) // reads the clinic folder again
	Reload <-chan struct{}                          // asks for it
	Tick   string                                   // cron spec of the tick, in UTC; "" is once a minute
	Poll   time.Duration                            // how often incoming messages are read; 0: 5 s
	Often  bool                                     // tick at every poll: for a made-up calendar
	Grace  time.Duration                            // how long in-flight sends may take at a stop; 0: 30 s

	Hook         http.Handler // inbound web hook; nil: none
	HookListener net.Listener
	Listening    func(bool) // told when the web hook is open
}

// Run works until ctx is done, then stops in order: the ticking, the intake,
// the sends in flight (for at most Grace), their outcomes. The journal is the
// caller's to close, last.
func (s *Service) Run(ctx context.Context, o RunOptions) error {
	o.setDefaults()
	ticks := make(chan struct{}, 1)
	ticker := cron.New(cron.WithLocation(time.UTC))
	_, err := ticker.AddFunc(o.Tick, func() { nudge(ticks) })
	if err == nil {
		err = s.Recover(ctx)
	}
	if err != nil {
		if o.HookListener != nil {
			_ = o.HookListener.Close()
		}
		return err
	}
	hook := s.openHook(o)
	sender := s.startSender(ctx)
	ticker.Start()
	nudge(ticks) // what came due while nobody ran
	s.loop(ctx, o, ticks)

	s.o.Log.Info("stop.begun")
	<-ticker.Stop().Done()
	closeHook(hook, o)
	sender.stop(o.Grace)
	s.o.Log.Info("stop.done")
	return nil
}

func (o *RunOptions) setDefaults() {
	if o.Tick == "" {
		o.Tick = "* * * * *"
	}
	if o.Poll == 0 {
		o.Poll = 5 * time.Second
	}
	if o.Grace == 0 {
		o.Grace = 30 * time.Second
	}
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
			s.Collect(ctx)
		case <-o.Reload:
			_ = s.Reload(ctx, o.Load) // logged, and shown by health
		case <-ticks:
			s.Collect(ctx)
			if err := s.Tick(ctx); err != nil && !errors.Is(err, context.Canceled) {
				s.o.Log.Error("tick.failed", "error", safeError(err))
			}
			s.ticked()
			s.kick()
		}
	}
}

func (s *Service) openHook(o RunOptions) *http.Server {
	if o.Hook == nil {
		return nil
	}
	srv := &http.Server{Handler: o.Hook, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
		WriteTimeout: 15 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10}
	o.Listening(true)
	go func() {
		if err := srv.Serve(o.HookListener); !errors.Is(err, http.ErrServerClosed) {
			o.Listening(false)
			s.o.Log.Error("hook.closed")
		}
	}()
	return srv
}

func closeHook(srv *http.Server, o RunOptions) {
	if srv == nil {
		return
	}
	o.Listening(false)
	ctx, cancel := context.WithTimeout(context.Background(), o.Grace)
	defer cancel()
	_ = srv.Shutdown(ctx) // what is cut off was not acknowledged, and comes again
}

// sender hands over what waits in the outbox, several at a time.
type sender struct {
	quit    chan struct{}
	done    chan struct{}
	cut     context.CancelFunc // ends sends that outlast the grace time
	working sync.WaitGroup
}

func (s *Service) startSender(ctx context.Context) *sender {
	sendCtx, cut := context.WithCancel(context.WithoutCancel(ctx))
	x := &sender{quit: make(chan struct{}), done: make(chan struct{}), cut: cut}
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
}

// dispatch gives waiting messages to the workers. A message being worked on
// is not given out twice; a retry comes back by its time.
func (s *Service) dispatch(ctx context.Context, x *sender) {
	slots := make(chan struct{}, s.o.Workers)
	var mu sync.Mutex
	busy := map[string]bool{}
	claim := func(key string) bool {
		mu.Lock()
		defer mu.Unlock()
		if busy[key] {
			return false
		}
		busy[key] = true
		return true
	}
	release := func(key string) { mu.Lock(); defer mu.Unlock(); delete(busy, key) }
	for {
		select {
		case <-x.quit:
			return
		case <-s.kicked:
		}
		rows, err := s.waiting(4 * s.o.Workers)
		if err != nil {
			s.o.Log.Error("outbox.failed", "error", safeError(err))
			continue
		}
		for _, row := range rows {
			if !claim(row.Key) {
				continue
			}
			select {
			case <-x.quit:
				return
			case slots <- struct{}{}:
			}
			x.working.Go(func() {
				err := s.sendOne(ctx, row.Key)
				release(row.Key)
				<-slots
				if err != nil { // it stays in the outbox for the next tick
					s.o.Log.Error("out.failed", "id", row.Enrollment, "kind", row.Kind, "error", safeError(err))
					return
				}
				s.kick()
			})
		}
	}
}
