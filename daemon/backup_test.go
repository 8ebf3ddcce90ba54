package daemon

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stepgate/daemon/journal"
)

// keeping is a clinic whose settings have more lines.
func keeping(t *testing.T, more string, patients ...*enrolled) *clinic {
	t.Helper()
	t.Parallel()
	set := &SetClock{}
	c := bareClinic(t, set, patients...)
	c.set = set
	c.settings = more + c.settings
	c.at("2026-10-05 07:00")
	c.open()
	return c
}

func (c *clinic) copies() []string {
	c.t.Helper()
	names, err := copies(filepath.Join(c.dir, "backups"))
	if err != nil {
		c.t.Fatal(err)
	}
	return names
}

// A backup is made at its time, once, made up for within a day, and the oldest
// goes. What else lies in the folder stays.
func TestBackupsOnSchedule(t *testing.T) {
	c := keeping(t, "backup: {dir: backups, at: \"0 3 * * *\", keep: 2}\n", onSpool("p-01"))
	c.s.backUpIfDue(t.Context()) // 03:00 was less than a day ago: made up for
	if n := len(c.copies()); n != 1 {
		t.Fatalf("%d copies on the first day", n)
	}
	c.writeFile("backups/notes.txt", "mine\n")
	for _, at := range []string{"2026-10-06 02:59", "2026-10-06 03:00", "2026-10-06 03:01", "2026-10-07 09:00", "2026-10-07 12:00"} {
		c.at(at)
		c.s.backUpIfDue(t.Context())
	}
	names := c.copies()
	if len(names) != 2 || names[0] != "journal-20261007T130000Z.db" || names[1] != "journal-20261006T070000Z.db" {
		t.Fatalf("copies %v", names)
	}
	if _, err := os.Stat(filepath.Join(c.dir, "backups", "notes.txt")); err != nil {
		t.Error(err)
	}
	for _, n := range names {
		path := filepath.Join(c.dir, "backups", n)
		if rep, err := journal.VerifyFile(path); err != nil || rep.Subjects != 2 {
			t.Errorf("%s: %+v, %v", n, rep, err)
		}
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", n, info, err)
		}
	}
	left, err := filepath.Glob(filepath.Join(c.dir, "backups", ".*"))
	if err != nil || len(left) != 0 {
		t.Errorf("left over: %v, %v", left, err)
	}
}

// A backup that can't be written is told, and made as soon as it can be.
func TestABackupThatFails(t *testing.T) {
	c := keeping(t, "backup: {dir: backups, at: \"0 3 * * *\"}\n", onSpool("p-01"))
	c.writeFile("backups", "a file where the folder should be\n")
	c.s.backUpIfDue(t.Context())
	if h := c.s.Health(); h.OK || !strings.Contains(strings.Join(h.Problems, " "), "backup") || c.logged("backup.failed") != 1 {
		t.Fatalf("health %+v", h.Problems)
	}
	if err := os.Remove(filepath.Join(c.dir, "backups")); err != nil {
		t.Fatal(err)
	}
	c.s.backUpIfDue(t.Context())
	if len(c.copies()) != 1 || strings.Contains(strings.Join(c.s.Health().Problems, " "), "backup") {
		t.Errorf("copies %v, health %v", c.copies(), c.s.Health().Problems)
	}
}

// Whoever was discharged long enough ago and is in the files no more is erased
// by itself; nobody else is.
func TestRetention(t *testing.T) {
	c := keeping(t, "keep discharged: 1 year\n", onSpool("p-01"), onSpool("p-02"), onSpool("p-03"))
	c.mornings("p-01", "2026-10-05", "2026-10-06", "D1")
	c.enter("p-01", "discharge: 2026-10-06")
	c.enter("p-02", "discharge: 2026-10-06")
	c.morning("2026-10-07")
	c.patients = c.patients[1:] // p-01 is taken out of the files
	c.mustReload()
	c.at("2027-10-06 12:00")
	c.s.retain(t.Context())
	if p := c.person("p-01"); p == nil {
		t.Fatal("erased too soon")
	}
	c.at("2027-10-09 12:00")
	c.s.retain(t.Context())
	c.view(func(tx *journal.Tx) error {
		p, err := tx.Person("p-01")
		if err != nil || p != nil || !tx.IsErased("p-01") {
			t.Errorf("p-01 is kept: %+v, %v", p, err)
		}
		return err
	})
	c.person("p-02") // discharged, and still in the files
	c.person("p-03")
	if _, err := os.Stat(filepath.Join(c.data(), "spool", "box-p-01")); err == nil {
		t.Error("the box on the spool is still there")
	}
	if c.logged("retention.erased") != 1 {
		t.Error("the log does not tell")
	}
}

// A backup by hand in the second of a scheduled one gets a number, and is the
// newer of the two.
func TestTwoBackupsInOneSecond(t *testing.T) {
	c := keeping(t, "backup: {dir: backups, keep: 2}\n", onSpool("p-01"))
	for range 3 {
		if _, err := makeCopy(t.Context(), c.j, c.s.Clinic().Backups, "", c.set.Now()); err != nil {
			t.Fatal(err)
		}
	}
	if got := strings.Join(c.copies(), " "); got != "journal-20261005T110000Z-3.db journal-20261005T110000Z-2.db" {
		t.Errorf("copies %s", got)
	}
}
