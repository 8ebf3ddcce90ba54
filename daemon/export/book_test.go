package export

import (
	"bytes"
	"context"
	"path/filepath"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// A made-up clinic. The numbers are from the range kept for fiction.
const settingsFile = `clinic:
  name: Pier Street Foot Clinic
  phone: 212-555-0142
  hours: Mon-Fri 8:30-17:00
  after hours: 212-555-0199
  emergency: 911
  zone: America/New_York
alerts: {spool: clinician}
`

const programFile = `program: steady
title: {en: Loading the calf}
approved: {by: J. Marlowe DPM, on: 2026-10-01}
length: 12 weeks
exercises:
  raise:
    kind: strength
    name: Heel raise on a step
    side: each
    how: Rise on one foot.
    care: Stop on sharp pain.
  calf:
    kind: stretch
    name: Wall calf stretch
    side: each
    how: Lean in.
    forms: {toes-in: "Turn the toes in, then lean."}
weeks:
  1:
    - {do: raise, sets: 3, reps: 12, on: every other day, rest: 2 min, load: 12RM, tempo: 3/2/3}
    - {do: calf, form: toes-in, reps: 3, hold: 20s, on: [mon, thu]}
  3:
    - {do: raise, sets: 4, reps: 10, load: {en: a light band}, on: 3 days a week, side: affected}
    - {do: calf, reps: 3, hold: 30s, sessions: 2}
wear: {first: 1h, add: 30 min, every: 2 days, full: 8h}
maintenance:
  for: 6 months
  messages: 2 a week
  doses:
    - {do: raise, sets: 2, reps: 10, load: body weight}
`

const enrollmentsFile = `enrollments:
  - id: ada-1
    name: Adalind
    program: steady
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: T. Okafor, covers: [export, texts]}
    spool: ada-box
    time: "09:00"
  - id: ben-2
    name: Benedikt
    proxy: {name: Gracelyn, relation: mother}
    program: steady
    dispensed: 2026-10-05
    affected: left
    tailor:
      - {exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}
      - {leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}
    devices: [{adjusted: 2026-10-06}, {remade: 2026-10-07}, {out: 2026-10-08}, {second pair: 2027-01-02}]
    consent: {on: 2026-10-05, how: in writing, by: T. Okafor, covers: export}
    spool: ben-box
    time: "09:00"
  - id: cy-3
    name: Cyprian
    program: steady
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: T. Okafor}
    spool: cy-box
    time: "09:00"
`

// oct5 is the first date of everybody.
var oct5 = rules.NewDate(2026, 10, 5)

// book is a journal that a test writes by hand, with its clinic.
type book struct {
	*testing.T
	j    *journal.Journal
	path string
	c    *config.Clinic
	revs map[string]int
}

func clinicOf(t *testing.T, enrollments string) *config.Clinic {
	t.Helper()
	files := []config.File{{Path: "enrollments.yaml", Data: []byte(enrollments)}, {Path: "programs/steady.yaml", Data: []byte(programFile)},
		{Path: "stepgate.yaml", Data: []byte(settingsFile)}}
	c, problems := config.LoadFiles(t.TempDir(), files, func(string) string { return "token" })
	if c == nil {
		t.Fatal(problems)
	}
	return c
}

func newBook(t *testing.T, enrollments string) *book {
	t.Helper()
	b := &book{T: t, path: filepath.Join(t.TempDir(), "journal.db"), c: clinicOf(t, enrollments), revs: map[string]int{}}
	b.open()
	t.Cleanup(b.close)
	return b
}

func (b *book) close() {
	b.Helper()
	if b.j == nil {
		return
	}
	if err := b.j.Close(); err != nil {
		b.Error(err)
	}
	b.j = nil
}

func (b *book) open() {
	b.Helper()
	var err error
	if b.j, err = journal.Open(b.path, journal.Options{NoSync: true}); err != nil {
		b.Fatal(err)
	}
}

func (b *book) add(events ...journal.Event) {
	b.Helper()
	err := b.j.Update(context.Background(), func(tx *journal.Tx) error {
		for _, e := range events {
			if _, err := tx.Append(e); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
}

// at is nine in the morning, New York, of the clinic's nth date, from 1.
func at(day, minutes int) time.Time {
	return time.Date(2026, 10, 4+day, 13, minutes, 0, 0, time.UTC)
}

func (b *book) enroll(ids ...string) {
	b.Helper()
	for _, id := range ids {
		b.revs[id] = 1
		due := at(1, 0)
		b.add(journal.Event{Kind: journal.Enrolled, ID: id, At: at(0, len(b.revs)), State: &rules.State{Rev: 1, Program: "steady"}, Due: &due})
	}
}

// daily is the message of the nth date, as it is intended and handed over.
func (b *book) daily(id string, day int, channel string, change func(*rules.Decision)) string {
	b.Helper()
	d := oct5 + rules.Date(day) - 1
	key := "daily/" + id + "/" + d.String()
	dec := rules.Decision{Date: d, Day: day, P: day, W: day, Step: 1, Steps: 2, State: rules.InActive, Why: rules.Reason{Code: rules.Tick},
		WearWhy: rules.Reason{Code: rules.Tick}, Wear: time.Hour, Send: true, Ask: rules.AskPain,
		Doses: []rules.Due{{Exercise: "raise"}, {Exercise: "calf"}}}
	if change != nil {
		change(&dec)
	}
	rev := b.revs[id]
	b.revs[id]++
	b.add(journal.Event{Kind: journal.Intended, ID: id, At: at(day, 0), Out: &journal.Out{Key: key, Kind: "daily", Channel: channel, To: "x",
		Text: "Hi there, heel raises today", Made: at(day, 0), Rev: rev, Decision: &dec, NextDue: at(day+1, 0),
		Next: &rules.State{Rev: rev + 1, Program: "steady", P: dec.P, W: dec.W, Decided: d}}},
		journal.Event{Kind: journal.HandedOut, ID: id, At: at(day, 1), Key: key})
	return key
}

func (b *book) settle(id, key string, day int, status journal.Status) {
	b.Helper()
	b.add(journal.Event{Kind: journal.Settled, ID: id, At: at(day, 2), Key: key, Result: &journal.Result{Status: string(status)}})
}

// hear takes a text of the nth date, the only one of it, as the rules would.
func (b *book) hear(id, channel, text string, day int, reading rules.Reading) {
	b.Helper()
	halves := map[rules.Done]int{rules.DoneAll: 2, rules.DoneSome: 1}
	st := &rules.State{Rev: b.revs[id], Program: "steady", P: day, W: day, Decided: oct5 + rules.Date(day) - 1,
		Heard: rules.Heard{Any: true, Score: reading.Pain, First: reading.FirstStep, Wear: reading.Wear, Halves: halves[reading.Done],
			None: reading.Done == rules.DoneNone, Skin: reading.Skin, SkinOK: reading.SkinOK, Flag: len(reading.Flags) > 0}}
	b.add(journal.Event{Kind: journal.Heard, ID: id, At: at(day, 30), State: st, In: &journal.In{Channel: channel, ID: "in-" + id + "-" + text,
		From: "x", Text: text, Came: at(day, 30), Day: oct5 + rules.Date(day) - 1, Reading: reading}})
}

// source exports the book; the folder says what the clinic in force does.
func (b *book) source() Source {
	return Source{Clinic: b.c, Folder: b.c, View: b.j.View, Now: at(9, 0)}
}

func (b *book) write(o Options) string {
	b.Helper()
	var out bytes.Buffer
	if err := Write(&out, b.source(), o); err != nil {
		b.Fatal(err)
	}
	return out.String()
}

// aWeek is a journal with something of everything.
func aWeek(t *testing.T) *book {
	t.Helper()
	b := newBook(t, enrollmentsFile)
	b.enroll("ada-1", "ben-2", "cy-3", "gone-4", "lost-5")
	four, hours := 4, 1.5
	b.settle("ada-1", b.daily("ada-1", 1, "spool", func(d *rules.Decision) { d.Ask = rules.AskFirstStep }), 1, journal.Sent)
	five := 5
	b.hear("ada-1", "spool", "D F5", 1, rules.Reading{Done: rules.DoneAll, FirstStep: &five})
	b.add(journal.Event{Kind: journal.Intended, ID: "ada-1", At: at(1, 31), Out: &journal.Out{Key: "answer/spool/in-ada-1-D F5", Kind: "answer",
		Channel: "spool", To: "x", Text: "First steps 5 noted", Made: at(1, 31)}})
	b.settle("ada-1", b.daily("ada-1", 2, "spool", nil), 2, journal.Rejected)
	b.hear("ada-1", "spool", "=4, \"some\"", 2, rules.Reading{Done: rules.DoneSome, Pain: &four, Wear: &hours, Skin: true, Call: true,
		Flags: []rules.RedFlag{{}}})
	b.settle("ada-1", b.daily("ada-1", 3, "spool", nil), 3, journal.Unknown)
	b.hear("ada-1", "spool", "n 4", 3, rules.Reading{Done: rules.DoneNone, Pain: &four, SkinOK: true})
	one := 1
	b.add(journal.Event{Kind: journal.Revised, ID: "ada-1", At: at(3, 40), State: &rules.State{Rev: 4, Program: "steady"},
		Entry: &rules.Entry{Kind: rules.EntryStrike, Report: oct5 + 2, By: "J. Marlowe DPM"}},
		journal.Event{Kind: journal.Revised, ID: "ada-1", At: at(3, 41), State: &rules.State{Rev: 4, Program: "steady"},
			Entry: &rules.Entry{Kind: rules.EntryReplace, Report: oct5 + 1, Score: &one, By: "J. Marlowe DPM"}})
	for day, news := range []string{journal.Delivered, journal.Undelivered, journal.NoNews} {
		key := b.daily("ben-2", day+1, "sms", nil)
		b.settle("ben-2", key, day+1, journal.Sent)
		b.add(journal.Event{Kind: journal.Delivery, ID: "ben-2", At: at(day+1, 5), Key: key, Result: &journal.Result{Status: news}})
	}
	b.hear("ben-2", "sms", "P4", 2, rules.Reading{Pain: &four})
	b.daily("ben-2", 4, "sms", func(d *rules.Decision) { d.Step, d.P = 2, 15 })
	b.add(journal.Event{Kind: journal.Decided, ID: "cy-3", At: at(1, 0), State: &rules.State{Rev: 2, Program: "steady"},
		Decision: &rules.Decision{Date: oct5, Day: -2, State: rules.InActive, Why: rules.Reason{Code: rules.NotBegun}, Rest: true, Eased: true}})
	b.settle("gone-4", b.daily("gone-4", 1, "spool", nil), 1, journal.Expired)
	b.add(journal.Event{Kind: journal.Removed, ID: "gone-4", At: at(2, 0)})
	b.settle("lost-5", b.daily("lost-5", 1, "spool", nil), 1, journal.Sent)
	err := b.j.Update(context.Background(), func(tx *journal.Tx) error { return tx.Erase("lost-5", at(2, 0), "admin", "asked for") })
	if err != nil {
		t.Fatal(err)
	}
	return b
}
