package config

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// keptClinic is a folder with three files of three patients each, in a state
// with a warning, own pain lines, a tailored exercise and entries.
func keptClinic(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	put(t, dir, "stepgate.yaml", `clinic: {name: Harbor Foot Clinic, phone: 212-555-0142, hours: "Mon-Fri 8:30-17:00", after hours: 212-555-0199, emergency: 911, zone: America/New_York}
alerts: {spool: clinician}
`)
	put(t, dir, "programs/steady.yaml", baseProgram)
	for _, file := range []string{"a", "b", "c"} {
		put(t, dir, "enrollments/"+file+".yaml", keptPatients(file))
	}
	return dir
}

func keptPatients(file string) string {
	text := "enrollments:\n"
	for i := range 3 {
		text += fmt.Sprintf(`  - {id: %[1]s-%[2]d, name: Marisol%[1]s, program: steady, dispensed: 2001-10-05, affected: left, spool: box-of-%[1]s-%[2]d, time: "09:00",
     consent: {on: 2001-10-05, how: in writing, by: J. Marlowe DPM}, usual: {pain: 1}, cautions: [balance], proxy: {name: Ana, relation: mother},
     pain: {hold: 6, by: J. Marlowe DPM, on: 2001-10-06}, tailor: [{leave out: band, by: J. Marlowe DPM, on: 2001-10-06}],
     devices: [{adjusted: 2001-11-01}], review visits: [2001-11-05], zone: Europe/Madrid, entries: [{hold: 2001-10-08, by: J. Marlowe DPM, why: sore}]}
`, file, i)
	}
	return text
}

func put(t *testing.T, dir, name, text string) {
	t.Helper()
	at := filepath.Join(dir, name)
	if err := errors.Join(os.MkdirAll(filepath.Dir(at), 0o700), os.WriteFile(at, []byte(text), 0o600)); err != nil {
		t.Fatal(err)
	}
}

// readsAlike reads a folder with what is kept, holds it against reading it
// without, and keeps it.
func readsAlike(t *testing.T, r *Reader, used, read int) Kept {
	t.Helper()
	want, wantProblems := Load(r.Dir, r.Getenv)
	got, problems, news := r.Load()
	if !slices.Equal(problems, wantProblems) {
		t.Fatalf("problems:\n%v\nwant:\n%v", problems, wantProblems)
	}
	if news.Used != used || news.Read != read {
		t.Errorf("%d files used, %d read, want %d and %d (%s)", news.Used, news.Read, used, read, news.Why)
	}
	if (got == nil) != (want == nil) {
		t.Fatalf("a clinic: %t, want %t", got != nil, want != nil)
	}
	if got == nil {
		return news
	}
	bare := *got
	bare.Files = slices.Clone(got.Files)
	for i, f := range bare.Files {
		data, err := f.Read()
		if err != nil {
			t.Fatal(err)
		}
		bare.Files[i] = File{Path: f.Path, Hash: f.Hash, Data: data}
	}
	if !reflect.DeepEqual(&bare, want) {
		t.Fatalf("the clinic is another one:\n%+v\nwant\n%+v", bare, want)
	}
	if err := r.Keep(got); err != nil {
		t.Fatal(err)
	}
	return news
}

func keptAt(dir string) string { return filepath.Join(dir, "data", keptName) }

func TestAReaderReadsWhatChanged(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir, Least: 1}
	if err := os.Mkdir(filepath.Join(dir, "data"), 0o700); err != nil {
		t.Fatal(err)
	}
	readsAlike(t, r, 0, 3)
	if info, err := os.Stat(keptAt(dir)); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v, %v", info, err)
	}
	readsAlike(t, r, 3, 0)
	readsAlike(t, &Reader{Dir: dir, Least: 1}, 3, 0) // a service that starts anew
	put(t, dir, "enrollments/b.yaml", strings.ReplaceAll(keptPatients("b"), "Marisolb", "Renatab"))
	readsAlike(t, r, 2, 1)
	text, err := os.ReadFile(keptAt(dir))
	if err != nil || bytes.Contains(text, []byte("Marisolb")) || !bytes.Contains(text, []byte("Renatab")) {
		t.Errorf("what is kept is of a file that is no more: %v", err)
	}
	readsAlike(t, r, 3, 0)
	put(t, dir, "programs/steady.yaml", strings.Replace(baseProgram, "pause: 9", "pause: 8", 1)) // own lines stand over these
	readsAlike(t, r, 3, 0)
	if err := os.Rename(filepath.Join(dir, "enrollments/c.yaml"), filepath.Join(dir, "enrollments/d.yaml")); err != nil {
		t.Fatal(err)
	}
	readsAlike(t, r, 2, 1) // places in the file name it
	put(t, dir, "enrollments/d.yaml", strings.ReplaceAll(keptPatients("c"), "spool: box-of-c-0", "spool: box-of-a-0"))
	readsAlike(t, r, 2, 1) // a contact twice: refused as without
	put(t, dir, "enrollments/d.yaml", "enrollments: [")
	readsAlike(t, r, 2, 1)
	put(t, dir, "enrollments/d.yaml", keptPatients("c"))
	readsAlike(t, r, 3, 0)
}

