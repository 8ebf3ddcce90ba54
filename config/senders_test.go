package config

import (
	"strings"
	"testing"
	"time"
)

// Where the carriers stand in the base settings.
var (
	smsAt   = strings.Index(baseSettings, "sms:\n")
	emailAt = strings.Index(baseSettings, "email:\n")
)

func TestSenderRules(t *testing.T) { badOnce(t, senderRules) }

// senderRules: an enrollment's number and the mail it falls back on.
var senderRules = []badCase{
	{
		"sender is no number", enrollmentsFile,
		"    sms: \"+12125550123\"\n",
		"    sms: \"+12125550123\"\n    sender: reception\n",
		[]string{
			`enrollments.yaml:8:13: sender is no phone number that can be texted; write it with + and the country code, without letters or extension, like "+12125550123"`,
		},
	},
	{
		"sender is not the clinic's", enrollmentsFile,
		"    sms: \"+12125550123\"\n",
		"    sms: \"+12125550123\"\n    sender: \"+12125550177\"\n",
		[]string{
			"enrollments.yaml:8:13: the sender is none of the clinic's numbers; write one of those that begin at stepgate.yaml:16:9, or take sender away",
		},
	},
	{
		"sender without sms", enrollmentsFile,
		"    spool: ben\n",
		"    spool: ben\n    sender: \"+12125550100\"\n",
		[]string{
			`enrollments.yaml:17:13: sender is for texts, and the enrollment has no sms; write sms: "+1..." with the patient's number, or take sender away`,
		},
	},
	{
		"sender without any contact", enrollmentsFile,
		"    spool: ben\n",
		"    sender: \"+12125550100\"\n",
		[]string{
			`enrollments.yaml:9:5: the enrollment has no contact; write one of spool: NAME, sms: "+1..." or email: ADDRESS`,
		},
	},
	{
		"spool and the others", enrollmentsFile,
		"    spool: ben\n",
		"    spool: ben\n    sms: \"+12125550124\"\n    email: ben@example.com\n",
		[]string{
			"enrollments.yaml:17:10: the enrollment has more than one contact: spool, sms, email; keep one of them",
		},
	},
	{
		"fallback is no address", enrollmentsFile,
		"    sms: \"+12125550123\"\n",
		"    sms: \"+12125550123\"\n    email: Ada\n",
		[]string{
			"enrollments.yaml:8:12: email is no plain mail address; write it without a name or brackets, like pat@example.com",
		},
	},
	{
		"fallback is another's contact", enrollmentsFile,
		"    sms: \"+12125550123\"\n    time: 09:00\n",
		"    sms: \"+12125550123\"\n    email: cy@example.com\n    time: 09:00\n" + third("email: Cy@example.com", "time: 09:00"),
		[]string{
			"enrollments.yaml:15:12: warning: 1 enrollment is on email: answers by mail are not collected, so the program day waits (unheard); add imap: below email: in stepgate.yaml, or use sms or the spool for patients whose program should go on",
			`enrollments.yaml:15:12: this email contact is already that of the open enrollment "ada-1" at enrollments.yaml:2:5; use another address, sms alone, or name a proxy: and write the proxy's address`,
		},
	},
	{
		"fallback is another's fallback", enrollmentsFile,
		"    sms: \"+12125550123\"\n    time: 09:00\n",
		"    sms: \"+12125550123\"\n    email: home@example.com\n    time: 09:00\n" + third(`sms: "+12125550124"`, "email: home@example.com", "time: 09:00"),
		[]string{
			`enrollments.yaml:16:12: this email contact is already that of the open enrollment "ada-1" at enrollments.yaml:2:5; use another address, sms alone, or name a proxy: and write the proxy's address`,
		},
	},
	{
		"fallback is the contact of the alerts", enrollmentsFile,
		"    sms: \"+12125550123\"\n",
		"    sms: \"+12125550123\"\n    email: clinician@example.com\n",
		[]string{
			"enrollments.yaml:8:12: this is the contact that alerts go to; give the patient and the clinician contacts of their own",
		},
	},
}

