package daemon

import (
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// The alert about bad files ends with the files that are put in force after it.
func TestGoodFilesEndTheAlertAboutBadOnes(t *testing.T) {
	c := newClinic(t, onSpool("p-01"))
	c.morning("2026-10-05")
	open := func() (n int) {
		c.view(func(tx *journal.Tx) error {
			return tx.Alerts(func(r *journal.AlertRow) error {
				if r.Notice == string(rules.NoticeBadFiles) && r.Acked.IsZero() {
					n++
				}
				return nil
			})
		})
		return n
	}
	good := c.programs["steady"]
	c.programs["steady"] = "program: [\n"
	if err := c.reload(); err == nil {
		t.Fatal("bad files were accepted")
	}
	if n := open(); n != 1 {
		t.Fatalf("%d alerts about bad files", n)
	}
	c.programs["steady"] = good
	c.mustReload()
	if n := open(); n != 0 {
		t.Errorf("%d alerts about bad files are open, and the files are good", n)
	}
}
