package main

import (
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// TestReadmeClinic does what config/README.md says, with the blocks and
// commands that stand in it: they must work as they are.
func TestReadmeClinic(t *testing.T) {
	t.Parallel()
	r := readReadme(t)
	commands := r.commands["config/README.md"]
	wantCommands(t, "config/README.md", commands, "check my-clinic", "serve my-clinic --quick 1m", "handset my-clinic p-01", "caseload my-clinic",
		"explain my-clinic p-01", "rehearse my-clinic --program easy-start --weeks 6", `read my-clinic "did it, a bit sore, maybe 3" --asked pain`,
		"check my-edit --against my-clinic/data/quick/journal.db")
	dir := r.clinic(t)
	args := func(i int) []string {
		return strings.Fields(strings.Replace(commands[i], "my-clinic", dir, 1))
	}
	got := wantRun(t, exitGood, nil, args(0)...).out
	if !strings.HasPrefix(got, "Texts by program, ") || !strings.HasSuffix(got, "\n\nHarbor Foot Clinic: 1 program, 1 enrolled, nothing to put right.\n") {
		t.Errorf("check of the clinic:\n%s", got)
	}
	svc := serve(t, nil, args(1)[1:]...)
	if !strings.Contains(svc.out.String(), "stepgate handset "+dir+" p-01\n") {
		t.Errorf("serve does not say how to pick up the phone:\n%s", svc.out)
	}
	phone := start(t, nil, args(2)...)
	phone.wait(phone.out, "the first text", has("Reply D when done."))
	phone.typed("D2")
	phone.wait(phone.out, "the answer", has("2 noted, thank you."))
	if got := wantRun(t, exitGood, nil, args(3)...).out; !has("1 enrolled, nobody needs a look.", "\nOn course (1)\np-01 Rosa    1   1/3 ", " 1/8 h    active\n")(got) {
		t.Errorf("caseload:\n%s", got)
	}
	if got := wantRun(t, exitGood, nil, args(4)...).out; !has("p-01 (Rosa), ", "first day", "heard    D2\n")(got) {
		t.Errorf("explain:\n%s", got)
	}
	// While the service holds the data, it is asked; an edit is told before and after.
	copied := filepath.Join(t.TempDir(), "my-edit")
	copyLine := regexp.MustCompile(`(?m)^    (mkdir my-edit.*)$`).FindStringSubmatch(read(t, "..", "..", "config", "README.md"))
	if copyLine == nil {
		t.Fatal("config/README.md does not say how to copy the folder")
	}
	line := strings.NewReplacer("my-edit", copied, "my-clinic", dir).Replace(copyLine[1])
	if out, err := exec.Command("sh", "-c", line).CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", line, err, out)
	}
	edit(t, copied, "programs/easy-start.yaml", "reps: 3, hold: 10s", "reps: 2, hold: 10s")
	data := filepath.Join(dir, "data", "quick", "journal.db")
	against := func() {
		t.Helper()
		got := wantRun(t, exitGood, nil, "check", copied, "--against", data).out
		if !has("The next message of 1 patient would change:", "p-01 (Rosa)", "3 times each leg", "2 times each leg")(strings.Join(strings.Fields(got), " ")) {
			t.Errorf("check --against:\n%s", got)
		}
	}
	against()
	svc.stop()
	against()
	if got := wantRun(t, exitGood, nil, args(5)...).out; !has("Step, pain and wear time by day", "Wall calf stretch")(got) {
		t.Errorf("rehearse:\n%s", got)
	}
	text := strings.Split(commands[6], `"`)[1]
	if got := wantRun(t, exitGood, nil, "read", dir, text, "--asked", "pain").out; !has("exercises done: all", "pain today: 3 of 10")(got) {
		t.Errorf("read:\n%s", got)
	}
}

// realTime makes that clinic one with carriers, by the block about them, and
// its patient one of the channel.
func realTime(t *testing.T, r readme, dir, contact string) {
	t.Helper()
	carriers := r.block(t, "from: plans@")
	_, alerts, _ := strings.Cut(carriers, "alerts:")
	edit(t, dir, "stepgate.yaml", "alerts: {spool: clinician}\n", carriers)
	edit(t, dir, "stepgate.yaml", "alerts:"+alerts, r.block(t, "web: {listen")+r.block(t, "backup: {email")+r.block(t, "keep discharged:"))
	edit(t, dir, "enrollments.yaml", "spool: rosa", contact)
	write(t, dir, "mail-password", "open sesame\n")
}