// What a file depends on beside its bytes: another language or zone of the
// clinic, another program, another clinic's folder.
func TestWhatIsKeptIsOfOneClinicAndBuild(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir, Least: 1}
	put(t, dir, "data/.there", "")
	readsAlike(t, r, 0, 3)
	settings, err := os.ReadFile(filepath.Join(dir, "stepgate.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, dir, "stepgate.yaml", strings.Replace(string(settings), "America/New_York", "America/Chicago", 1))
	if news := readsAlike(t, r, 0, 3); news.Why != errKeptOther.Error() {
		t.Errorf("why: %q", news.Why)
	}
	readsAlike(t, r, 3, 0)
	put(t, dir, "stepgate.yaml", strings.Replace(string(settings), "Harbor", "Haven", 1))
	if news := readsAlike(t, r, 0, 3); news.Why == "" { // the zone is back
		t.Error("no word on why nothing is used")
	}

	kept, err := os.ReadFile(keptAt(dir))
	if err != nil {
		t.Fatal(err)
	}
	other := keptClinic(t) // whose third file is another
	put(t, other, "enrollments/c.yaml", strings.ReplaceAll(keptPatients("c"), "Marisolc", "Renatac"))
	put(t, other, "data/"+keptName, string(kept))
	readsAlike(t, &Reader{Dir: other, Least: 1}, 2, 1)

	old := bytes.Clone(kept)
	old[len(keptMagic)-2]++ // another order of the file
	put(t, dir, "data/"+keptName, string(old))
	if news := readsAlike(t, r, 0, 3); news.Why != errKeptOther.Error() {
		t.Errorf("why: %q", news.Why)
	}
	k, err := openKept(filepath.Join(dir, "data"), mustKey(t, r))
	if err != nil {
		t.Fatal(err)
	}
	if err := k.write(filepath.Join(dir, "data"), [32]byte{1}, nil); err != nil { // another build
		t.Fatal(err)
	}
	if news := readsAlike(t, r, 0, 3); news.Why != errKeptOther.Error() {
		t.Errorf("why: %q", news.Why)
	}
}

func mustKey(t *testing.T, r *Reader) [32]byte {
	t.Helper()
	c, _, _ := r.Load()
	key, err := keptKey(c.Language, c.Zone.String())
	if err != nil {
		t.Fatal(err)
	}
	return key
}

// A kept file that is damaged anywhere, or cut off, changes nothing but how much
// is read.
func TestADamagedKeptFile(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir, Least: 1}
	put(t, dir, "data/.there", "")
	readsAlike(t, r, 0, 3)
	whole, err := os.ReadFile(keptAt(dir))
	if err != nil {
		t.Fatal(err)
	}
	want, _ := Load(dir, nil)
	try := func(what string, text []byte) {
		t.Helper()
		put(t, dir, "data/"+keptName, string(text))
		got, problems, news := r.Load()
		if got == nil || len(problems.Errors()) > 0 || news.Used+news.Read != 3 || news.Read == 0 || news.Why == "" ||
			!reflect.DeepEqual(got.Enrollments, want.Enrollments) {
			t.Errorf("%s: %+v, %v", what, news, problems)
		}
	}
	for n := 0; n < len(whole); n += 1 + len(whole)/97 {
		try(fmt.Sprintf("cut off after %d bytes", n), whole[:n])
	}
	for at := 0; at < len(whole); at += 1 + len(whole)/211 {
		flipped := bytes.Clone(whole)
		flipped[at] ^= 1 << (at % 8)
		try(fmt.Sprintf("a bit of byte %d", at), flipped)
	}
	try("more behind it", append(bytes.Clone(whole), 0))
	readsAlike(t, r, 0, 3)
	if now, err := os.ReadFile(keptAt(dir)); err != nil || !bytes.Equal(now, whole) {
		t.Errorf("it was not mended: %v", err)
	}
}

// What can't be read or written stops nothing.
func TestAKeptFileThatIsInTheWay(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir, Least: 1}
	put(t, dir, "data/.there", "")
	readsAlike(t, r, 0, 3)
	if err := os.Chmod(keptAt(dir), 0o644); err != nil {
		t.Fatal(err)
	}
	if news := readsAlike(t, r, 0, 3); news.Why != errKeptOpen.Error() {
		t.Errorf("why: %q", news.Why)
	}
	readsAlike(t, r, 3, 0) // it was put right
	if err := errors.Join(os.Remove(keptAt(dir)), os.Mkdir(keptAt(dir), 0o700)); err != nil {
		t.Fatal(err)
	}
	put(t, dir, "data/"+keptName+"/there", "")
	c, _, news := r.Load()
	if c == nil || news.Read != 3 || news.Why == "" {
		t.Fatalf("%+v", news)
	}
	if err := r.Keep(c); err == nil || strings.Contains(err.Error(), dir) {
		t.Errorf("kept over a folder: %v", err)
	}
	if _, err := os.Lstat(filepath.Join(dir, "data", keptNew)); err == nil {
		t.Error("what could not be put in place lies about")
	}
	if err := os.RemoveAll(filepath.Join(dir, "data")); err != nil {
		t.Fatal(err)
	}
	if c, _, _ = r.Load(); c == nil {
		t.Fatal("no clinic without a data folder")
	}
	if err := r.Keep(c); err == nil {
		t.Error("kept in a folder that is not there")
	}
}

