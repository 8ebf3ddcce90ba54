package demo_test

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// course is one patient on a published protocol: the real service, journal and
// spool on a clock that is set.
type course struct {
	t       *testing.T
	zone    *time.Location
	start   rules.Date
	spool   string
	clock   *daemon.SetClock
	svc     *daemon.Service
	journal *journal.Journal
	seen    map[string]bool // messages read so far
	drops   int
}

// begin enrolls a patient on a published protocol, with more lines of the
// enrollment if wanted.
func begin(t *testing.T, program string, more ...string) *course {
	t.Helper()
	file, err := os.ReadFile(filepath.Join("..", "..", "testdata", "protocols", program+".yaml"))
	if err != nil {
		t.Fatal(err)
	}
	c, problems := loadProgram(t, program, file, more...)
	if c == nil {
		t.Fatalf("the program is refused:\n%v", problems)
	}
	for _, p := range problems {
		// Some protocols as published ask for more than the three that check advises.
		if !p.Warning || !strings.Contains(p.What, "not approved") && !strings.Contains(p.What, "exercises on one day") {
			t.Fatalf("the program has a problem: %v", p)
		}
	}
	return open(t, c)
}

// loadProgram puts a program into a clinic's folder with one patient on it. The
// clocks go forward on day 14 of the course (2026-03-08 in New York): no dose
// may come twice or not at all for that.
func loadProgram(t *testing.T, program string, file []byte, more ...string) (*config.Clinic, config.Problems) {
	t.Helper()
	dir := t.TempDir()
	files := map[string]string{
		"programs/" + program + ".yaml": string(file),
		"stepgate.yaml": `clinic:
  name: Harbor Foot Clinic
  phone: 212-555-0142
  hours: Mon-Fri 8:30-17:00
  after hours: 212-555-0199
  emergency: 911
  zone: America/New_York
alerts: {spool: clinician}
`,
		"enrollments.yaml": fmt.Sprintf(`enrollments:
  - id: p-01
    name: Rosa
    program: %s
    dispensed: 2026-02-23
    affected: left
    consent: {on: 2026-02-23, how: in writing, by: J. Marlowe DPM}
    spool: rosa
    time: "09:00"
`, program) + strings.Join(more, ""),
	}
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return config.Load(dir, func(string) string { return "" })
}

func open(t *testing.T, c *config.Clinic) *course {
	t.Helper()
	if err := os.MkdirAll(c.Data, 0o700); err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(filepath.Join(c.Data, "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := j.Verify(); err != nil {
			t.Errorf("the journal: %v", err)
		}
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	x := &course{t: t, journal: j, zone: c.Zone, start: c.Enrollments.At(0).Start, clock: &daemon.SetClock{}, seen: map[string]bool{},
		spool: filepath.Join(c.Spool.Dir, "rosa")}
	x.set(1, 7)
	log := slog.New(slog.DiscardHandler)
	spool := notify.NewSpool(c.Spool.Dir, notify.SpoolOptions{Log: log, Now: x.clock.Now})
	x.svc, err = daemon.NewService(daemon.Options{Journal: j, Words: words, Log: log, Clock: x.clock, Made: true,
		Channels: map[string]daemon.Channel{"spool": {Sender: spool, Receive: spool}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := x.svc.Accept(context.Background(), c); err != nil {
		t.Fatal(err)
	}
	return x
}

// set puts the clock to an hour of a day of the course, counted from 1.
func (x *course) set(day, hour int) {
	y, m, d := (x.start + rules.Date(day) - 1).Civil()
	x.clock.Set(time.Date(y, m, d, hour, 0, 0, 0, x.zone))
}

// tick is what the running service does once a minute.
func (x *course) tick() {
	x.t.Helper()
	ctx := context.Background()
	x.svc.Collect(ctx)
	if err := x.svc.Tick(ctx); err != nil {
		x.t.Fatal(err)
	}
	if err := x.svc.SendWaiting(ctx); err != nil {
		x.t.Fatal(err)
	}
}

// live plays the days of a course, a tick every three hours, and returns the
// daily text of each, empty where none was written. reply is the answer of
// each evening.
func (x *course) live(days int, reply func(day int) string) []string {
	x.t.Helper()
	texts := make([]string, days+1) // by day; none has number 0
	for day := 1; day <= days; day++ {
		for hour := 0; hour < 24; hour += 3 {
			x.set(day, hour)
			if hour == 18 {
				x.drop(reply(day))
			}
			x.tick()
			for _, text := range x.arrived() {
				if !strings.HasPrefix(text, x.clock.Now().Format("Mon Jan 2")) {
					continue // an answer
				}
				if texts[day] != "" || hour != 9 {
					x.t.Fatalf("day %d at %d:00: a daily text\n%s\nafter\n%s", day, hour, text, texts[day])
				}
				texts[day] = text
			}
		}
	}
	return texts
}

// drop answers as the patient's phone does.
func (x *course) drop(text string) {
	x.t.Helper()
	x.drops++
	in := filepath.Join(x.spool, "in")
	if err := os.MkdirAll(in, 0o700); err != nil {
		x.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(in, fmt.Sprintf("%04d.txt", x.drops)), []byte(text+"\n"), 0o600); err != nil {
		x.t.Fatal(err)
	}
}

// arrived are the messages written to the spool since the last look.
func (x *course) arrived() []string {
	x.t.Helper()
	names, err := filepath.Glob(filepath.Join(x.spool, "out", "*.txt"))
	if err != nil {
		x.t.Fatal(err)
	}
	var texts []string
	for _, name := range names {
		if x.seen[name] {
			continue
		}
		x.seen[name] = true
		b, err := os.ReadFile(name)
		if err != nil {
			x.t.Fatal(err)
		}
		texts = append(texts, string(b))
	}
	return texts
}
