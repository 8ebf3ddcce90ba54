package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"filippo.io/age"
)

// nobody takes the patient out of the enrollment file.
const nobody = "enrollments: []\n"

// TestKeeping is an admin's round: back up a running service, verify, take a
// patient's data out, restore, and find the patient gone still.
func TestKeeping(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	data := filepath.Join(dir, "data")
	wantRun(t, exitUsage, nil, "verify", dir) // nothing was served yet
	edit(t, dir, "stepgate.yaml", "alerts:", "backup: {dir: backups, keep: 2}\nalerts:")
	svc := serve(t, nil, dir)
	if got := wantRun(t, exitGood, nil, "health", dir).out; !strings.Contains(got, "The service is well.") {
		t.Errorf("health:\n%s", got)
	}
	first := filepath.Join(t.TempDir(), "first.db")
	if got := wantRun(t, exitGood, nil, "backup", dir, "--to", first).out; !has(first, "verified")(got) {
		t.Errorf("backup:\n%s", got)
	}
	wantRun(t, exitNotWell, nil, "backup", dir, "--to", first) // it is there already
	if got := wantRun(t, exitGood, nil, "verify", dir).out; !has("The journal is whole", "1 patient")(got) {
		t.Errorf("verify:\n%s", got)
	}
	wantRun(t, exitUsage, nil, "compact", dir) // the service has it
	wantRun(t, exitUsage, nil, "restore", first, dir)
	wantRun(t, exitUsage, nil, "erase", dir, "p-01", "--yes") // still enrolled
	write(t, dir, "enrollments.yaml", nobody)
	svc.waitLog("msg=files.accepted files=3 enrollments=0")
	wantRun(t, exitUsage, nil, "erase", dir, "p-01") // without --yes
	if got := wantRun(t, exitGood, nil, "erase", dir, "p-01", "--yes").out; !has("Erased p-01", "stepgate compact")(got) {
		t.Errorf("erase:\n%s", got)
	}
	svc.stop()
	wantRun(t, exitGood, nil, "compact", dir)
	lacks(t, data, "Rosa", "p-01")
	if got := wantRun(t, exitGood, nil, "verify", dir, "--json").out; !strings.Contains(got, `"subjects": 1`) {
		t.Errorf("verify:\n%s", got)
	}
	wantRun(t, exitUsage, nil, "restore", first, dir)
	if got := wantRun(t, exitGood, nil, "restore", first, dir, "--force").out; !has("Restored", "1 patient erased since the copy was made: erased again", "kept as")(got) {
		t.Errorf("restore:\n%s", got)
	}
	svc = serve(t, nil, dir) // takes the files in force, and lets go of those that name somebody erased
	svc.stop()
	wantRun(t, exitGood, nil, "compact", dir)
	old, err := filepath.Glob(filepath.Join(data, "journal-replaced-*.db"))
	if err != nil || len(old) != 1 {
		t.Fatalf("replaced %v, %v", old, err)
	}
	lacks(t, data, "Rosa", "p-01")
	spoiled := filepath.Join(t.TempDir(), "spoiled.db")
	b, err := os.ReadFile(first)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(spoiled, bytes.Replace(b, []byte("accepted"), []byte("acceptex"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	if got := wantRun(t, exitNotWell, nil, "restore", spoiled, dir, "--force").log; !strings.Contains(got, "not whole") {
		t.Errorf("restore of a spoiled copy: %s", got)
	}
	wantRun(t, exitGood, nil, "verify", dir)
}

// lacks searches every file of a folder for words, byte by byte.
func lacks(t *testing.T, dir string, words ...string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		b, err := os.ReadFile(path)
		for _, w := range words {
			if bytes.Contains(b, []byte(w)) {
				t.Errorf("%s holds %q", path, w)
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestEncryptedBackup: only the private key opens it; the keep rule counts it.
func TestEncryptedBackup(t *testing.T) {
	t.Parallel()
	key, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	dir := readReadme(t).clinic(t)
	edit(t, dir, "stepgate.yaml", "alerts:", "backup: {dir: backups, keep: 1, encrypt to: "+key.Recipient().String()+"}\nalerts:")
	serve(t, nil, dir).stop()
	var made struct {
		File      string
		Encrypted bool
		Dropped   []string
	}
	if err := json.Unmarshal([]byte(wantRun(t, exitGood, nil, "backup", dir, "--json").out), &made); err != nil || !made.Encrypted {
		t.Fatalf("%+v, %v", made, err)
	}
	if b, err := os.ReadFile(made.File); err != nil || bytes.Contains(b, []byte("Rosa")) || !bytes.HasPrefix(b, []byte("age-encryption.org/v1")) {
		t.Errorf("the copy is not encrypted, %v", err)
	}
	other := folderOf(t, map[string]string{"stepgate.yaml": read(t, dir, "stepgate.yaml")})
	if got := wantRun(t, exitNotWell, nil, "restore", made.File, other).log; !strings.Contains(got, "--identity") {
		t.Errorf("restore without a key: %s", got)
	}
	write(t, dir, "key.txt", key.String()+"\n")
	wrong, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	write(t, dir, "wrong.txt", wrong.String()+"\n")
	wantRun(t, exitNotWell, nil, "restore", made.File, other, "--identity", filepath.Join(dir, "wrong.txt"))
	wantRun(t, exitGood, nil, "restore", made.File, other, "--identity", filepath.Join(dir, "key.txt"))
	wantRun(t, exitGood, nil, "verify", other)
}

// TestEraseWithNoService: a patient taken out of the files while nothing runs
// leaves no name behind, and is on no caseload; quick time's data are named.
func TestEraseWithNoService(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	edit(t, dir, "enrollments.yaml", "name: Rosa", "name: Bea")
	serve(t, nil, dir).stop()
	quick := filepath.Join(dir, "data", "quick")
	if err := os.MkdirAll(quick, 0o700); err != nil {
		t.Fatal(err)
	}
	write(t, dir, "enrollments.yaml", nobody)
	if got := wantRun(t, exitGood, nil, "erase", dir, "p-01", "--yes").out; !has("Erased p-01", "no word of theirs", "lie apart in "+quick)(got) {
		t.Errorf("erase:\n%s", got)
	}
	lacks(t, filepath.Join(dir, "data"), "Bea", "p-01")
	if got := wantRun(t, exitGood, nil, "caseload", dir).out; strings.Contains(got, "p-01") || !strings.Contains(got, "0 enrolled") {
		t.Errorf("caseload:\n%s", got)
	}
	if got := wantRun(t, exitGood, nil, "verify", dir).out; !strings.Contains(got, "0 patients") || !has("events of erased content")(got) {
		t.Errorf("verify:\n%s", got)
	}
}