// third is one more enrollment with the given lines.
func third(lines ...string) string {
	return "  - id: cy-3\n    name: Cy\n    program: steady\n    dispensed: 2026-10-05\n" +
		"    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}\n    " + strings.Join(lines, "\n    ") + "\n"
}

// TestFallbackNotSetUp: without a mail server there is nothing to fall back on.
func TestFallbackNotSetUp(t *testing.T) {
	files := base()
	text := edit(t, baseSettings[:emailAt], "{email: clinician@example.com}", "{spool: clinician}")
	files[settingsFile] = text
	files[enrollmentsFile] = edit(t, baseEnrollments, `sms: "+12125550123"`, "sms: \"+12125550123\"\n    email: ada@example.com")
	c, problems := LoadFiles("/clinic", filesOf(files), env)
	want := "enrollments.yaml:8:12: the enrollment falls back on email, which is not set up; add email: to stepgate.yaml, or take the email away"
	if c != nil || problems.Error() != want {
		t.Errorf("got %v, want %s", problems, want)
	}
}

const severalNumbers = `  numbers:
    - {from: "+12125550100", daily cap: 2000}
    - {from: +1 212-555-0101, rate: 3}
  rate: 0.5
`

// several is the base folder with two numbers.
func several(t *testing.T) map[string]string {
	t.Helper()
	files := base()
	files[settingsFile] = edit(t, baseSettings, oneNumber, severalNumbers)
	return files
}

// TestContactPerSender: two open enrollments may share a number only where
// each names another of the clinic's.
func TestContactPerSender(t *testing.T) {
	const one, two = `sender: "+12125550100"`, `sender: "+12125550101"`
	for _, c := range []struct {
		name, first, second string
		good                bool
	}{
		{"a sender each", one, two, true},
		{"the other way round", two, one, true},
		{"the same sender", one, one, false},
		{"the first names none", "language: en", two, false},
		{"the second names none", one, "affected: both", false},
		{"the same sender written otherwise", one, "sender: +1 (212) 555-0100", false},
	} {
		files := several(t)
		first := edit(t, baseEnrollments, `sms: "+12125550123"`, "sms: \"+12125550123\"\n    "+c.first)
		files[enrollmentsFile] = first + third(`sms: "+12125550123"`, c.second, "time: 09:00")
		clinic, problems := LoadFiles("/clinic", filesOf(files), env)
		taken := strings.Contains(problems.Error(), `this sms contact is already that of the open enrollment "ada-1" at enrollments.yaml:2:5; give each of them a sender:`)
		if (clinic != nil) != c.good || taken == c.good || len(problems) > 1 {
			t.Errorf("%s: good %v; got:\n%v", c.name, clinic != nil, problems)
		}
	}
}

// TestSenderFollowUps: a sender is not blamed for what could not be read.
func TestSenderFollowUps(t *testing.T) {
	files := several(t)
	files[settingsFile] = edit(t, files[settingsFile], "+1 212-555-0101", "212-555-0101")
	files[enrollmentsFile] = edit(t, baseEnrollments, `sms: "+12125550123"`, "sms: \"+12125550123\"\n    sender: \"+12125550101\"")
	if _, problems := LoadFiles("/clinic", filesOf(files), env); len(problems) != 1 || problems[0].At.File != settingsFile {
		t.Errorf("a bad number: want one problem, got:\n%v", problems)
	}
	files = several(t)
	files[enrollmentsFile] = edit(t, baseEnrollments, `sms: "+12125550123"`, "sms: \"+12125550123\"\n    sender: \"+12125550101\"") +
		third(`sms: "+12125550123"`, "sender: reception", "time: 09:00")
	if _, problems := LoadFiles("/clinic", filesOf(files), env); len(problems) != 1 || problems[0].At.Line != 33 {
		t.Errorf("a bad sender: want one problem, got:\n%v", problems)
	}
}

