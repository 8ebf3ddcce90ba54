package main

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"stepgate/config"
	"stepgate/daemon"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

const (
	account = "AC00000000000000000000000000000001"
	token   = "nobodystoken"
	ours    = "+12125550100"
	webhook = "https://clinic.example/sms"
)

// begins is the first date of everybody enrolled.
var begins = rules.NewDate(2026, time.October, 5)

const settings = `clinic: {name: Harbor Foot Clinic, phone: 212-555-0142, hours: "Mon-Fri 8:30-17:00", after hours: 212-555-0199, emergency: 911, zone: America/New_York}
alerts: {spool: clinician}
`

const patient = `  - {id: p-%07d, name: Rosa, program: heel-pain, dispensed: %s, affected: left, spool: box-%07d, time: "09:00",
     consent: {on: 2026-10-05, how: signed at the visit, by: J. Marlowe DPM}}
`

// folder writes a clinic's folder with so many patients, a thousand to a file, whose
// devices are handed over on a date.
func folder(dir string, people int, dispensed rules.Date) error {
	program, err := fs.ReadFile(templates.Starters(), "heel-pain.yaml")
	if err != nil {
		return err
	}
	files := map[string][]byte{"stepgate.yaml": []byte(settings), "programs/heel-pain.yaml": program}
	for from := 0; from < people; from += 1000 {
		text := []byte("enrollments:\n")
		for i := from; i < min(from+1000, people); i++ {
			text = fmt.Appendf(text, patient, i, dispensed, i)
		}
		files[fmt.Sprintf("enrollments/%04d.yaml", from/1000)] = text
	}
	for name, text := range files {
		at := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(at), 0o700); err != nil {
			return err
		}
		if err := os.WriteFile(at, text, 0o600); err != nil {
			return err
		}
	}
	return nil
}

func read(dir string) (*config.Clinic, error) {
	c, problems := config.Load(dir, os.Getenv)
	if c == nil {
		return nil, problems.Errors()
	}
	return c, nil
}

// clinic is a clinic of so many patients, as if it had been read from files.
// Their numbers are made up, and not from the range kept for fiction, which
// holds too few: they only ever meet the carrier in this process.
func clinic(dir string, people int, channel string) (*config.Clinic, error) {
	if err := folder(dir, 1, begins); err != nil {
		return nil, err
	}
	c, err := read(dir)
	if err != nil {
		return nil, err
	}
	like := c.Enrollments.At(0)
	c.Enrollments = config.CollectRoll(func(yield func(*config.Enrollment) bool) {
		for i := range people {
			e := *like
			e.ID, e.Address = fmt.Sprintf("p-%07d", i), config.Address{Channel: channel, To: number(i)}
			if !yield(&e) {
				return
			}
		}
	})
	return c, nil
}

func number(i int) string { return fmt.Sprintf("+1%010d", 2000000000+i) }

// service is a running clinic in this process.
type service struct {
	*daemon.Service
	clinic  *config.Clinic
	journal *journal.Journal
	clock   *clock
}

func (s *service) close() error { return s.journal.Close() }

// open opens a service of so many patients who are reached by a sender, at
// eight in the morning of the first date.
func open(ctx context.Context, dir string, people, workers int, ch daemon.Channel, how journal.Options) (*service, error) {
	c, err := clinic(filepath.Join(dir, "clinic"), people, "sms")
	if err != nil {
		return nil, err
	}
	words, err := templates.New()
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(filepath.Join(dir, "journal.db"), how)
	if err != nil {
		return nil, err
	}
	s := &service{clinic: c, journal: j, clock: &clock{}}
	s.at(begins, 8, 0)
	s.Service, err = daemon.NewService(daemon.Options{Journal: j, Words: words, Log: quiet, Clock: s.clock,
		Workers: workers, Made: true, Channels: map[string]daemon.Channel{"sms": ch}})
	if err == nil {
		err = s.Accept(ctx, c)
	}
	daemon.BoundMemory(people)
	return s, err
}

// clock runs on from wherever it is set.
type clock struct{ ahead atomic.Int64 }

func (c *clock) Now() time.Time { return time.Now().Add(time.Duration(c.ahead.Load())) }

func (c *clock) set(t time.Time) { c.ahead.Store(int64(time.Until(t))) }

// at sets the clock.
func (s *service) at(d rules.Date, hour, minute int) {
	s.clock.set(daemon.LocalInstant(d, config.Clock(60*hour+minute), s.clinic.Zone))
}

// waiting counts the messages of the outbox that have no outcome yet.
func (s *service) waiting() (n int, err error) {
	err = s.journal.View(func(tx *journal.Tx) error {
		n = 0
		for _, lane := range tx.Lanes() {
			k, _ := tx.Backlog(lane)
			n += k
		}
		handed, err := tx.HandedRows()
		n += len(handed)
		return err
	})
	return n, err
}

// takes is a sender that takes everything, in no time, and counts the days'
// texts among it.
type takes struct{ all, days atomic.Int64 }

func (t *takes) Send(_ context.Context, m notify.Message) notify.Result {
	if strings.HasPrefix(m.Key, "day/") {
		t.days.Add(1)
	}
	return notify.Result{Status: notify.Sent, ID: fmt.Sprintf("SM%032x", t.all.Add(1))}
}

func (t *takes) Settle(context.Context, notify.Message) notify.Result {
	return notify.Result{Status: notify.Sent}
}

// silent is a channel on which nothing comes in.
type silent struct{}

func (silent) Collect(context.Context, notify.Take) error { return nil }
