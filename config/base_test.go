package config

import (
	"strings"
	"testing"
)

// A good folder with every channel set up, which the tests spoil one rule at a
// time. Everything in it is invented.
const baseSettings = `clinic:
  name: Harbor Foot Clinic
  phone: 212-555-0142
  hours: Mon-Fri 8:30-17:00
  after hours: 212-555-0199
  emergency: 911
  zone: America/New_York
texting: {from: "08:00", to: "20:00"}
grace: 10m
data: data
alerts: {email: clinician@example.com}
spool: {dir: data/spool}
sms:
  account: ACdemo0001
  token: {env: SMS_TOKEN}
  from: "+12125550100"
  listen: 127.0.0.1:8090
  public: https://clinic.example.com/sms
email:
  host: mail.example.com
  from: clinic@example.com
  user: clinic
  password: {env: MAIL_PASSWORD}
  tls: tls
`

const baseProgram = `program: steady
title: {en: Settling into your inserts}
approved: {by: J. Marlowe DPM, on: 2026-10-01}
length: 6 weeks
exercises:
  calf:
    kind: stretch
    name: Wall calf stretch
    side: each
    needs: [wall]
    how: Lean in.
  band:
    kind: strength
    name: {en: Turn out}
    how: Turn the foot out.
weeks:
  1:
    - {do: calf, reps: 3, hold: 10s, sessions: 2}
  3:
    - {do: calf, sets: 2, reps: 3, hold: 20 s}
    - {do: band, reps: 10, on: every other day, side: affected}
wear: {first: 1h, add: 30 min, every: 2 days, full: 8h}
pain: {steady: 2, hold: 5, step back: 6, pause: 9, clear days: 3}
advance: {done: 80%, of last: 1 week, scores: 3}
`

const baseEnrollments = `enrollments:
  - id: ada-1
    name: Ada
    program: steady
    dispensed: 2026-10-05
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    sms: "+12125550123"
    time: 09:00
  - id: ben-2
    name: Ben
    program: steady
    dispensed: 2026-10-05
    start: 2026-10-12
    affected: left
    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}
    spool: ben
    language: en
    zone: America/Chicago
    time: 18:30
    entries:
      - {hold: 2026-10-20, by: J. Marlowe DPM, why: swollen}
      - {release: 2026-10-22, by: J. Marlowe DPM}
      - {cap: 2, on: 2026-10-22, by: J. Marlowe DPM}
      - {cap: none, on: 2026-10-30, by: J. Marlowe DPM}
      - {confirm contact: 2026-11-01, by: J. Marlowe DPM}
`

const (
	smsCanary  = "canary-token-5d1c"
	mailCanary = "canary-password-77fe"
)

// env is the environment of the tests.
func env(name string) string {
	return map[string]string{"SMS_TOKEN": smsCanary, "MAIL_PASSWORD": mailCanary}[name]
}

// base returns the good files by path.
func base() map[string]string {
	return map[string]string{
		"stepgate.yaml":        baseSettings,
		"programs/steady.yaml": baseProgram,
		"enrollments.yaml":     baseEnrollments,
	}
}

// filesOf turns contents into files.
func filesOf(contents map[string]string) []File {
	var out []File
	for path, text := range contents {
		out = append(out, NewFile(path, []byte(text)))
	}
	return out
}

// edit replaces the one place where old stands.
func edit(t *testing.T, text, old, with string) string {
	t.Helper()
	if n := strings.Count(text, old); n != 1 {
		t.Fatalf("%q stands %d times in the file, want once", old, n)
	}
	return strings.Replace(text, old, with, 1)
}

// loadEdited loads a good folder with one place of one file replaced.
func loadEdited(t *testing.T, files map[string]string, path, old, with string) (*Clinic, Problems) {
	t.Helper()
	files[path] = edit(t, files[path], old, with)
	return LoadFiles("/clinic", filesOf(files), env)
}

// mustLoad loads files that have nothing wrong with them.
func mustLoad(t *testing.T, files map[string]string) *Clinic {
	t.Helper()
	c, problems := LoadFiles("/clinic", filesOf(files), env)
	if c == nil || len(problems) > 0 {
		t.Fatalf("the good folder does not load:\n%v", problems)
	}
	return c
}
