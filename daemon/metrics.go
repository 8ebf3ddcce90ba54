package daemon

import (
	"context"
	"log/slog"
	"strings"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"golang.org/x/time/rate"
)

// meter counts what the service does, for monitoring. It counts by the log: a
// line is an event, and its attributes are the labels. So there is one place
// that counts, and nothing about a person can get in that may not be logged.
type meter struct {
	registry *prometheus.Registry
	messages *prometheus.CounterVec
	replies  *prometheus.CounterVec
	alerts   *prometheus.CounterVec
	refused  *prometheus.CounterVec
	errors   *prometheus.CounterVec

	// lines bounds how often hook.refused is printed: who is turned away must not
	// be able to fill the disk.
	lines *rate.Limiter

	mu   sync.Mutex
	sent map[string]time.Time // channel: when it last took a message, by the machine's clock
}

func newMeter() *meter {
	m := &meter{registry: prometheus.NewRegistry(), lines: rate.NewLimiter(1, 60), sent: map[string]time.Time{}}
	counter := func(name, help string, labels ...string) *prometheus.CounterVec {
		c := prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: "stepgate", Name: name, Help: help}, labels)
		m.registry.MustRegister(c)
		return c
	}
	m.messages = counter("messages_total", "What became of messages: one is counted at each try, and once more when the carrier tells whether it arrived.", "channel", "kind", "outcome")
	m.replies = counter("replies_total", "Messages of patients that were committed.", "channel")
	m.alerts = counter("alerts_total", "Alerts to the clinic's people that were written down.", "kind")
	m.refused = counter("hook_refused_total", "Requests and connections from outside that were turned away.", "reason")
	m.errors = counter("errors_total", "Log lines of level ERROR.", "event")
	m.registry.MustRegister(collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

func (m *meter) refuse(reason string) { m.refused.WithLabelValues(reason).Inc() }

// lastSent is when any channel last took a message since the start.
func (m *meter) lastSent() (last time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, t := range m.sent {
		last = latest(last, t)
	}
	return last
}

// outcomes are the events out.* that say what became of a message.
var outcomes = map[string]bool{"sent": true, "retry": true, "rejected": true, "unknown": true, "expired": true,
	"withdrawn": true, "delivered": true, "undelivered": true}

// line counts one line of the log.
func (m *meter) line(r slog.Record) {
	if r.Level >= slog.LevelError {
		m.errors.WithLabelValues(r.Message).Inc()
	}
	said := func(name string) (value string) {
		r.Attrs(func(a slog.Attr) bool {
			if a.Key == name {
				value = a.Value.String()
			}
			return value == ""
		})
		return value
	}
	switch r.Message {
	case "in.taken":
		m.replies.WithLabelValues(said("channel")).Inc()
	case "alert.made":
		m.alerts.WithLabelValues(said("cause")).Inc()
	case "hook.refused":
		m.refuse(said("reason"))
	}
	outcome, ok := strings.CutPrefix(r.Message, "out.")
	if !ok || !outcomes[outcome] {
		return
	}
	channel := said("channel")
	m.messages.WithLabelValues(channel, said("kind"), outcome).Inc()
	if outcome == "sent" {
		m.mu.Lock()
		m.sent[channel] = r.Time
		m.mu.Unlock()
	}
}

// lineCounter is a log handler that has the lines counted.
type lineCounter struct {
	slog.Handler
	m *meter
}

// Enabled lets every line by: one that is not printed counts all the same.
func (c lineCounter) Enabled(context.Context, slog.Level) bool { return true }

func (c lineCounter) Handle(ctx context.Context, r slog.Record) error {
	c.m.line(r)
	if !c.Handler.Enabled(ctx, r.Level) || r.Message == "hook.refused" && !c.m.lines.Allow() {
		return nil
	}
	return c.Handler.Handle(ctx, r)
}

func (c lineCounter) WithAttrs(attrs []slog.Attr) slog.Handler {
	return lineCounter{c.Handler.WithAttrs(attrs), c.m}
}
func (c lineCounter) WithGroup(name string) slog.Handler {
	return lineCounter{c.Handler.WithGroup(name), c.m}
}

// gauges are read when somebody looks.
type gauges struct{ s *Service }

var (
	descQueue    = desc("queue_messages", "Messages that wait to be handed over.", "lane")
	descOldest   = desc("queue_oldest_seconds", "How long the oldest of them has waited.")
	descUrgent   = desc("queue_urgent_oldest_seconds", "How long the oldest answer or alert has waited.")
	descTick     = desc("last_tick_timestamp_seconds", "When the last tick ended well.")
	descSend     = desc("last_send_timestamp_seconds", "When a channel last took a message.", "channel")
	descEnrolled = desc("enrollments", "Enrollments in the files in force.")
	descJournal  = desc("journal_bytes", "Size of the journal.")
	descDisk     = desc("disk_free_bytes", "Room for the service on the disk of the journal.")
	descCert     = desc("certificate_expiry_timestamp_seconds", "When the web listener's own certificate ends.")
	descHealthy  = desc("healthy", "1 where /healthz says 200.")
)

func desc(name, help string, labels ...string) *prometheus.Desc {
	return prometheus.NewDesc("stepgate_"+name, help, labels, nil)
}

// Describe tells the registry what there is.
func (g gauges) Describe(out chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descQueue, descOldest, descUrgent, descTick, descSend, descEnrolled,
		descJournal, descDisk, descCert, descHealthy} {
		out <- d
	}
}

// Collect reads all of it. What is not known is left out.
func (g gauges) Collect(out chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		out <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	since := func(d *prometheus.Desc, t time.Time, labels ...string) {
		if !t.IsZero() {
			gauge(d, float64(t.UnixMilli())/1000, labels...)
		}
	}
	f := g.s.figures()
	for lane, n := range f.lanes {
		gauge(descQueue, float64(n), lane)
	}
	gauge(descOldest, f.oldest.Seconds())
	gauge(descUrgent, f.urgent.Seconds())
	gauge(descEnrolled, float64(f.enrolled))
	if f.measured {
		gauge(descJournal, float64(f.journal))
		gauge(descDisk, float64(f.free))
	}
	h := g.s.health(f)
	since(descTick, h.LastTick)
	since(descCert, f.certificate)
	gauge(descHealthy, map[bool]float64{true: 1}[h.OK])
	m := g.s.meter
	m.mu.Lock()
	defer m.mu.Unlock()
	for channel, t := range m.sent {
		since(descSend, t, channel)
	}
}
