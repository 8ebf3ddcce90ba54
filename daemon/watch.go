package daemon

import (
	"context"
	"errors"
	"io/fs"
	"log/slog"
	"maps"
	"sync"
	"syscall"
	"time"

	"github.com/fsnotify/fsnotify"

	"stepgate/config"
)

// pace is how patient the watch is with somebody who saves.
type pace struct {
	quiet  time.Duration // without a change before the files are read
	most   time.Duration // after the first change, however many follow
	anyway time.Duration // between looks without any sign of a change
}

// usualPace covers editors that save in several steps. The looks without a sign
// find what the system does not tell: a file behind a symbolic link, a network
// disk, a folder that took the place of another.
var usualPace = pace{quiet: 500 * time.Millisecond, most: 5 * time.Second, anyway: time.Minute}

// watch has the clinic's files read again when they change, and when asked to.
// What counts is whether the bytes are others than those read last, so it does
// not matter how somebody saves, nor who.
type watch struct {
	dir   string
	log   *slog.Logger
	pace  pace
	load  func() (*config.Clinic, config.Problems)
	asked <-chan struct{} // a reading is wanted, whatever changed
	out   chan struct{}   // asks for a reading

	mu   sync.Mutex
	seen map[string]string // the files at the last reading

	signs  *fsnotify.Watcher // nil: not to be had
	failed bool              // and said so
	last   wanted            // the last reading that was asked for of itself
}

// wanted is a change to be read: from the files of one reading to others.
type wanted struct{ from, to map[string]string }

func newWatch(dir string, log *slog.Logger, asked <-chan struct{}, load func() (*config.Clinic, config.Problems)) *watch {
	return &watch{dir: dir, log: log, pace: usualPace, load: load, asked: asked, out: make(chan struct{}, 1)}
}

// read loads the files and remembers which they were. They are looked at first:
// a change in between is found at the next look, not lost.
func (w *watch) read() (*config.Clinic, config.Problems) {
	now := config.Hashes(w.dir)
	w.mu.Lock()
	w.seen = now
	w.mu.Unlock()
	return w.load()
}

// start watches until ctx is done or the returned function is called, which
// waits for the end.
func (w *watch) start(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		w.run(ctx)
	}()
	return func() {
		cancel()
		<-done
	}
}

// run watches until ctx is done.
func (w *watch) run(ctx context.Context) {
	signs, faults := w.open()
	if w.signs != nil {
		defer func() { _ = w.signs.Close() }()
	}
	anyway := time.NewTicker(w.pace.anyway)
	defer anyway.Stop()
	settled := time.NewTimer(time.Hour)
	settled.Stop()
	var first time.Time // of the changes that are waited for; zero: none
	changed := func() {
		if first.IsZero() {
			first = time.Now()
		}
		settled.Reset(min(w.pace.quiet, time.Until(first.Add(w.pace.most))))
	}
	changed() // perhaps, since the first reading
	for {
		select {
		case <-ctx.Done():
			return
		case <-w.asked:
			nudge(w.out)
		case <-signs:
			changed()
		case <-faults: // some signs may be lost
			changed()
		case <-anyway.C:
			w.follow()
			if first.IsZero() && w.differs() != nil {
				changed()
			}
		case <-settled.C:
			w.follow() // a new folder's files count from now on
			d := w.differs()
			if d != nil && d.half() && time.Since(first) < w.pace.most {
				changed()
				continue
			}
			first = time.Time{}
			if d != nil && !w.last.same(d) {
				w.last = *d
				nudge(w.out)
			}
		}
	}
}

// differs is the change since the last reading, or nil.
func (w *watch) differs() *wanted {
	now := config.Hashes(w.dir)
	w.mu.Lock()
	defer w.mu.Unlock()
	if maps.Equal(now, w.seen) {
		return nil
	}
	return &wanted{w.seen, now}
}

func (d wanted) same(other *wanted) bool {
	return maps.Equal(d.from, other.from) && maps.Equal(d.to, other.to)
}

// half tells whether somebody may be in the middle of saving: a file is gone,
// unreadable or empty that was none of these.
func (d *wanted) half() bool {
	empty := config.NewFile("", nil).Hash
	usable := func(hash string) bool { return hash != "" && hash != empty }
	for path, was := range d.from {
		if usable(was) && !usable(d.to[path]) {
			return true
		}
	}
	return false
}

// open begins to watch. The channels are nil where that is not to be had.
func (w *watch) open() (<-chan fsnotify.Event, <-chan error) {
	signs, err := fsnotify.NewWatcher()
	if err != nil {
		w.complain(err)
		return nil, nil
	}
	w.signs = signs
	w.follow()
	return signs.Events, signs.Errors
}

// follow watches all folders that are there now. One that is watched already,
// or in whose place another stands, does no harm.
func (w *watch) follow() {
	if w.signs == nil {
		return
	}
	for i, folder := range config.Folders(w.dir) {
		if err := w.signs.Add(folder); err != nil && (i == 0 || !errors.Is(err, fs.ErrNotExist)) {
			w.complain(err)
			return
		}
	}
	w.failed = false
}

// complain says once that changes are not told of at once.
func (w *watch) complain(err error) {
	if w.failed {
		return
	}
	w.failed = true
	why := "the system refuses it"
	if code, ok := errors.AsType[syscall.Errno](err); ok {
		why = code.Error()
		if code == syscall.ENOSPC || code == syscall.EMFILE { // inotify_add_watch(2), inotify_init(2)
			why = "the limit of watches is reached, see fs.inotify in sysctl"
		}
	}
	w.log.Warn("watch.failed", "error", why, "looked_at_every", w.pace.anyway.String())
}
