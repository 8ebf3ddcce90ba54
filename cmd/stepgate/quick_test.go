package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"stepgate/daemon"
	"stepgate/daemon/caseload"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// onPhone finds the daily messages as the handset shows them.
var onPhone = regexp.MustCompile(`(?m)^  \| ((?:Sun|Mon|Tue|Wed|Thu|Fri|Sat) [A-Z][a-z]{2} [0-9]{1,2})\b`)

// TestPainHoldsTheNextStep is the evening the README promises: a patient
// answers P5, the following days wait and say why, and two easy days end it.
func TestPainHoldsTheNextStep(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	svc := serve(t, nil, dir, "--quick", quickDay)
	phone := start(t, nil, "handset", dir, "p-01", "--wait", "100ms")
	phone.wait(phone.out, "the first text", has("This is Rosa's phone.", "This is Harbor Foot Clinic", "Wall calf stretch: 2 times a day, 3 times each"))
	phone.typed("P5")
	phone.wait(phone.out, "the answer", has("5 noted. No more exercises today.", "Your plan waits"))

	svc.waitLog(`why="pain 5 reached the hold line 4 (programs/easy-start.yaml:27); 0 of 2 clear dates so far"`)
	// While the service holds the journal, these can only come over its socket.
	rows := wantRun(t, exitGood, nil, "caseload", dir).out
	if !has("! Held (1)\np-01 Rosa ", " held\n", "0 of 2 clear dates so far")(rows) {
		t.Errorf("caseload does not say why the day waits:\n%s", rows)
	}
	held := heldDates(svc.log.String())
	story := wantRun(t, exitGood, nil, "explain", dir, "p-01", "--date", held[0]).out
	if flat := strings.Join(strings.Fields(story), " "); !has(", held On ", "Pain 5 reached the hold line 4 (programs/easy-start.yaml:27).",
		"The hold ends after 2 dates at 3 or under; 0 so far.", " heard P5 ", " answer 5 noted. No more exercises today.")(flat) {
		t.Errorf("explain does not say why the day waits:\n%s", story)
	}

	answerUntilFree(t, svc, phone)
	if err := phone.in.Close(); err != nil {
		t.Error(err)
	}
	phone.wantEnd(exitGood)
	svc.stop()
	checkHold(t, journalOf(t, dir, "data", "quick", "journal.db"))
}

var decidedHeld = regexp.MustCompile(`msg=day\.decided id=p-01 date=([0-9-]+) .* state=held `)

func heldDates(log string) []string {
	var dates []string
	for _, m := range decidedHeld.FindAllStringSubmatch(log, -1) {
		dates = append(dates, m[1])
	}
	return dates
}

// answerUntilFree answers each new daily message with an easy day until the
// service says that the hold is over. How many that takes is checked
// afterwards, in the journal: on a slow machine a made-up day may end before
// its answer is typed.
func answerUntilFree(t *testing.T, svc, phone *process) {
	t.Helper()
	freed := regexp.MustCompile(`state=held [^\n]*\n(?:.*\n)*?.*msg=day\.decided id=p-01 .* state=active why="one day on`)
	answered := 1
	waitUntil(t, "two easy days to end the hold", func() bool {
		if n := len(onPhone.FindAllString(phone.out.String(), -1)); n > answered {
			answered = n
			phone.typed([]string{"D2", "D1"}[n%2])
		}
		return freed.MatchString(svc.log.String())
	})
}

// checkHold checks what the journal kept: the program day and the wear day
// stood still from P5 on until two dates had an easy score, and went on then.
func checkHold(t *testing.T, events []journal.Event) {
	t.Helper()
	scores := map[rules.Date]int{} // worst of a date
	for _, e := range events {
		if e.In == nil || e.In.Reading.Pain == nil {
			continue
		}
		if old, ok := scores[e.In.Day]; !ok || *e.In.Reading.Pain > old {
			scores[e.In.Day] = *e.In.Reading.Pain
		}
	}
	list := decisions(events, "p-01")
	for len(list) > 0 && scores[list[0].Date] != 5 { // typed late: the first text's date was over
		list = list[1:]
	}
	if len(list) < 4 {
		t.Fatalf("%d dates from the one with pain 5 on, want 4 at least", len(list))
	}
	hurt, easy, held := list[0], 0, 0
	for _, d := range list[1:] {
		if easy == 2 {
			if d.P != hurt.P+1 || d.Why.Code != rules.Tick || held < 2 {
				t.Fatalf("%s, after two easy dates of %d held: P %d (%s), want %d", d.Date, held, d.P, d.Why.Code, hurt.P+1)
			}
			return
		}
		held++
		if d.P != hurt.P || d.W != hurt.W || d.State != rules.InHeld || d.Why.Code != rules.PainHeld {
			t.Fatalf("%s with %d easy dates so far: P %d, W %d, %s (%s); want it held at %d and %d",
				d.Date, easy, d.P, d.W, d.State, d.Why.Code, hurt.P, hurt.W)
		}
		if s, ok := scores[d.Date]; ok && s <= 3 {
			easy++
		}
	}
	t.Fatalf("the hold never ended: %d easy dates", easy)
}

