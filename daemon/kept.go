package daemon

import (
	"context"
	"log/slog"

	"stepgate/config"
)

// kept keeps beside the journal what reading the files of enrollments gave, so
// that a start reads only those that changed. Whatever is wrong with it, the
// files are read and the service goes on.
type kept struct {
	reader config.Reader
	log    *slog.Logger
}

// load reads the clinic's files.
func (k *kept) load() (*config.Clinic, config.Problems) {
	unboundMemory() // the clinic in force is held as well
	c, problems, news := k.reader.Load()
	if news.Why != "" {
		k.log.Warn("kept.unused", "why", news.Why)
	}
	if news.Used > 0 {
		k.log.Info("kept.used", "files", news.Used, "read", news.Read)
	}
	return c, problems
}

// keep keeps what was read, of a clinic that came into force.
func (k *kept) keep(ctx context.Context, c *config.Clinic) {
	if err := k.reader.Keep(c); err != nil {
		k.log.WarnContext(ctx, "kept.failed", "error", err.Error())
	}
}
