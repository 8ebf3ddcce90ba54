package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestExportConsented asks a running service, and then the folder it left, for
// the record of the one patient who agreed.
func TestExportConsented(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	svc := serve(t, nil, dir)
	got := wantRun(t, exitNotWell, nil, "export", dir, "--fhir")
	if !has("1 patient left out, whose consent does not cover export: p-01", "covers: export")(got.log) || got.out != "" {
		t.Errorf("nobody agreed: %q, %q", got.log, got.out)
	}
	edit(t, dir, "enrollments.yaml", "by: your name}", "by: your name, covers: [export, texts]}")
	svc.wait(svc.log, "the edit taken up", func(log string) bool { return strings.Count(log, "msg=files.accepted") == 2 })
	out := filepath.Join(t.TempDir(), "bundle.json")
	if got := wantRun(t, exitGood, nil, "export", dir, "--fhir", "--texts", "--out", out); got.out != "" || got.log != "" {
		t.Errorf("export: %q, %q", got.out, got.log)
	}
	if info, err := os.Stat(out); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the file: %v, %v", info, err)
	}
	if text := read(t, out); !json.Valid([]byte(text)) || strings.Count(text, `"resourceType":"Patient"`) != 1 || strings.Contains(text, "Rosa\"") {
		t.Errorf("the bundle:\n%s", text)
	}
	svc.stop()
	if got := wantRun(t, exitGood, nil, "export", dir, "--fhir"); strings.Count(got.out, `"resourceType":"Patient"`) != 1 || got.log != "" {
		t.Errorf("without the service: %q\n%s", got.log, got.out)
	}
	edit(t, dir, "enrollments.yaml", "covers: [export, texts]", "covers: export")
	if got := wantRun(t, exitGood, nil, "export", dir, "p-01", "--fhir", "--texts"); strings.Contains(got.out, "payload") ||
		!strings.Contains(got.log, "1 patient without the words of the messages: the consent does not cover texts: p-01") {
		t.Errorf("without texts: %q\n%s", got.log, got.out)
	}
}
