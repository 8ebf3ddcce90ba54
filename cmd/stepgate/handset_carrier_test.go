package main

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/rules"
)

// startCarrier builds the stand-in carrier and runs it. It gives back its
// address.
func startCarrier(t *testing.T, args ...string) string {
	t.Helper()
	binary := filepath.Join(t.TempDir(), "carrier")
	if out, err := exec.CommandContext(t.Context(), "go", "build", "-o", binary, "stepgate/cmd/carrier").CombinedOutput(); err != nil {
		t.Fatalf("build the carrier: %v\n%s", err, out)
	}
	cmd := exec.Command(binary, append([]string{"--listen", "127.0.0.1:0"}, args...)...)
	p := &process{t: t, cmd: cmd, out: newScreen(), log: newScreen(), ended: make(chan struct{})}
	cmd.Stdout, cmd.Stderr = p.out, p.log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.ended)
		_ = cmd.Wait()
	}()
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		<-p.ended
	})
	return regexp.MustCompile(`http://127\.0\.0\.1:\d+`).FindString(p.wait(p.out, "its address", has("Stop with Ctrl-C.")))
}

// polling is a clinic whose texts go to the carrier at an address, with no
// port open: what comes in is read from the carrier's list.
func polling(t *testing.T, address string) (dir string) {
	t.Helper()
	now := time.Now()
	name := zoneAtNoon(now)
	zone, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return folderOf(t, map[string]string{
		"programs/settling-in.yaml": read(t, "..", "..", "testdata", "clinic", "programs", "settling-in.yaml"),
		"stepgate.yaml": fmt.Sprintf(`clinic:
  name: Harbor Foot Clinic
  phone: 503-555-0110
  hours: Mon-Fri 8:30-5
  after hours: 503-555-0111
  emergency: 911
  zone: %s
alerts: {spool: clinician}
sms:
  account: %s
  token: {env: TEXT_TOKEN}
  from: "%s"
  api: %s
  poll: 1s
`, name, account, sender, address),
		"enrollments.yaml": enrollment("rosa-01", "Quillon", patient, rules.DateOf(now.In(zone))),
	})
}

// TestHandsetAtTheCarrier plays patient over the whole way of texts: service,
// carrier, phone, and back. The phone of an enrollment and that of its number
// are the same.
func TestHandsetAtTheCarrier(t *testing.T) {
	t.Parallel()
	address := startCarrier(t, "--account", account, "--token", token, "--from", sender, "--deliver", "0s")
	dir := polling(t, address)
	svc := serve(t, []string{"TEXT_TOKEN=" + token}, dir)
	phone := start(t, nil, "handset", dir, "rosa-01", "--carrier", address, "--wait", "100ms")
	phone.wait(phone.out, "the day's text", has("This is Quillon's phone, at the stand-in carrier.", "Harbor Foot Clinic"))
	phone.typed("P5")
	phone.wait(phone.out, "the answer", has("| 5 noted"))
	if err := phone.in.Close(); err != nil {
		t.Fatal(err)
	}
	<-phone.ended
	if code := phone.cmd.ProcessState.ExitCode(); code != exitGood || phone.log.String() != "" {
		t.Errorf("the phone ended with %d: %s", code, phone.log)
	}
	again := start(t, nil, "handset", "--carrier", address, patient, "--to", sender)
	again.wait(again.out, "what came before", has("This is "+patient+"'s phone", "Harbor Foot Clinic", "| 5 noted"))
	again.typed("STOP")
	again.wait(again.out, "the carrier's own answer", has("START to get them again."))
	svc.waitLog("msg=in.taken id=rosa-01 channel=sms")
	svc.stop()
	if strings.Contains(svc.log.String(), "5035550") {
		t.Errorf("the log has a number in it:\n%s", svc.log)
	}
}

func TestHandsetSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	nobody := "http://" + freeAddress(t)
	dir := polling(t, nobody)
	spool := folderOf(t, map[string]string{"stepgate.yaml": "clinic: nobody\n"})
	for _, c := range []struct {
		code int
		want string
		args []string
	}{
		{exitNotWell, "the stand-in carrier can't be reached at " + nobody + "; start one in another terminal: go run ./cmd/carrier",
			[]string{"--carrier", nobody, patient}},
		{exitNotWell, "can't be reached", []string{"--carrier", nobody, dir, "rosa-01"}},
		{exitUsage, "on this machine", []string{"--carrier", "https://api.example.com", patient}},
		{exitUsage, "is written like", []string{"--carrier", nobody, "5035550120"}},
		{exitUsage, "is written like", []string{"--carrier", nobody, patient, "--to", "clinic"}},
		{exitUsage, `nobody is enrolled as "p-99"`, []string{"--carrier", nobody, dir, "p-99"}},
		{exitUsage, "stepgate.yaml:", []string{"--carrier", nobody, spool, "p-99"}},
		{exitUsage, "is not a folder", []string{"--carrier", nobody, filepath.Join(dir, "none"), "rosa-01"}},
		{exitUsage, "wants 2 arguments", []string{patient}},
		{exitUsage, "wants 2 arguments", []string{"--carrier", nobody}},
		{exitUsage, "--to goes with --carrier", []string{dir, "rosa-01", "--to", sender}},
		{exitUsage, "quick time is on the spool only", []string{dir, "rosa-01", "--carrier", nobody, "--quick"}},
	} {
		if got := wantRun(t, c.code, nil, append([]string{"handset"}, c.args...)...); !strings.Contains(got.log, c.want) {
			t.Errorf("%v: %q, want %q", c.args, got.log, c.want)
		}
	}
}
