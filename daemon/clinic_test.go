package daemon

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/templates"
)

// Everything in these files is invented. The numbers are from the ranges kept
// for fiction, the mail domains from RFC 2606.
const (
	clinicToken = "canarytoken5d1c"
	newYork     = "America/New_York"
)

const settingsYAML = `clinic:
  name: Harbor Foot Clinic
  phone: 212-555-0142
  hours: Mon-Fri 8:30-17:00
  after hours: 212-555-0199
  emergency: 911
  zone: America/New_York
texting: {from: "08:00", to: "21:00"}
grace: 10m
alerts: {spool: clinician-box}
digest: off
sms:
  account: ACdemo0001
  token: {env: SMS_TOKEN}
  from: "+12125550100"
  listen: 127.0.0.1:8090
  public: https://clinic.example.com/sms
email:
  host: mail.example.com
  from: clinic@example.com
`

// A block a week, so that steps are reached within a story.
const programYAML = `program: steady
title: Settling into your inserts
approved: {by: J. Marlowe DPM, on: 2026-10-01}
length: 8 weeks
exercises:
  calf:
    kind: stretch
    name: Wall calf stretch
    side: each
    how: Lean toward the wall until the calf pulls.
weeks:
  1:
    - {do: calf, reps: 3, hold: 10s, sessions: 2}
  2:
    - {do: calf, reps: 6, hold: 10s, sessions: 2}
  3:
    - {do: calf, reps: 9, hold: 10s, sessions: 2}
wear: {first: 1h, add: 30 min, every: 1 day, full: 8h}
`

// enrolled is one enrollment as its file says it.
type enrolled struct {
	id, name string
	channel  string // spool unless said otherwise
	to       string
	zone     string // the clinic's unless said otherwise
	time     string // 09:00 unless said otherwise
	program  string // steady unless said otherwise
	from     string // dispensed; 2026-10-05 unless said otherwise
	entries  []string
	more     string // other lines, as they stand in the file
}

func (p *enrolled) yaml() string {
	var b strings.Builder
	fmt.Fprintf(&b, "  - id: %s\n    name: %s\n    program: %s\n    dispensed: %s\n", p.id, p.name,
		cmp.Or(p.program, "steady"), cmp.Or(p.from, "2026-10-05"))
	fmt.Fprintf(&b, "    consent: {on: 2026-10-01, how: in writing, by: J. Marlowe DPM}\n")
	fmt.Fprintf(&b, "    %s: %q\n    time: %q\n", p.channel, p.to, cmp.Or(p.time, "09:00"))
	if p.zone != "" {
		fmt.Fprintf(&b, "    zone: %s\n", p.zone)
	}
	b.WriteString(p.more)
	for i, e := range p.entries {
		if i == 0 {
			b.WriteString("    entries:\n")
		}
		fmt.Fprintf(&b, "      - {%s, by: J. Marlowe DPM}\n", e)
	}
	return b.String()
}

// onSpool and onSMS are patients of a story. Their names stand nowhere else.
func onSpool(id string) *enrolled {
	return &enrolled{id: id, name: "Quillon", channel: "spool", to: "box-" + id}
}

func onSMS(id, number string) *enrolled {
	return &enrolled{id: id, name: "Quillon", channel: "sms", to: number}
}

// clinic is a clinic of a test: real files, journal and spool, a clock that
// is set, and carriers that do as they are told.
type clinic struct {
	t        *testing.T
	dir      string
	settings string
	programs map[string]string // by id
	patients []*enrolled
	clock    Clock
	set      *SetClock // the clock, where it is one that is set
	zone     *time.Location
	logs     *logs
	j        *journal.Journal
	s        *Service
	spool    *notify.Spool
	sms      *carrier
	email    *carrier
	channels map[string]Channel
	workers  int
	numbers  []config.SMSNumber // of ours; one that has no bound unless said otherwise
	replies  int                // dropped so far, for the names of their files

	revive func() // gives back the sender of a process that died
}

// newClinic opens a clinic on 2026-10-05, the day the devices are dispensed,
// at 07:00 in New York.
func newClinic(t *testing.T, patients ...*enrolled) *clinic {
	t.Helper()
	t.Parallel() // most of a test's time goes by waiting for the spool's disk
	return loneClinic(t, patients...)
}

// loneClinic is the same, but alone.
func loneClinic(t *testing.T, patients ...*enrolled) *clinic {
	t.Helper()
	set := &SetClock{}
	c := bareClinic(t, set, patients...)
	c.set = set
	c.at("2026-10-05 07:00")
	c.open()
	return c
}

// bareClinic is a clinic whose files are not written yet and whose service
// does not exist yet; see [clinic.open].
func bareClinic(t *testing.T, clock Clock, patients ...*enrolled) *clinic {
	t.Helper()
	zone, err := time.LoadLocation(newYork)
	if err != nil {
		t.Fatal(err)
	}
	c := &clinic{t: t, dir: t.TempDir(), settings: settingsYAML, programs: map[string]string{"steady": programYAML},
		patients: patients, clock: clock, zone: zone, logs: &logs{}, sms: &carrier{}, email: &carrier{},
		numbers: []config.SMSNumber{{Number: ourNumber, Rate: 1000}}}
	t.Cleanup(c.close)
	return c
}

