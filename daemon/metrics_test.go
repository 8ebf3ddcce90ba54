package daemon

import (
	"encoding/json"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"stepgate/notify"
)

// figure reads a metric: its value by its labels' values, joined.
func (c *clinic) figure(name string) map[string]float64 {
	c.t.Helper()
	families, err := c.s.meter.registry.Gather()
	if err != nil {
		c.t.Fatal(err)
	}
	out := map[string]float64{}
	for _, f := range families {
		if f.GetName() != name {
			continue
		}
		for _, m := range f.GetMetric() {
			var labels []string
			for _, l := range m.GetLabel() {
				labels = append(labels, l.GetValue())
			}
			out[strings.Join(labels, " ")] = m.GetCounter().GetValue() + m.GetGauge().GetValue()
		}
	}
	return out
}

func (c *clinic) wantFigure(name, labels string, want float64) {
	c.t.Helper()
	if got, ok := c.figure(name)[labels]; !ok || got != want {
		c.t.Errorf("%s{%s} is %v (there: %v), want %v; all: %v", name, labels, got, ok, want, c.figure(name))
	}
}

func TestMetricsCountWhatTheClinicDoes(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1), onSMS("p-02", "+12125550124"), onSpool("p-03"))
	c.sms.next(busy)
	c.morning("2026-10-05")
	c.reply("p-03", "D P9")
	c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: "D P1"})
	c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: "D P1"}) // again
	c.tick()
	c.wantFigure("stepgate_messages_total", "sms daily retry", 1)
	c.wantFigure("stepgate_messages_total", "spool daily sent", 1)
	c.wantFigure("stepgate_replies_total", "sms", 1)
	c.wantFigure("stepgate_replies_total", "spool", 1)
	c.wantFigure("stepgate_alerts_total", "pause", 1)
	c.wantFigure("stepgate_enrollments", "", 3)
	c.wantFigure("stepgate_queue_messages", "sms 1", 1)
	if f := c.figure("stepgate_last_send_timestamp_seconds"); f["spool"] == 0 {
		t.Errorf("last sends: %v", f)
	}
	for _, name := range []string{"stepgate_journal_bytes", "stepgate_disk_free_bytes", "process_open_fds", "go_goroutines"} {
		if c.figure(name)[""] <= 0 {
			t.Errorf("%s is %v", name, c.figure(name))
		}
	}
}

// What waits is told, and what has waited for too long is not well.
func TestHealthTellsOfTheQueue(t *testing.T) {
	c := newClinic(t, onSMS("p-01", phone1))
	c.morning("2026-10-05")
	if h := c.s.Health(); !h.OK || h.QueueOldest != 0 || h.LastSend.IsZero() {
		t.Fatalf("health: %+v", h)
	}
	c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: "D P2"}) // its answer waits: nobody sends
	c.at("2026-10-05 09:30")
	h := c.s.Health()
	if h.OK || h.UrgentOldest < 1000 || h.QueueOldest < h.UrgentOldest || !strings.Contains(strings.Join(h.Problems, "\n"), "has waited for") {
		t.Errorf("health: %+v", h)
	}
	c.wantFigure("stepgate_healthy", "", 0)
	c.wantFigure("stepgate_queue_urgent_oldest_seconds", "", h.UrgentOldest)
	c.send()
	if h := c.s.Health(); !h.OK || h.UrgentOldest != 0 {
		t.Errorf("health once it went out: %+v", h)
	}
}

// The rules of health that need no service to show them.
func TestHealthMeansSomething(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	good := c.s.figures()
	good.free = 1 << 40
	if h := c.s.health(good); !h.OK {
		t.Fatalf("health: %+v", h)
	}
	for word, change := range map[string]func(*figures){
		"disk":        func(f *figures) { f.free = leastFree - 1 },
		"alert":       func(f *figures) { f.urgent = urgentLate + time.Second },
		"certificate": func(f *figures) { f.certificate = c.clock.Now().Add(certificateSoon - time.Hour) },
	} {
		f := good
		change(&f)
		if h := c.s.health(f); h.OK || !strings.Contains(strings.Join(h.Problems, "\n"), word) {
			t.Errorf("%s: %+v", word, h)
		}
	}
	c.s.mu.Lock()
	c.s.tickedAt = time.Now().Add(-tickLate - time.Second)
	c.s.mu.Unlock()
	if h := c.s.health(good); h.OK {
		t.Errorf("no tick for long: %+v", h)
	}
}

// The address of monitoring answers two questions, and names nobody.
func TestWhatMonitoringAsks(t *testing.T) {
	p := onSMS("p-01", phone1)
	c := newClinic(t, p, onSpool("p-02"))
	c.morning("2026-10-05")
	c.take("sms", notify.Incoming{ID: "IN1", From: phone1, Text: "P9 Quillon here"})
	c.take("sms", notify.Incoming{ID: "IN2", From: stranger, Text: "who is this"})
	c.tick()
	web := httptest.NewServer(c.s.watched())
	defer web.Close()
	get := func(path string) (int, string) {
		res, err := http.Get(web.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = res.Body.Close() }()
		text, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(text)
	}
	status, metrics := get("/metrics")
	if status != 200 || !strings.Contains(metrics, "# TYPE stepgate_messages_total counter") {
		t.Fatalf("/metrics: %d\n%s", status, metrics)
	}
	own := regexp.MustCompile(`(?m)^(stepgate_[a-z_]+)`)
	unit := regexp.MustCompile(`_(total|seconds|bytes|messages|enrollments|healthy)$`)
	for _, m := range own.FindAllStringSubmatch(metrics, -1) {
		if !unit.MatchString(m[1]) {
			t.Errorf("%s has no unit in its name", m[1])
		}
	}
	status, text := get("/healthz")
	var h Health
	if err := json.Unmarshal([]byte(text), &h); err != nil || status != 200 || !h.OK || h.DiskFree == nil {
		t.Errorf("/healthz: %d, %v\n%s", status, err, text)
	}
	c.s.trouble("test", "something is not well")
	if status, text := get("/healthz"); status != http.StatusServiceUnavailable || !strings.Contains(text, "something is not well") {
		t.Errorf("/healthz with trouble: %d %s", status, text)
	}
	if status, _ := get("/"); status != http.StatusNotFound {
		t.Errorf("/: %d", status)
	}
	for _, word := range []string{"p-01", "p-02", "Quillon", phone1[1:], stranger[1:], ourNumber[1:], "box-"} {
		if strings.Contains(metrics+text, word) {
			t.Errorf("%s stands in what monitoring sees", word)
		}
	}
}

// TestMetricsAreListed holds what the service shows against the README's list,
// which is a contract.
func TestMetricsAreListed(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	c := newClinic(t, onSpool("p-01"))
	descs := make(chan *prometheus.Desc, 100)
	gauges{c.s}.Describe(descs)
	for _, v := range []*prometheus.CounterVec{c.s.meter.messages, c.s.meter.replies, c.s.meter.alerts, c.s.meter.refused, c.s.meter.errors} {
		v.Describe(descs)
	}
	close(descs)
	name := regexp.MustCompile(`fqName: "([^"]+)"`)
	shown := map[string]bool{}
	for d := range descs {
		shown[name.FindStringSubmatch(d.String())[1]] = true
	}
	listed := map[string]bool{}
	for _, m := range regexp.MustCompile("`(stepgate_[a-z_]+)`").FindAllStringSubmatch(string(readme), -1) {
		listed[m[1]] = true
	}
	if len(shown) < 10 || !maps.Equal(shown, listed) {
		t.Errorf("shown: %v\nlisted: %v", shown, listed)
	}
}
