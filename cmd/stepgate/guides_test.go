package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// words splits a command as a shell would; the guides quote with " only.
func words(line string) (args []string) {
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			args = append(args, part)
		} else {
			args = append(args, strings.Fields(part)...)
		}
	}
	return args
}

// TestReadmeFirstHour does what README.md says, in a fresh folder.
func TestReadmeFirstHour(t *testing.T) {
	t.Parallel()
	r := readReadme(t)
	commands := r.commands["README.md"]
	wantCommands(t, "README.md", commands, "init my-clinic", "check my-clinic", "rehearse my-clinic --program heel-pain --weeks 6",
		"serve my-clinic --quick 1m", "handset my-clinic sample-01", "caseload my-clinic", "explain my-clinic sample-01",
		"report my-clinic sample-01 --out sample.html", "enroll my-clinic", "serve my-clinic")
	dir := t.TempDir()
	args := func(i int) []string {
		return words(strings.NewReplacer("my-clinic", filepath.Join(dir, "my-clinic"), "sample.html", filepath.Join(dir, "sample.html")).Replace(commands[i]))
	}
	first := start(t, nil, args(0)...)
	for _, answer := range []string{"Harbor Foot Clinic", "+1 503 555 0110", "Mon-Fri 8:30-17:00", "+1 503 555 0111", "911",
		"America/Los_Angeles", "en", "heel-pain"} {
		first.typed(answer)
	}
	first.wait(first.out, "what to do next", has("stepgate check ", "stepgate serve ", "stepgate handset ", "sample-01"))
	first.wantEnd(exitGood)
	if got := wantRun(t, exitGood, nil, args(1)...).out; !has("Harbor Foot Clinic: 1 program, 1 enrolled, nothing to put right")(got) {
		t.Errorf("check:\n%s", got)
	}
	if got := wantRun(t, exitGood, nil, args(2)...).out; !has("Step, pain and wear time by day")(got) {
		t.Errorf("rehearse:\n%s", got)
	}
	svc := serve(t, nil, args(3)[1:]...)
	phone := start(t, nil, args(4)...)
	phone.wait(phone.out, "the first text", has("Harbor Foot Clinic", "Reply D when done."))
	phone.typed("D2")
	phone.wait(phone.out, "the answer", has("2 noted, thank you."))
	if got := wantRun(t, exitGood, nil, args(5)...).out; !has("sample-01", "Sample")(got) {
		t.Errorf("caseload:\n%s", got)
	}
	if got := wantRun(t, exitGood, nil, args(6)...).out; !has("sample-01 (Sample), ", "first day")(got) {
		t.Errorf("explain:\n%s", got)
	}
	wantRun(t, exitGood, nil, args(7)...)
	if page := read(t, dir, "sample.html"); !has("<html", "Sample")(page) {
		t.Errorf("the report:\n%s", page)
	}
	svc.stop()
	enrollOne(t, args(8))
	real := serve(t, nil, args(9)[1:]...)
	real.stop()
}

// enrollOne answers what enroll asks.
func enrollOne(t *testing.T, args []string) {
	t.Helper()
	p := start(t, nil, args...)
	for _, x := range []struct{ asks, answer string }{{"First name", "Rosa"}, {"Program", ""}, {"handed over", ""}, {"Affected side", "left"},
		{"Where do the messages go", "spool"}, {"Time of the daily message", ""}, {"Time zone", ""}, {"Language", ""}, {"care", ""},
		{"Did the patient agree", "y"}, {"signed the form", "signed at the visit"}, {"Who asked them", "your name"}, {"On which date", ""},
		{"handed on", ""}, {"Id for the records", ""},
		{"y/N", "y"}} {
		p.wait(p.out, x.asks, has(x.asks))
		p.typed(x.answer)
	}
	p.wait(p.out, "where it stands", has("enrollments.yaml:"))
	p.wantEnd(exitGood)
}

