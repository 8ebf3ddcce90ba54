package main

import (
	"context"
	"io"
	"log/slog"

	"github.com/coreos/go-systemd/v22/journal"
)

// newLog writes the service's log. What standard error is, systemd's journal or
// anything else, is told by JOURNAL_STREAM: see systemd.exec(5).
func newLog(w io.Writer) *slog.Logger {
	if toJournal, err := journal.StderrIsJournalStream(); err == nil && toJournal {
		return slog.New(newJournalHandler(w))
	}
	return slog.New(slog.NewTextHandler(w, nil))
}

// journalHandler writes lines for systemd's journal: it keeps the time itself,
// and takes the priority from the start of a line, see sd-daemon(3).
type journalHandler struct{ info, warn, err slog.Handler }

func newJournalHandler(w io.Writer) journalHandler {
	o := &slog.HandlerOptions{ReplaceAttr: func(groups []string, a slog.Attr) slog.Attr {
		if len(groups) == 0 && a.Key == slog.TimeKey && a.Value.Kind() == slog.KindTime {
			return slog.Attr{}
		}
		return a
	}}
	by := func(priority string) slog.Handler { return slog.NewTextHandler(prefixed{w, priority}, o) }
	return journalHandler{by("<6>"), by("<4>"), by("<3>")}
}

func (h journalHandler) of(l slog.Level) slog.Handler {
	switch {
	case l >= slog.LevelError:
		return h.err
	case l >= slog.LevelWarn:
		return h.warn
	}
	return h.info
}

func (h journalHandler) Enabled(ctx context.Context, l slog.Level) bool {
	return h.of(l).Enabled(ctx, l)
}

func (h journalHandler) Handle(ctx context.Context, r slog.Record) error {
	return h.of(r.Level).Handle(ctx, r)
}

func (h journalHandler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return journalHandler{h.info.WithAttrs(attrs), h.warn.WithAttrs(attrs), h.err.WithAttrs(attrs)}
}

func (h journalHandler) WithGroup(name string) slog.Handler {
	return journalHandler{h.info.WithGroup(name), h.warn.WithGroup(name), h.err.WithGroup(name)}
}

// prefixed puts a word before each line, and hands both on in one piece.
type prefixed struct {
	w    io.Writer
	word string
}

func (p prefixed) Write(line []byte) (int, error) {
	if _, err := p.w.Write(append([]byte(p.word), line...)); err != nil {
		return 0, err
	}
	return len(line), nil
}
