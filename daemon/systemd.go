package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	systemd "github.com/coreos/go-systemd/v22/daemon"

	"stepgate/daemon/journal"
)

// manager is the service manager that started us, told as in sd_notify(3). Where
// none asked to be told, by NOTIFY_SOCKET, nothing happens.
type manager struct {
	log *slog.Logger

	mu     sync.Mutex
	failed bool // could not be told, and said so
}

func (m *manager) tell(state string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	_, err := systemd.SdNotify(false, state)
	if err != nil && !m.failed {
		m.log.Warn("manager.unreached", "variable", "NOTIFY_SOCKET")
	}
	m.failed = err != nil
}

// ready says that the service works, or works on after a reading of the files.
func (m *manager) ready(s *Service) {
	status := fmt.Sprintf("%d enrollments", s.Clinic().Enrollments.Len())
	if len(s.refused()) > 0 {
		status = "the files were refused, the last good ones are in force; see stepgate check"
	}
	m.tell(systemd.SdNotifyReady + "\nSTATUS=" + status)
}

// reloading says that the files are read, and done that it is over. It is nil
// while the service starts, which the first reading is a part of.
func (m *manager) reloading(s *Service) (done func()) {
	if m == nil {
		return func() {}
	}
	m.tell(systemd.SdNotifyReloading + "\n" + systemd.SdNotifyMonotonicUsec())
	return func() { m.ready(s) }
}

// turned notes that the loop came round, whatever became of the tick: a full
// disk is told by health, and a restart would not mend it.
func (s *Service) turned() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.turnedAt = time.Now()
}

// stuck says in a word why the work does not get on; "" while it does: the loop
// comes round, and the journal answers. Where that hangs it does not return.
func (s *Service) stuck() string {
	s.mu.Lock()
	late := time.Since(s.turnedAt) > tickLate
	s.mu.Unlock()
	if late {
		return "no tick"
	}
	if err := s.o.Journal.View(func(tx *journal.Tx) error { _ = tx.LastAt(); return nil }); err != nil {
		return "journal"
	}
	return ""
}

// watchdog tells the manager from time to time that the service is alive, if
// it wants that (WatchdogSec=). Once it hears nothing for so long it starts the
// service anew.
func (m *manager) watchdog(ctx context.Context, every time.Duration, stuck func() string) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	withheld := false
	for ctx.Err() == nil {
		why := stuck()
		if why == "" {
			m.tell(systemd.SdNotifyWatchdog)
		} else if !withheld {
			m.log.Error("watchdog.withheld", "error", why)
		}
		withheld = why != ""
		select {
		case <-ctx.Done():
		case <-tick.C:
		}
	}
}

// manage tells the manager that the service works, is alive, and, once ctx is
// done, that it stops. The returned function ends it.
func (s *Service) manage(ctx context.Context) (stop func()) {
	s.turned()
	s.manager = &manager{log: s.o.Log}
	s.manager.ready(s)
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		// A third, so that one that comes late does no harm.
		if wants, err := systemd.SdWatchdogEnabled(false); err == nil && wants > 0 {
			s.manager.watchdog(ctx, max(wants/3, time.Millisecond), s.stuck)
		}
		<-ctx.Done()
		s.manager.tell(systemd.SdNotifyStopping)
	}()
	return func() {
		cancel()
		<-done
	}
}