// open writes the files, and starts the service.
func (c *clinic) open() {
	c.t.Helper()
	c.write()
	if err := os.MkdirAll(c.data(), 0o700); err != nil {
		c.t.Fatal(err)
	}
	c.spool = notify.NewSpool(filepath.Join(c.data(), "spool"),
		notify.SpoolOptions{Log: c.log(), Now: c.clock.Now, Settle: time.Hour})
	c.channels = map[string]Channel{
		"spool": {Sender: c.spool, Receive: c.spool},
		"sms": {Sender: c.sms, Receive: c.sms, Confirms: c.sms.confirms, LookAgain: time.Minute, News: c.sms.news,
			NewsEvery: 10 * time.Minute, Undelivered: 2, Numbers: c.numbers},
		"email": {Sender: c.email, Receive: c.email},
	}
	c.start()
}

func (c *clinic) data() string      { return filepath.Join(c.dir, "data") }
func (c *clinic) log() *slog.Logger { return slog.New(slog.NewTextHandler(c.logs, nil)) }

// sharedWords are read once for all tests; they are safe to share.
var sharedWords = sync.OnceValues(templates.New)

// start begins a service on the journal, as a new process would.
func (c *clinic) start() {
	c.t.Helper()
	if c.j != nil {
		c.t.Fatal("the service runs already")
	}
	set, err := sharedWords()
	if err != nil {
		c.t.Fatal(err)
	}
	if c.j, err = journal.Open(filepath.Join(c.data(), "journal.db"), journal.Options{NoSync: true}); err != nil {
		c.t.Fatal(err)
	}
	c.s, err = NewService(Options{Journal: c.j, Words: set, Log: c.log(), Clock: c.clock, Workers: c.workers})
	if err != nil {
		c.t.Fatal(err)
	}
	x := &serving{o: ServeOptions{Dir: c.dir, Getenv: env, Log: c.log()}, j: c.j, load: c.load, svc: c.s}
	loaded, problems := c.load()
	if _, err := x.putInForce(context.Background(), loaded, problems); err != nil {
		c.t.Fatal(err)
	}
	c.s.o.Channels = c.channels
	if err := c.s.Recover(context.Background()); err != nil {
		c.t.Fatal(err)
	}
}

// die is what a killed process leaves: nothing more is written.
func (c *clinic) die() {
	c.t.Helper()
	if err := c.j.Close(); err != nil {
		c.t.Fatal(err)
	}
	c.j = nil
}

func (c *clinic) restart() {
	c.t.Helper()
	c.die()
	c.start()
}

// close ends every test: the journal must be whole, and the log must have
// kept quiet about people.
func (c *clinic) close() {
	if c.j == nil {
		return
	}
	if _, err := c.j.Verify(); err != nil {
		c.t.Errorf("the journal at the end of the test: %v", err)
	}
	c.view(func(tx *journal.Tx) error {
		again, err := redecide(tx, c.dir, false)
		if err != nil || len(again.Differ) > 0 {
			c.t.Errorf("decided again: %+v, %v", again, err)
		}
		return err
	})
	c.keepsQuiet()
	if err := c.j.Close(); err != nil {
		c.t.Error(err)
	}
}

func env(name string) string {
	return map[string]string{"SMS_TOKEN": clinicToken}[name]
}

func (c *clinic) load() (*config.Clinic, config.Problems) { return config.Load(c.dir, env) }

// write writes the clinic's files as they stand in c.
func (c *clinic) write() {
	c.t.Helper()
	enrollments := "enrollments:\n"
	for _, p := range c.patients {
		enrollments += p.yaml()
	}
	files := map[string]string{"stepgate.yaml": c.settings, "enrollments.yaml": enrollments}
	for id, text := range c.programs {
		files["programs/"+id+".yaml"] = text
	}
	for name, text := range files {
		c.writeFile(name, text)
	}
}

func (c *clinic) writeFile(name, text string) {
	c.t.Helper()
	path := filepath.Join(c.dir, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		c.t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		c.t.Fatal(err)
	}
}

// patient is one of the clinic's, to be edited before a reload.
func (c *clinic) patient(id string) *enrolled {
	c.t.Helper()
	i := slices.IndexFunc(c.patients, func(p *enrolled) bool { return p.id == id })
	if i < 0 {
		c.t.Fatalf("no patient %s", id)
	}
	return c.patients[i]
}

// reload writes the files and has the service read them, as SIGHUP does.
func (c *clinic) reload() error {
	c.t.Helper()
	c.write()
	return c.s.Reload(context.Background(), c.load)
}

func (c *clinic) mustReload() {
	c.t.Helper()
	if err := c.reload(); err != nil {
		c.t.Fatalf("reload: %v", err)
	}
}
