package config

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"stepgate/rules"
)

// FuzzLoad gives any bytes as one of the three files. Whatever they are, there
// is either a clinic or an error, never both, and nothing panics.
func FuzzLoad(f *testing.F) {
	paths := []string{settingsFile, steadyFile, enrollmentsFile}
	for i, path := range paths {
		f.Add(i, []byte(base()[path]))
		f.Add(i, []byte(rich()[path]))
	}
	for _, s := range []string{"", "a: *a", "&a [*a]", "weeks: {1: [{on: {}}]}", "? {a: b}\n: c", "clinic: {\"\\0\": 1, \"@\": 2}",
		"enrollments:\n  - {entries: [{cap: 99999999999}]}", "- - - -", "a: !!binary x", "<<: {}", "\t", "...\n---\n", "weeks: {1: , 1: }",
		"first step: [weekly]", "first step: {=: weekly}", "maintenance: {doses: [{do: a, load: {}}]}", "exercises: {a: {forms: {b: }}}",
		"sms: {numbers: , rate: 0.001}", "sms: {numbers: [{from: \"+12125550100\", rate: 0.5, daily cap: 0}, {}, x], from: , content: discard}", "admin: {}",
		"enrollments:\n  - {sms: \"+12125550123\", email: a@example.com, sender: \"+12125550100\", time: 23:59}",
		"enrollments:\n  - {spool: a, sms: b, email: c, sender: d}",
		"alerts: {email: a@example.com, backup: {}, hours: {days: [sat-mon, x-], from: 23:00}, cover: [{from: 2026-12-24, to: 2026-12-24, spool: a}, {}, x]}",
		"digest: \"*/0 1-2,x 30 feb sun-\"\nweb: {listen: \":1\", public: x}", "digest: 0 0 31 */2 *", "keep discharged: 2 years\nmetrics: \"[::1]:9464\"", "keep discharged: 99999 years\nmetrics: \":0\"",
		"backup: {dir: ., at: 0 0 30 2 *, keep: 0, encrypt to: age1q}\nweb: {listen: 127.0.0.1:1, certificate: x, key: {file: $CREDENTIALS_DIRECTORY/x}}", "backup: {dir: data/spool/x, at: , keep: 1e9, encrypt to: [x]}\nweb: {key: {env: SMS_TOKEN}}",
		"web: ",
		"email: {imap: {host: \"::1\", tls: none, user: a, password: {env: MAIL_PASSWORD}}, poll: 0s, dkim: {domain: a, selector: -, key: {env: SMS_TOKEN}}}",
		"enrollments:\n  - {tailor: [{}, {leave out: a}], devices: [{out: }], usual: , pain: {hold: 3}}"} {
		for i := range paths {
			f.Add(i, []byte(s))
		}
	}
	f.Fuzz(func(t *testing.T, which int, data []byte) {
		files := base()
		files[paths[(which%3+3)%3]] = string(data)
		c, problems := LoadFiles("/clinic", filesOf(files), env)
		if (c == nil) != (len(problems.Errors()) > 0) {
			t.Fatalf("clinic given: %v, with %d errors", c != nil, len(problems.Errors()))
		}
		for _, p := range problems {
			if p.What == "" || p.Do == "" || p.At.File == "" {
				t.Fatalf("a problem without place, cause or remedy: %+v", p)
			}
		}
		if c == nil {
			return
		}
		if again, _ := LoadFiles("/clinic", c.Files, env); again == nil || again.Enrollments.Len() != c.Enrollments.Len() {
			t.Fatal("the clinic's own files don't make it again")
		}
	})
}

// FuzzAddEntries gives any bytes as the file of enrollments and any words to
// write into it. Whatever they are, an edit reads as the file did with the
// entry added, or there is none.
func FuzzAddEntries(f *testing.F) {
	for _, text := range []string{baseEnrollments, richEnrollments, "enrollments:\n" + adaKeys, "enrollments:\n" + adaKeys + "    entries: # none",
		"{enrollments: [{" + inBraces + "}]}", "enrollments: [{entries: , " + inBraces + " # }\n}]", "enrollments:\n- ? entries\n  : - {hold: 2026-10-10, by: J}\n" + strings.TrimPrefix(strings.ReplaceAll(adaKeys, "    ", "  "), "  - "),
		"\ufeff{enrollments: [{? entries, " + inBraces + "}]}", "enrollments:\r" + strings.ReplaceAll(adaKeys, "\n", "\r"),
		"enrollments: &a\n" + adaKeys + "    entries: &b\n    - &c\n      hold: 2026-10-10\n      by: |+\n        J\n\n\n---\n",
		"enrollments:\n" + adaKeys + "    entries: [ {hold: 2026-10-10, by: \"}\" }, # }\n ]\n...", "enrollments:\n" + adaKeys + "    entries:\u2028    - {hold: 2026-10-10, by: J}\u0085"} {
		f.Add([]byte(text), 0, "J. Marlowe DPM", "seen, swelling", true)
		f.Add([]byte(text), 1, "'", "{ # }: \u2028", false)
	}
	f.Fuzz(func(t *testing.T, data []byte, which int, by, why string, hold bool) {
		files := base()
		files[enrollmentsFile] = string(data)
		before, _ := LoadFiles("/clinic", filesOf(files), nil)
		if before == nil || before.Enrollments.Len() == 0 {
			return
		}
		n := before.Enrollments.Len()
		which = (which%n + n) % n
		entry := rules.Entry{Kind: rules.EntryCap, Step: 1, On: day(12, 1), By: by, Why: why}
		if hold {
			entry.Kind, entry.Step = rules.EntryHold, 0
		}
		e, err := before.addEntries(before.Enrollments.At(which).ID, []rules.Entry{entry})
		if err != nil {
			return
		}
		if !bytes.Equal(e.Before, data) {
			t.Fatal("the edit is of another text")
		}
		files[enrollmentsFile] = string(e.After)
		after, problems := LoadFiles("/clinic", filesOf(files), nil)
		if after == nil {
			t.Fatalf("the edit does not load: %v", problems)
		}
		want := bareEnrollments(before)
		want[which].Entries = append(want[which].Entries, entry)
		if got := bareEnrollments(after); !reflect.DeepEqual(got, want) {
			t.Fatalf("%q reads as\n%+v\nwant\n%+v", e.After, got, want)
		}
	})
}