// TestQuickTimeGoesOn stops quick time and starts it again: it goes on from
// where it stopped, and no date comes twice. Its folder deleted, it begins
// anew.
func TestQuickTimeGoesOn(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	spool := filepath.Join(dir, "data", "quick", "spool")
	more := func(n int) {
		t.Helper()
		waitUntil(t, "the next daily messages", func() bool { return len(dailies(messages(t, spool, "rosa"))) >= n })
	}
	svc := serve(t, nil, dir, "--quick", quickDay)
	more(2)
	svc.stop()
	before := journalOf(t, dir, "data", "quick", "journal.db")
	last := before[len(before)-1].At

	svc = serve(t, nil, dir, "--quick", quickDay)
	h, err := daemon.NewLooker(dir, true, os.Getenv).Health(t.Context())
	if err != nil || h.Now.Before(last) || h.Started.Before(last) || !h.Quick {
		t.Errorf("after a restart it is %s (started %s, quick %v, %v); want no earlier than %s", h.Now, h.Started, h.Quick, err, last)
	}
	more(len(dailies(messages(t, spool, "rosa"))) + 1)
	svc.kill() // and again after a death
	svc = serve(t, nil, dir, "--quick", quickDay)
	more(len(dailies(messages(t, spool, "rosa"))) + 1)
	svc.stop()

	after := journalOf(t, dir, "data", "quick", "journal.db")
	for i, e := range after[1:] {
		if e.At.Before(after[i].At) {
			t.Errorf("event %d is at %s, before event %d at %s", e.Seq, e.At, after[i].Seq, after[i].At)
		}
	}
	list := decisions(after, "p-01")
	for i, d := range list[1:] {
		if d.Date <= list[i].Date {
			t.Errorf("date %s was decided after %s", d.Date, list[i].Date)
		}
	}
	dates := dailies(messages(t, spool, "rosa"))
	if slices.Sort(dates); len(slices.Compact(slices.Clone(dates))) != len(dates) || len(dates) < 4 {
		t.Errorf("daily messages on the phone: %q", dates)
	}

	if err := os.RemoveAll(filepath.Join(dir, "data", "quick")); err != nil {
		t.Fatal(err)
	}
	svc = serve(t, nil, dir, "--quick", quickDay)
	more(1)
	svc.stop()
	if first := messages(t, spool, "rosa")[0]; !strings.Contains(first, "This is Harbor Foot Clinic with your home plan.") {
		t.Errorf("begun anew, the first text is\n%s", first)
	}
}

// TestRealAndQuickTimeApart runs both at once in one folder.
func TestRealAndQuickTimeApart(t *testing.T) {
	t.Parallel()
	dir := readReadme(t).clinic(t)
	real := serve(t, nil, dir)
	quick := serve(t, nil, dir, "--quick", quickDay)
	if out := quick.out.String(); !strings.Contains(out, "its data lie apart in "+filepath.Join(dir, "data", "quick")+".") {
		t.Errorf("quick time does not say where its data lie:\n%s", out)
	}
	spool := filepath.Join(dir, "data", "quick", "spool")
	waitUntil(t, "two made-up days", func() bool { return len(dailies(messages(t, spool, "rosa"))) >= 2 })

	tomorrow := rules.DateOf(time.Now()) + 2 // in whatever zone
	if row := rowOf(t, "caseload", dir, "--json"); row.Day > 2 || row.Date > tomorrow {
		t.Errorf("the caseload of real time is at day %d, %s", row.Day, row.Date)
	}
	if row := rowOf(t, "caseload", dir, "--json", "--quick"); row.Day < 2 {
		t.Errorf("the caseload of quick time is at day %d, %s", row.Day, row.Date)
	}
	quick.stop()
	real.stop()

	now := time.Now()
	for _, e := range journalOf(t, dir, "data", "journal.db") {
		if e.At.After(now) {
			t.Errorf("the journal of real time has an event of the future: %s %s", e.Kind, e.At)
		}
	}
	if n := len(messages(t, filepath.Join(dir, "data", "spool"), "rosa")); n > 1 {
		t.Errorf("real time has sent %d messages in a few seconds", n)
	}
	made := journalOf(t, dir, "data", "quick", "journal.db")
	if list := decisions(made, "p-01"); len(list) < 2 || list[0].Day != 1 {
		t.Errorf("the journal of quick time has %d dates decided", len(list))
	}
	// Nobody runs: each journal is looked at by itself.
	if row := rowOf(t, "caseload", dir, "--json", "--quick"); row.Day < 2 {
		t.Errorf("stopped, the caseload of quick time is at day %d", row.Day)
	}
}

func rowOf(t *testing.T, args ...string) caseload.Row {
	t.Helper()
	var rows []caseload.Row
	if err := json.Unmarshal([]byte(wantRun(t, exitGood, nil, args...).out), &rows); err != nil || len(rows) != 1 {
		t.Fatalf("%d rows, %v; want 1", len(rows), err)
	}
	return rows[0]
}

// TestQuickTimeReachesNobody serves a clinic with a carrier in quick time:
// everybody is on the spool, and the carrier's settings are not even opened.
func TestQuickTimeReachesNobody(t *testing.T) {
	t.Parallel()
	r := readReadme(t)
	dir := r.clinic(t)
	realTime(t, r, dir, `sms: "+1 503 555 0120"`)
	svc := serve(t, []string{"SMS_TOKEN=0123456789abcdef"}, dir, "--quick", quickDay)
	spool := filepath.Join(dir, "data", "quick", "spool")
	waitUntil(t, "a text on the spool", func() bool { return len(messages(t, spool, "p-01")) > 0 })
	svc.signal(syscall.SIGINT) // Ctrl-C, as the greeting says
	svc.wantEnd(exitGood)
	for _, e := range journalOf(t, dir, "data", "quick", "journal.db") {
		if e.Out != nil && e.Out.Channel != "spool" {
			t.Errorf("in quick time a message was meant for %s", e.Out.Channel)
		}
	}
}
