package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"filippo.io/age"
)

func TestMachineRules(t *testing.T) { badOnce(t, machineRules) }

const (
	graceLine = "grace: 10m"
	pages     = graceLine + "\nweb: {listen: 127.0.0.1:8091, public: https://plans.example.org"

	// recipient was made for these tests; its private half is gone.
	recipient = "age1xhsy37yuuyyk56s9unmhzvr5zkvf7p0hvhcmmmtk6az8l87u3efsqufglr"
)

// machineRules: backups, how long a patient is kept, the figures, and the
// listener's own certificate.
var machineRules = []badCase{
	{"backup", settingsFile, graceLine, graceLine + "\nbackup: {dir: /mnt/backups, at: 30 2 * * mon-fri, keep: 30, encrypt to: " + recipient + "}", nil},
	{
		"backup nowhere", settingsFile, graceLine, graceLine + "\nbackup: {keep: 0}",
		[]string{
			"stepgate.yaml:10:1: dir is missing; write the folder of the copies, like dir: backups",
			`stepgate.yaml:10:16: keep is out of range: "0"; write a whole number from 1 to 1000`,
		},
	},
	{
		"backup beside the programs", settingsFile, graceLine, graceLine + "\nbackup: {dir: programs}",
		[]string{"stepgate.yaml:10:15: dir is a folder of the clinic's own files; name another one, like data"},
	},
	{
		"backup on the journal", settingsFile, graceLine, graceLine + "\nbackup: {dir: ./data/}",
		[]string{"stepgate.yaml:10:15: the backups lie in a folder that is the journal's or the spool's; give them one of their own, like backups, best on another disk"},
	},
	{
		"backup in the spool", settingsFile, graceLine, graceLine + "\nbackup: {dir: data/spool/kept}",
		[]string{"stepgate.yaml:10:15: the backups lie in a folder that is the journal's or the spool's; give them one of their own, like backups, best on another disk"},
	},
	{"backup below the journal", settingsFile, graceLine, graceLine + "\nbackup: {dir: data/backups}", nil},
	{
		"backup in words", settingsFile, graceLine, graceLine + "\nbackup: {dir: backups, at: nightly}",
		[]string{`stepgate.yaml:10:28: at can't be read: it has 1 field, and a cron line has 5; write minute, hour, day of the month, month and day of the week, like "30 2 * * *"`},
	},
	{
		"backup every minute of an hour", settingsFile, graceLine, graceLine + "\nbackup: {dir: backups, at: \"* 2 * * *\"}",
		[]string{`stepgate.yaml:10:28: warning: a backup is made 60 times on its days; look whether the minute and the hour are right, like "30 2 * * *"`},
	},
	{"backup every hour", settingsFile, graceLine, graceLine + "\nbackup: {dir: backups, at: 0 * * * *}", nil},
	{
		"backup to a key cut short", settingsFile, graceLine, graceLine + "\nbackup: {dir: backups, encrypt to: " + recipient[:40] + "}",
		[]string{"stepgate.yaml:10:36: encrypt to is no public age key; write the whole key that begins with age1, as age-keygen prints it"},
	},
	{
		"backup to a key with a slip", settingsFile, graceLine, graceLine + "\nbackup: {dir: backups, encrypt to: " + strings.Replace(recipient, "37y", "37z", 1) + "}",
		[]string{"stepgate.yaml:10:36: encrypt to is no public age key; write the whole key that begins with age1, as age-keygen prints it"},
	},
	{
		"backup to a private key", settingsFile, graceLine, graceLine + "\nbackup: {dir: backups, encrypt to: AGE-SECRET-KEY-1QQQ}",
		[]string{"stepgate.yaml:10:36: encrypt to is a private key, which opens the backups; write the public key, which begins with age1; then make new keys, since this one was written down"},
	},
	{"kept for years", settingsFile, graceLine, graceLine + "\nkeep discharged: 2 years", nil},
	{
		"kept for a while", settingsFile, graceLine, graceLine + "\nkeep discharged: 2 y",
		[]string{`stepgate.yaml:10:18: keep discharged can't be read: "2 y"; write a number of days, weeks, months or years, like 2 years`},
	},
	{
		"kept no time at all", settingsFile, graceLine, graceLine + "\nkeep discharged: 4 weeks",
		[]string{"stepgate.yaml:10:18: keep discharged is out of range: \"4 weeks\"; write from 30 days to 50 years"},
	},
	{
		"kept for ever", settingsFile, graceLine, graceLine + "\nkeep discharged: 99999 years",
		[]string{"stepgate.yaml:10:18: keep discharged is out of range: \"99999 years\"; write from 30 days to 50 years"},
	},
	{"figures", settingsFile, graceLine, graceLine + "\nmetrics: \"[::1]:9464\"", nil},
	{
		"figures for everyone", settingsFile, graceLine, graceLine + "\nmetrics: \":9464\"",
		[]string{"stepgate.yaml:10:10: metrics could be read from other machines; write an address of this machine itself, like 127.0.0.1:9464"},
	},
	{
		"figures without a port", settingsFile, graceLine, graceLine + "\nmetrics: localhost",
		[]string{"stepgate.yaml:10:10: metrics is no address to listen on; write host and port, like 127.0.0.1:8090"},
	},
	{
		"figures on the port of the texts", settingsFile, graceLine, graceLine + "\nmetrics: localhost:8090",
		[]string{"stepgate.yaml:10:10: metrics and sms listen on the same port; give it another one, like 127.0.0.1:9464"},
	},
	{
		"figures on the port of the pages", settingsFile, graceLine, pages + "}\nmetrics: localhost:8091",
		[]string{"stepgate.yaml:11:10: metrics and web listen on the same port; give it another one, like 127.0.0.1:9464"},
	},
	{
		"reports", settingsFile, graceLine, graceLine + "\nreports: localhost:8091",
		[]string{"stepgate.yaml:10:10: warning: reports asks nobody for a password: everybody with an account on this machine can read the patients' reports; see that only the clinic's people have one, or take the line away"},
	},
	{
		"reports for everyone", settingsFile, graceLine, graceLine + "\nreports: 0.0.0.0:8091",
		[]string{"stepgate.yaml:10:10: reports could be read from other machines; write an address of this machine itself, like 127.0.0.1:8091"},
	},
	{
		"reports on another machine", settingsFile, graceLine, graceLine + "\nreports: clinic.example.com:8091",
		[]string{"stepgate.yaml:10:10: reports could be read from other machines; write an address of this machine itself, like 127.0.0.1:8091"},
	},
	{
		"reports on the port of the figures", settingsFile, graceLine, graceLine + "\nmetrics: localhost:8091\nreports: 127.0.0.1:8091",
		[]string{"stepgate.yaml:11:10: reports and metrics listen on the same port; give it another one, like 127.0.0.1:8091"},
	},
	{
		"certificate without key", settingsFile, graceLine, pages + ", certificate: tls.crt}",
		[]string{"stepgate.yaml:10:79: the certificate has no key; write key: {file: PATH} for its private key"},
	},
	{
		"key without certificate", settingsFile, graceLine, pages + ", key: {file: tls.key}}",
		[]string{"stepgate.yaml:10:71: the key has no certificate; write certificate: PATH for it"},
	},
	{
		"key in the environment", settingsFile, graceLine, pages + ", certificate: tls.crt, key: {env: SMS_TOKEN}}",
		[]string{"stepgate.yaml:10:93: the key of web is kept in no file; write key: {file: PATH}: a listener reads its certificate and key from files"},
	},
	{
		"certificate that is not there", settingsFile, graceLine, pages + ", certificate: /nowhere/tls.crt, key: {file: $CREDENTIALS_DIRECTORY/key}}",
		[]string{
			"stepgate.yaml:10:79: the file of certificate can't be read: it does not exist; write the path of a file that the daemon can read",
			"stepgate.yaml:10:102: the file of key is a systemd credential, and there is none here; start the daemon from its unit with LoadCredential=, or name another file",
		},
	},
}

