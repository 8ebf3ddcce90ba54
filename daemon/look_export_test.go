package daemon

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/export"
	"stepgate/rules"
)

// An export is the same through a service that runs and out of the journal
// where none does; whose consent is taken back in the folder is left out by
// both, and nobody leaves while the folder can't be read.
func TestExportThroughTheService(t *testing.T) {
	c := newClinic(t, onSpool("p-01"), onSpool("p-02"))
	c.settings = spoolOnly() // so that serving opens no port
	c.mustReload()
	agreed := func(ids ...string) {
		t.Helper()
		b, err := os.ReadFile(filepath.Join(c.dir, "enrollments.yaml"))
		if err != nil {
			t.Fatal(err)
		}
		parts := strings.Split(strings.ReplaceAll(string(b), ", covers: export", ""), "  - id: ")
		for i, p := range parts {
			for _, id := range ids {
				if strings.HasPrefix(p, id+"\n") {
					parts[i] = strings.Replace(p, "by: J. Marlowe DPM}", "by: J. Marlowe DPM, covers: export}", 1)
				}
			}
		}
		c.writeFile("enrollments.yaml", strings.Join(parts, "  - id: "))
	}
	agreed("p-01", "p-02")
	if err := c.s.Reload(context.Background(), c.load); err != nil {
		t.Fatal(err)
	}
	c.ticks("2026-10-08 12:00", time.Hour)
	c.reply("p-01", "D P3")
	c.tick()
	c.die()
	until := export.Options{Form: export.CSV, To: rules.NewDate(2026, 10, 8)}
	fhir := export.Options{Form: export.FHIR, ID: "p-01"}
	look := NewLooker(c.dir, false, env)
	write := func(o export.Options) (string, error) {
		var out bytes.Buffer
		err := look.Export(t.Context(), o, &out)
		return out.String(), err
	}
	here, err := write(until)
	if err != nil || strings.Count(here, "\r\n") != 9 || !strings.Contains(here, "p-01,2026-10-08,4,steady,") {
		t.Fatalf("out of the journal: %v\n%s", err, here)
	}
	err = c.serve(0, func() {
		if got, err := write(until); err != nil || got != here {
			t.Errorf("through the service: %v\n%s", err, got)
		}
		if got, err := write(fhir); err != nil || strings.Count(got, `"resourceType":"Patient"`) != 1 {
			t.Errorf("FHIR through the service: %v\n%s", err, got)
		}
		agreed("p-02")
		sum, err := look.ExportSummary(t.Context(), export.Options{Form: export.FHIR})
		if err != nil || sum.Patients != 1 || len(sum.Left) != 1 || sum.Left[0].IDs[0] != "p-01" {
			t.Errorf("a consent taken back: %+v, %v", sum, err)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	if sum, err := look.ExportSummary(t.Context(), fhir); err != nil || sum.Patients != 0 {
		t.Errorf("a consent taken back, no service: %+v, %v", sum, err)
	}
	c.writeFile("enrollments.yaml", "enrolments: []\n")
	var problems config.Problems
	if _, err := write(fhir); !errors.As(err, &problems) {
		t.Errorf("while the folder can't be read: %v", err)
	}
	if got, err := write(until); err != nil || got != here {
		t.Errorf("the table while the folder can't be read: %v\n%s", err, got)
	}
	err = c.serve(0, func() {
		if got, err := write(fhir); err == nil || got != "" || !strings.Contains(err.Error(), "enrollments.yaml:1:1") {
			t.Errorf("through the service while the folder can't be read: %v\n%s", err, got)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}