// What was being written when the service was killed goes at the next start,
// also where there is nothing new to write.
func TestAnUnfinishedKeptFileGoes(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir, Least: 1}
	put(t, dir, "data/.there", "")
	readsAlike(t, r, 0, 3)
	left := filepath.Join(dir, "data", keptNew)
	put(t, dir, "data/"+keptNew, "half of it")
	readsAlike(t, r, 3, 0)
	if _, err := os.Lstat(left); err == nil {
		t.Error("it is still there")
	}
	put(t, dir, "data/"+keptNew, "half of it")
	put(t, dir, "enrollments/c.yaml", keptPatients("d"))
	readsAlike(t, r, 2, 1)
	readsAlike(t, r, 3, 0)
}

// A small clinic keeps nothing, and one that became small keeps nothing any more.
func TestASmallClinicKeepsNothing(t *testing.T) {
	dir := keptClinic(t)
	put(t, dir, "data/.there", "")
	readsAlike(t, &Reader{Dir: dir}, 0, 3)
	if _, err := os.Lstat(keptAt(dir)); err == nil {
		t.Error("nine patients were kept")
	}
	readsAlike(t, &Reader{Dir: dir, Least: 9}, 0, 3)
	readsAlike(t, &Reader{Dir: dir, Least: 10}, 3, 0)
	if _, err := os.Lstat(keptAt(dir)); err == nil {
		t.Error("nine patients are still kept")
	}
}

// Only the clinic that was read and accepted is kept.
func TestOnlyWhatWasAcceptedIsKept(t *testing.T) {
	dir := keptClinic(t)
	put(t, dir, "data/.there", "")
	r := &Reader{Dir: dir, Least: 1}
	if c, _, _ := r.Load(); c == nil {
		t.Fatal("no clinic")
	}
	other, _ := Load(dir, nil)
	if err := r.Keep(other); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Lstat(keptAt(dir)); err == nil {
		t.Error("a reading was kept that nobody accepted")
	}
}

// Forget lets only what is of the files in force stay.
func TestForget(t *testing.T) {
	dir := keptClinic(t)
	data := filepath.Join(dir, "data")
	put(t, dir, "data/.there", "")
	r := &Reader{Dir: dir, Least: 1}
	there := func() bool { _, err := os.Lstat(keptAt(dir)); return err == nil }
	readsAlike(t, r, 0, 3)
	c, _ := Load(dir, nil)
	put(t, dir, "data/"+keptNew, "half of it")
	if err := Forget(data, c.Files); err != nil || !there() {
		t.Fatalf("what is of the files in force went: %v", err)
	}
	if _, err := os.Lstat(filepath.Join(data, keptNew)); err == nil {
		t.Error("the unfinished one stays")
	}
	put(t, dir, "enrollments/b.yaml", "enrollments: []")
	c, _ = Load(dir, nil)
	if err := Forget(data, c.Files); err != nil || there() {
		t.Errorf("it stays, of a file that is another: %v", err)
	}
	put(t, dir, "data/"+keptName, keptMagic+"not what it seems")
	if err := Forget(data, c.Files); err != nil || there() {
		t.Errorf("it stays, and is not whole: %v", err)
	}
	if err := Forget(filepath.Join(data, "nowhere"), nil); err != nil {
		t.Error(err)
	}
}

// What is read again from the disk is what was read before, or an error.
func TestAFileThatChangedSinceItWasRead(t *testing.T) {
	dir := keptClinic(t)
	r := &Reader{Dir: dir}
	c, _, _ := r.Load()
	f := c.Files[slices.IndexFunc(c.Files, func(f File) bool { return f.Path == "enrollments/a.yaml" })]
	if data, err := f.Read(); err != nil || f.Data != nil || string(data) != keptPatients("a") {
		t.Fatalf("%v", err)
	}
	put(t, dir, f.Path, keptPatients("x"))
	if _, err := f.Read(); !errors.Is(err, ErrChanged) {
		t.Errorf("%v", err)
	}
	if err := os.Remove(filepath.Join(dir, f.Path)); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Read(); err == nil {
		t.Error("a file that is gone was read")
	}
}

// Folders that are refused are refused in the same words.
func TestAReaderSaysTheSame(t *testing.T) {
	folders, err := filepath.Glob("../testdata/bad/*")
	if err != nil || len(folders) < 8 {
		t.Fatalf("%d folders: %v", len(folders), err)
	}
	for _, dir := range append(folders, filepath.Join(t.TempDir(), "nowhere")) {
		_, want := Load(dir, env)
		if c, got, _ := (&Reader{Dir: dir, Getenv: env}).Load(); c != nil || !slices.Equal(got, want) {
			t.Errorf("%s:\n%v\nwant\n%v", filepath.Base(dir), got, want)
		}
	}
}
