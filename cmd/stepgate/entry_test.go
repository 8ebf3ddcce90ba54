package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// newClinicFolder makes a clinic with init, in the zone where it is noon.
func newClinicFolder(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "clinic")
	wantRun(t, exitGood, nil, "init", dir, "--yes", "--name", "Harbor Foot Clinic", "--phone", "+1 503 555 0110", "--hours", "Mon-Fri 8:30-17:00",
		"--after-hours", "+1 503 555 0111", "--emergency", "911", "--zone", zoneAtNoon(time.Now()), "--program", "heel-pain")
	return dir
}

// TestEntriesInQuickTime: what is written against quick time says that its date
// is made up, and a release that a pain hold would not hear is not written.
func TestEntriesInQuickTime(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	svc := serve(t, nil, dir, "--quick", quickDay)
	phone := start(t, nil, "handset", dir, "p-01", "--wait", "100ms")
	phone.wait(phone.out, "the first text", has("This is Rosa's phone."))
	phone.typed("P5")
	svc.waitLog("id=p-01", " state=held ")
	before := read(t, dir, "enrollments.yaml")
	got := wantRun(t, exitUsage, nil, "release", dir, "p-01", "--by", "J").log
	if !has("p-01 has a pain hold alone, which no release ends")(got) || read(t, dir, "enrollments.yaml") != before {
		t.Errorf("release of a pain hold:\n%s", got)
	}
	const madeUp = "It stands in the real file, made in quick time, whose dates are made up; take it out before you serve for real.\n"
	if got := wantRun(t, exitGood, nil, "hold", dir, "p-01", "--by", "J").out; !has("{hold: ", madeUp)(got) {
		t.Errorf("hold:\n%s", got)
	}
	if got := wantRun(t, exitGood, nil, "release", dir, "p-01", "--by", "J", "--json").out; !has(`"quick": true`)(got) { // it ends the clinician's hold
		t.Errorf("release of both:\n%s", got)
	}
	svc.stop()
}

// TestEntriesReachTheService: a patient is enrolled and entries are written
// while the service runs; each command says that it was taken up, and the
// journal has them.
func TestEntriesReachTheService(t *testing.T) {
	t.Parallel()
	dir := newClinicFolder(t)
	svc := serve(t, nil, dir)
	got := wantRun(t, exitGood, nil, "enroll", dir, "--yes", "--name", "Rosa", "--spool", "rosa", "--time", "8:00", "--consent-how", "form", "--consent-by", "J").out
	if !has("p-01 is enrolled. The running service has taken it up.", "stepgate handset "+dir+" p-01\n")(got) {
		t.Errorf("enroll:\n%s", got)
	}
	for _, c := range []struct{ args, want string }{
		{"hold", "{hold: "}, {"release", "{release: "}, {"note", "{report: "}, {"discharge", "{discharge: "},
	} {
		args := []string{c.args, dir, "p-01"}
		if c.args == "note" {
			args = append(args, "P2 D")
		}
		got := wantRun(t, exitGood, nil, append(args, "--by", "J. Marlowe DPM")...).out
		if !has("enrollments.yaml:", c.want, "The running service has taken it up.\n")(got) {
			t.Errorf("%s:\n%s", c.args, got)
		}
		svc.waitLog("id=p-01")
	}
	// One dated ahead is known, and counts later.
	text := wantRun(t, exitGood, nil, "hold", dir, "sample-01", "--by", "J", "--on", rules.DateOf(time.Now().AddDate(0, 0, 9)).String(), "--json").out
	var said entered
	if err := json.Unmarshal([]byte(text), &said); err != nil || said.Service != "in force" || said.Taken == nil || !said.Taken.InForce || said.Taken.Counted || said.Line == 0 {
		t.Errorf("%v\n%s", err, text)
	}
	svc.stop()
	var kinds, heard []string
	for _, e := range journalOf(t, dir, "data", "journal.db") {
		if e.ID == "p-01" && e.Entry != nil {
			kinds = append(kinds, string(e.Entry.Kind))
		}
		if e.Kind == journal.Heard {
			heard = append(heard, e.In.Channel+" "+e.In.Text)
		}
	}
	if strings.Join(kinds, " ") != "hold release report discharge" || strings.Join(heard, ",") != "phone P2 D" {
		t.Errorf("the journal has %v, heard %v", kinds, heard)
	}
	// An id that the record knows is not given to another.
	edit(t, dir, "enrollments.yaml", "id: p-01", "id: other-1")
	edit(t, dir, "enrollments.yaml", "spool: rosa", "spool: other")
	got = wantRun(t, exitUsage, nil, "enroll", dir, "--yes", "--id", "p-01", "--name", "Ana", "--spool", "ana", "--time", "8:00", "--consent-how", "form", "--consent-by", "J").log
	if !has(`the record knows somebody under the id "p-01" already`)(got) {
		t.Errorf("enroll under a used id:\n%s", got)
	}
	got = wantRun(t, exitGood, nil, "enroll", dir, "--yes", "--name", "Ana", "--spool", "ana", "--time", "8:00", "--consent-how", "form", "--consent-by", "J").out
	if !has("p-02 is enrolled. No service runs here")(got) {
		t.Errorf("enroll with a proposed id:\n%s", got)
	}
}