// TestDischargedSender: a number may go once nobody is left on it.
func TestDischargedSender(t *testing.T) {
	files := base()
	files[enrollmentsFile] = edit(t, baseEnrollments, "    time: 09:00\n",
		"    sender: \"+12125550177\"\n    time: 09:00\n    entries: [{discharge: 2026-10-20, by: J. Marlowe DPM}]\n")
	if e := mustLoad(t, files).Enrollments.At(0); e.Sender != "+12125550177" {
		t.Errorf("sender %q", e.Sender)
	}
}

// TestSMSValues: what is written about the carrier comes out, and what is not
// has its default.
func TestSMSValues(t *testing.T) {
	s := mustLoad(t, base()).SMS
	if n := s.Numbers; len(n) != 1 || n[0].Number != "+12125550100" || n[0].Rate != 1 || n[0].DailyCap != 0 || n[0].At.String() != "stepgate.yaml:16:9" {
		t.Errorf("one number: %+v", n)
	}
	if s.Poll != time.Minute || s.LookAgain != time.Minute || s.Retain || !s.Confirms || s.Undelivered != 2 {
		t.Errorf("defaults: %+v", *s)
	}

	files := several(t)
	text := edit(t, files[settingsFile], "  listen: 127.0.0.1:8090\n  public: https://clinic.example.com/sms\n",
		"  poll: 5 min\n  look again: 90s\n  addresses: retain\n  stop reply: clinic\n  accents: keep\n  undelivered: 1 week\n")
	files[settingsFile] = edit(t, text, "spool: {dir", "admin: {email: Admin@example.org}\nspool: {dir")
	files[enrollmentsFile] = edit(t, baseEnrollments, `sms: "+12125550123"`,
		"sms: \"+12125550123\"\n    email: Ada@example.com\n    sender: +1 212 555 0101")
	c := mustLoad(t, files)
	n := c.SMS.Numbers
	if len(n) != 2 || n[0].Number != "+12125550100" || n[0].Rate != 0.5 || n[0].DailyCap != 2000 ||
		n[1].Number != "+12125550101" || n[1].Rate != 3 || n[1].DailyCap != 0 || n[1].At.Line != 19 {
		t.Errorf("numbers: %+v", n)
	}
	if s := c.SMS; s.Poll != 5*time.Minute || s.LookAgain != 90*time.Second || !s.Retain || s.Confirms || s.Undelivered != 7 || s.Listen != "" {
		t.Errorf("sms: %+v", *s)
	}
	if c.Admin != (Address{"email", "admin@example.org"}) {
		t.Errorf("admin: %v", c.Admin)
	}
	if e := c.Enrollments.At(0); e.Address != (Address{"sms", "+12125550123"}) || e.Fallback != (Address{"email", "ada@example.com"}) || e.Sender != "+12125550101" {
		t.Errorf("enrollment: %+v", *e)
	}
	if c := mustLoad(t, base()); c.Admin != (Address{}) || c.Enrollments.At(0).Fallback != (Address{}) || c.Enrollments.At(0).Sender != "" {
		t.Errorf("admin %v, enrollment %+v", c.Admin, *c.Enrollments.At(0))
	}
}

// TestPatientIsTheAdmin: patients' and the admin's messages are kept apart.
func TestPatientIsTheAdmin(t *testing.T) {
	files := base()
	files[settingsFile] = edit(t, baseSettings, "spool: {dir", "admin: {sms: +1 212 555 0123}\nspool: {dir")
	c, problems := LoadFiles("/clinic", filesOf(files), env)
	want := "enrollments.yaml:7:10: this is the admin's contact; give the patient and the admin contacts of their own"
	if c != nil || problems.Error() != want {
		t.Errorf("got %v, want %s", problems, want)
	}
}