// TestMachineValues: what is written comes out, and what is not has its
// default.
func TestMachineValues(t *testing.T) {
	files := base()
	c := mustLoad(t, files)
	if c.Backups != nil || c.KeepDischarged != 0 || c.Metrics != "" || c.Reports != "" {
		t.Errorf("unasked: %+v, %d, %q", c.Backups, c.KeepDischarged, c.Metrics)
	}
	files[settingsFile] = baseSettings + "backup: {dir: backups}\nkeep discharged: 2 years\nmetrics: 127.0.0.1:9464\nreports: \"[::1]:8091\"\n"
	c, problems := LoadFiles("/clinic", filesOf(files), nil)
	if c == nil || len(problems) != 1 { // the warning about reports
		t.Fatal(problems)
	}
	if b := *c.Backups; b.Dir != "/clinic/backups" || b.At != "" || b.Keep != 14 || b.EncryptTo != "" || b.Pos.File != settingsFile {
		t.Errorf("backups: %+v", b)
	}
	if c.KeepDischarged != 732 || c.Metrics != "127.0.0.1:9464" || c.Reports != "[::1]:8091" { // never less than two years, whichever they are
		t.Errorf("kept %d days, figures at %q, reports at %q", c.KeepDischarged, c.Metrics, c.Reports)
	}
	key, err := age.GenerateX25519Identity()
	must(t, err)
	files[settingsFile] = baseSettings + "backup: {dir: /b, at: 30  2 * * *, keep: 3, encrypt to: " + key.Recipient().String() + "}\nkeep discharged: 1 month\n"
	c = mustLoad(t, files)
	if b := *c.Backups; b.Dir != "/b" || b.At != "30 2 * * *" || b.Keep != 3 || b.EncryptTo != key.Recipient().String() || c.KeepDischarged != 31 {
		t.Errorf("backups: %+v, kept %d days", b, c.KeepDischarged)
	}
}