// TestGuides does what the guides of clinicians and admins say, with the demo's
// clinic in the place of one that was served for weeks.
func TestGuides(t *testing.T) {
	t.Parallel()
	r := readReadme(t)
	dir := t.TempDir()
	clinic := filepath.Join(dir, "my-clinic")
	wantRun(t, exitGood, nil, "demo", "--dir", clinic)
	write(t, clinic, "programs/heel-pain.yaml", read(t, "..", "..", "templates", "starters", "heel-pain.yaml"))
	run := func(guide string, code int, line string, wants ...string) {
		t.Helper()
		found := false
		for i, c := range r.commands[guide] {
			if c == line {
				r.commands[guide] = append(r.commands[guide][:i:i], r.commands[guide][i+1:]...)
				found = true
				break
			}
		}
		if !found {
			t.Errorf("%s does not have the command %q", guide, line)
		}
		args := words(line)
		for i := range args {
			switch {
			case strings.HasPrefix(args[i], "my-clinic"):
				args[i] = filepath.Join(dir, args[i])
			case i > 0 && args[i-1] == "--out":
				if args[i] = filepath.Join(dir, args[i]); code == exitGood {
					wants = append(wants, args[i])
				}
			}
		}
		got := wantRun(t, code, nil, args...).out
		for _, w := range wants {
			if filepath.IsAbs(w) {
				if info, err := os.Stat(w); err != nil || info.Size() == 0 {
					t.Errorf("%s: %v", line, err)
				}
			} else if !strings.Contains(got, w) {
				t.Errorf("%s: no %q in\n%s", line, w, got)
			}
		}
	}
	const clinician, admin = "rules/CLINICIANS.md", "daemon/README.md"
	run(clinician, exitGood, "caseload my-clinic", "1 needs a look", "p-05")
	run(clinician, exitGood, "patient my-clinic p-01", "Ana", "dose")
	run(clinician, exitGood, "explain my-clinic p-01", "p-01 (Ana)")
	run(clinician, exitGood, "report my-clinic p-01 --out p-01.html")
	run(clinician, exitGood, "report my-clinic p-01 --note", "p-01")
	run(clinician, exitGood, "report my-clinic --out clinic.html")
	run(clinician, exitGood, "report my-clinic --handout heel-pain --out handout.html")
	run(clinician, exitGood, "export my-clinic --csv --out days.csv")
	run(clinician, exitNotWell, "export my-clinic --fhir --out record.json") // nobody of the demo agreed to that
	run(clinician, exitGood, `hold my-clinic p-01 --by "your name" --why "swollen"`, "{hold: ", "No service runs here")
	run(clinician, exitGood, `release my-clinic p-01 --by "your name" --why "seen at the clinic"`, "{release: ")
	run(clinician, exitGood, `note my-clinic p-01 "P2 D" --by "your name"`, "said: P2 D")
	run(clinician, exitGood, `discharge my-clinic p-01 --by "your name"`, "{discharge: ")
	run(admin, exitGood, "verify my-clinic", "The journal is whole")
	edit(t, clinic, "stepgate.yaml", "alerts:", "backup: {dir: backups, keep: 2}\nalerts:")
	run(admin, exitGood, "backup my-clinic", "verified")
	backups, err := os.ReadDir(filepath.Join(clinic, "backups"))
	if err != nil || len(backups) != 1 {
		t.Fatalf("backups: %v, %v", backups, err)
	}
	const dated = "journal-20261128T023000Z.db"
	if err := os.Rename(filepath.Join(clinic, "backups", backups[0].Name()), filepath.Join(clinic, "backups", dated)); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(clinic, "data", "journal.db")); err != nil {
		t.Fatal(err)
	}
	run(admin, exitGood, "restore my-clinic/backups/"+dated+" my-clinic")
	if err := os.Remove(filepath.Join(clinic, "enrollments", "ana.yaml")); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(clinic, "backups")); err != nil {
		t.Fatal(err)
	}
	run(admin, exitGood, "erase my-clinic p-01 --yes", "Erased p-01")
	run(admin, exitGood, "compact my-clinic")
	for _, guide := range []string{clinician, admin} {
		if left := r.commands[guide]; len(left) > 0 {
			t.Errorf("%s: nobody tries %q", guide, left)
		}
	}
}
