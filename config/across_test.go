package config

import (
	"strings"
	"testing"
)

const unapprovedLine = "approved: {by: J. Marlowe DPM, on: 2026-10-01}\n"

// TestUnapprovedOnSpool: a program may be tried on the spool before anyone
// approved it.
func TestUnapprovedOnSpool(t *testing.T) {
	files := base()
	files[steadyFile] = edit(t, baseProgram, unapprovedLine, "")
	files[enrollmentsFile] = edit(t, baseEnrollments, `sms: "+12125550123"`, "spool: ada")
	c, problems := LoadFiles("/clinic", filesOf(files), env)
	if c == nil || c.Programs["steady"].Approved != nil || len(problems) != 1 || !strings.Contains(problems[0].What, "spool only") {
		t.Errorf("want the clinic and one warning, got:\n%v", problems)
	}
}

// TestDischargedFreesContact: someone who has left holds neither the contact
// nor the channel, and needs no approval.
func TestDischargedFreesContact(t *testing.T) {
	files := base()
	text := edit(t, baseEnrollments, "spool: ben", `sms: "+12125550123"`)
	text = edit(t, text, "{release: 2026-10-22,", "{discharge: 2026-10-22,")
	files[enrollmentsFile] = text
	c := mustLoad(t, files)
	if c.Enrollments.At(0).Address != c.Enrollments.At(1).Address {
		t.Errorf("addresses: %v, %v", c.Enrollments.At(0).Address, c.Enrollments.At(1).Address)
	}

	files[settingsFile] = baseSettings[:strings.Index(baseSettings, "alerts:")] + "alerts: {spool: clinician}\n"
	files[enrollmentsFile] = "enrollments:\n" + text[strings.Index(text, "  - id: ben-2"):]
	files[steadyFile] = edit(t, baseProgram, unapprovedLine, "")
	if c, problems := LoadFiles("/clinic", filesOf(files), env); c == nil {
		t.Errorf("a discharged patient keeps the folder from loading:\n%v", problems)
	}
}

// TestContactForms: the same contact written another way is the same.
func TestContactForms(t *testing.T) {
	for _, pair := range [][2]string{
		{`sms: "+12125550123"`, `sms: +1 212-555-0123`},
		{`sms: "+447700900123"`, `sms: "+44 (0)7700 900 123"`},
		{`spool: ada`, `spool: ADA`},
		{`email: pat@example.com`, `email: Pat@Example.com`},
	} {
		files := base()
		text := edit(t, baseEnrollments, `sms: "+12125550123"`, pair[0])
		files[enrollmentsFile] = edit(t, text, "spool: ben", pair[1])
		_, problems := LoadFiles("/clinic", filesOf(files), env)
		if n := strings.Count(problems.Error(), "contact is already that of the open enrollment"); n != 1 {
			t.Errorf("%s and %s: %d complaints, want 1:\n%v", pair[0], pair[1], n, problems)
		}
	}
}

// TestNoFollowUps: what could not be read is not blamed on other files.
func TestNoFollowUps(t *testing.T) {
	for path, text := range map[string]string{
		settingsFile: "clinic: [\n",
		steadyFile:   "program: [\n",
	} {
		files := base()
		files[path] = text
		_, problems := LoadFiles("/clinic", filesOf(files), env)
		if len(problems) != 1 || problems[0].At.File != path {
			t.Errorf("%s is broken; want one problem, got:\n%v", path, problems)
		}
	}
}

// TestProblemsHideContacts: check's output and the log may be seen by more
// people than the files.
func TestProblemsHideContacts(t *testing.T) {
	files := base()
	text := edit(t, baseEnrollments, `sms: "+12125550123"`, "sms: +12125550188")
	text = edit(t, text, "spool: ben", "sms: (212) 555-0188")
	text = edit(t, text, "name: Ben", `name: "Ben\nSecondLine"`)
	text = edit(t, text, "name: Ada", "name: Ada\n    phone: 212-555-0177")
	text = edit(t, text, "id: ben-2", "id: Benjamin Example")
	files[enrollmentsFile] = text
	files[settingsFile] = edit(t, baseSettings, "clinician@example.com", "<Clinician@example.com>")
	_, problems := LoadFiles("/clinic", filesOf(files), env)
	if len(problems.Errors()) < 5 {
		t.Fatalf("want five problems or more, got:\n%v", problems)
	}
	for _, private := range []string{"0188", "0177", "Ben", "Ada", "linician@"} {
		if strings.Contains(problems.Error(), private) {
			t.Errorf("a problem says %q:\n%v", private, problems)
		}
	}
}

// TestProgramNames: two files whose names differ in capitals only.
func TestProgramNames(t *testing.T) {
	files := base()
	files["programs/Steady.yaml"] = strings.Replace(baseProgram, "program: steady", "program: Steady", 1)
	_, problems := LoadFiles("/clinic", filesOf(files), env)
	want := "programs/steady.yaml: the file's name differs only in capitals from programs/Steady.yaml; give every program a name of its own"
	if len(problems) != 1 || problems[0].String() != want {
		t.Errorf("got:\n%v", problems)
	}
}

// TestLoopback: on this machine itself nothing needs to be encrypted, so that
// stand-ins for the carriers can be used.
func TestLoopback(t *testing.T) {
	files := base()
	text := edit(t, baseSettings, "https://clinic.example.com/sms", "http://localhost:8090/sms\n  api: http://[::1]:9000")
	text = edit(t, text, "host: mail.example.com", "host: 127.0.0.1")
	files[settingsFile] = edit(t, text, "tls: tls", "tls: none")
	c := mustLoad(t, files)
	if c.SMS.API != "http://[::1]:9000" || c.Email.TLS != "none" || c.Email.Port != 25 {
		t.Errorf("sms %+v, email %+v", *c.SMS, *c.Email)
	}
}