// TestPrivateBackupKey: a private key that stands in place of the public one
// is never repeated.
func TestPrivateBackupKey(t *testing.T) {
	key, err := age.GenerateX25519Identity()
	must(t, err)
	private := key.String()
	for _, text := range []string{private, strings.ToLower(private), private[:50], "[" + private + "]", "x" + private} {
		files := base()
		files[settingsFile] = baseSettings + "backup: {dir: b, encrypt to: " + text + "}\n"
		c, problems := LoadFiles("/clinic", filesOf(files), env)
		if c != nil || strings.Contains(strings.ToUpper(problems.Error()), private[16:40]) {
			t.Errorf("accepted, or repeated:\n%v", problems)
		}
	}
}

// TestCertificateFiles: the certificate and its key are looked for, and not
// where no secret is fetched.
func TestCertificateFiles(t *testing.T) {
	dir := t.TempDir()
	must(t, os.WriteFile(filepath.Join(dir, "tls.crt"), []byte("certificate"), 0o644))
	must(t, os.WriteFile(filepath.Join(dir, "tls.key"), []byte("key"), 0o600))
	files := base()
	files[settingsFile] = edit(t, baseSettings, graceLine, pages+", certificate: tls.crt, key: {file: $CREDENTIALS_DIRECTORY/tls.key}}")
	here := func(name string) string {
		if name == "CREDENTIALS_DIRECTORY" {
			return dir
		}
		return env(name)
	}
	c, problems := LoadFiles(dir, filesOf(files), here)
	if c == nil || len(problems) > 0 {
		t.Fatal(problems)
	}
	if w := c.Web; w.CertificateFile != filepath.Join(dir, "tls.crt") || w.KeyFile != filepath.Join(dir, "tls.key") {
		t.Errorf("web: %+v", w)
	}
	must(t, os.Chmod(filepath.Join(dir, "tls.key"), 0o644))
	if _, problems = LoadFiles(dir, filesOf(files), here); len(problems) != 1 || !problems[0].Warning || !strings.Contains(problems[0].What, "everyone on this machine can read the file of key") {
		t.Errorf("a key that all can read: %v", problems)
	}
	if c, problems = LoadFiles("/nowhere", filesOf(files), nil); c == nil || c.Web.CertificateFile != "" || len(problems) > 0 {
		t.Errorf("on another machine: %v", problems)
	}
	files[settingsFile] = edit(t, files[settingsFile], "https://plans.example.org", "http://localhost:8091")
	if _, problems = LoadFiles(dir, filesOf(files), nil); len(problems) != 1 || !strings.Contains(problems[0].String(), "the pages have a certificate, and public is not encrypted; write https://") {
		t.Errorf("an address without encryption: %v", problems)
	}
}