// TestReadmeRealTime checks the blocks about carriers and entries.
func TestReadmeRealTime(t *testing.T) {
	t.Parallel()
	r := readReadme(t)
	table := read(t, "..", "..", "notify", "README.md")
	for _, x := range []struct{ contact, want string }{
		{`sms: "+1 503 555 0120"`, "nothing to put right.\n"},
		{"email: rosa@example.com", "nothing to put right.\n"},
	} {
		if !strings.Contains(table, "`"+x.contact+"`") {
			t.Errorf("notify/README.md does not show a contact like %s", x.contact)
		}
		dir := r.clinic(t)
		realTime(t, r, dir, x.contact)
		got := wantRun(t, exitGood, []string{"SMS_TOKEN=0123456789abcdef"}, "check", dir).out
		if !strings.HasSuffix(got, x.want) {
			t.Errorf("check with %s:\n%s\nwant at the end %q", x.contact, got, x.want)
		}
		text := read(t, dir, "enrollments.yaml")
		write(t, dir, "enrollments.yaml", text+r.block(t, "discharge: "))
		wantRun(t, exitGood, []string{"SMS_TOKEN=0123456789abcdef"}, "check", dir)
		// Without the secret the files are good for nothing, and say so.
		got = wantRun(t, exitNotWell, []string{"SMS_TOKEN="}, "check", dir).out
		if !strings.Contains(got, "the environment variable for token is not set") {
			t.Errorf("check without the token:\n%s", got)
		}
	}
}

// TestReadmeTexts does what notify/README.md says of texts without an account, on
// ports of its own.
func TestReadmeTexts(t *testing.T) {
	t.Parallel()
	r := readReadme(t)
	text := read(t, "..", "..", "notify", "README.md")
	const theirs, from, secret = "http://127.0.0.1:8099", "--from +15035550100", "SMS_TOKEN=tryingout"
	for _, line := range []string{"go run ./cmd/carrier " + from + "\n", secret + " ./stepgate serve my-clinic\n"} {
		if !strings.Contains(text, "    "+line) {
			t.Fatalf("notify/README.md does not have the line %q", line)
		}
	}
	address := startCarrier(t, append(strings.Fields(from), "--deliver", "0s")...)
	dir := r.clinic(t)
	now := time.Now()
	zone := zoneAtNoon(now)
	loc, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	edit(t, dir, "stepgate.yaml", "zone: America/Los_Angeles", "zone: "+zone)
	edit(t, dir, "stepgate.yaml", "alerts:", strings.Replace(r.block(t, "api: "), theirs, address, 1)+"alerts:")
	edit(t, dir, "enrollments.yaml", "spool: rosa", `sms: "+1 503 555 0120"`)
	write(t, dir, "enrollments.yaml", readmeDate.ReplaceAllString(read(t, dir, "enrollments.yaml"), "${1}"+rules.DateOf(now.In(loc)).String()))
	svc := serve(t, []string{secret}, dir)
	commands := r.commands["notify/README.md"]
	wantCommands(t, "notify/README.md", commands, "serve my-clinic", "handset my-clinic p-01 --carrier "+theirs)
	args := strings.Fields(strings.Replace(strings.Replace(commands[1], "my-clinic", dir, 1), theirs, address, 1))
	phone := start(t, nil, args...)
	phone.wait(phone.out, "the day's text", has("Harbor Foot Clinic", "Reply D when done."))
	phone.typed("P5")
	phone.wait(phone.out, "the answer", has("| 5 noted"))
	phone.typed("STOP")
	phone.wait(phone.out, "the carrier's own answer", has("START to get them again."))
	svc.waitLog("msg=alert.made id=p-01 cause=\"opted out\"")
}

// wantCommands compares what a guide has people type with what is tried here.
func wantCommands(t *testing.T, guide string, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Fatalf("%s has these commands to type:\n%s\nthis test knows:\n%s", guide, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}
