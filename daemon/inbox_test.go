package daemon

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
)

const (
	clinician = "clinician@example.com"
	backup    = "second@example.com"
)

// staffed is a clinic whose people are told by mail, in hours of Monday to
// Friday, nine to five.
func staffed(t *testing.T, more string, patients ...*enrolled) *clinic {
	t.Helper()
	t.Parallel()
	set := &SetClock{}
	c := bareClinic(t, set, patients...)
	c.set = set
	c.settings = strings.Replace(c.settings, "alerts: {spool: clinician-box}",
		fmt.Sprintf("alerts:\n  email: %s\n  backup: {email: %s}\n%s", clinician, backup, more), 1)
	c.at("2026-10-05 07:00")
	c.open()
	return c
}

func (c *clinic) wantMails(to string, parts ...string) {
	c.t.Helper()
	wantEach(c, "mails to "+to, c.email.mailsTo(to), parts)
}

// One bad morning is one mail: the first alert goes at once, the rush behind it
// together, the most urgent first.
func TestABadMorningIsOneMail(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"), onSpool("p-02"), onSpool("p-03"), onSpool("p-04"))
	c.morning("2026-10-05")
	c.at("2026-10-05 10:00")
	c.reply("p-01", "P9")
	c.wantMails(clinician, "Why: pain 9 reached the pause line 8 (programs/steady.yaml:1), since Oct\n5; waits for a clinician's release.")
	c.at("2026-10-05 10:01")
	c.reply("p-02", "P8")
	c.at("2026-10-05 10:02")
	c.reply("p-03", "please phone me")
	c.reply("p-04", "chest pain")
	c.wantMails(clinician, "paused, pain 9")
	c.ticks("2026-10-05 10:06", time.Minute)
	c.wantMails(clinician, "paused, pain 9", "3 patients need a look")
	second := c.email.mailsTo(clinician)[1]
	for _, want := range []string{"p-02", "p-03", "p-04", "chest pain"} {
		if !strings.Contains(second, want) {
			t.Errorf("the mail lacks %q:\n%s", want, second)
		}
	}
	c.ticks("2026-10-05 16:00", 10*time.Minute)
	if n := len(c.email.mailsTo(clinician)); n != 2 {
		t.Errorf("%d mails", n)
	}
}

// What can wait waits for the next clinic hour, with whatever else waits.
func TestWhatCanWaitGoesAtTheNextClinicHour(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"), onSpool("p-02"))
	c.morning("2026-10-05")
	c.at("2026-10-05 18:30") // the clinic is closed
	c.reply("p-01", "xyzzy plugh")
	c.reply("p-02", "B")
	c.ticks("2026-10-06 08:59", 30*time.Minute)
	c.wantMails(clinician)
	c.morning("2026-10-06")
	c.wantMails(clinician, "2 patients need a look")
}

// Nobody acknowledged: once more after a clinic day, to the backup too, and
// then no more. Weekends are no clinic days.
func TestAnAlertNobodyAcknowledged(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-08", "D1")
	c.morning("2026-10-09") // a Friday
	c.at("2026-10-09 15:00")
	c.reply("p-01", "P9")
	c.ticks("2026-10-12 14:59", 30*time.Minute)
	c.wantMails(clinician, "paused, pain 9")
	c.wantMails(backup)
	c.ticks("2026-10-12 15:01", time.Minute)
	c.wantMails(clinician, "paused, pain 9", "Not answered yet")
	c.wantMails(backup, "Not answered yet")
	c.ticks("2026-10-16 12:00", 30*time.Minute)
	c.wantMails(backup, "Not answered yet")
}

// On cover dates alerts go to who covers.
func TestCover(t *testing.T) {
	c := staffed(t, "  cover: [{from: 2026-10-06, to: 2026-10-07, email: colleague@example.com}]\n", onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "please phone me")
	c.at("2026-10-06 09:00")
	c.reply("p-01", "P9")
	c.wantMails(clinician, "asks for a call")
	c.wantMails("colleague@example.com", "asks for a call", "paused, pain 9") // what nobody answered, too
	c.at("2026-10-08 09:00")                                                  // the cover is over
	c.tick()
	c.wantMails(clinician, "asks for a call", "Not answered yet: Stepgate: Quillon (p-01) paused")
}

var tokenIn = regexp.MustCompile(`A\d+-[A-Z2-7]{16}`)

// answers sends a clinician's mail.
func (c *clinic) staffSays(from, subject, text string) {
	c.t.Helper()
	c.replies++
	c.take("email", notify.Incoming{ID: fmt.Sprintf("IN%04d", c.replies), From: from, Subject: subject, Text: text})
	c.send()
}

// canEdit lets the service edit the clinic's files, as the running one does.
func (c *clinic) canEdit() {
	x := &serving{o: ServeOptions{Dir: c.dir, Getenv: env, Log: c.log()}, j: c.j, load: c.load, svc: c.s}
	x.watch = newWatch(c.dir, c.log(), nil, c.load)
	c.s.o.Edit, c.s.o.Reread = x.edit, x.reread
}

// An alert is answered by mail: the edit a careful person would make, once, and
// a mail that says so.
func TestAnAlertIsAnsweredByMail(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"), onSpool("p-02"))
	c.canEdit()
	c.morning("2026-10-05")
	c.at("2026-10-05 10:00")
	c.reply("p-01", "P9")
	subject := "Re: " + c.email.subjects(clinician)[0]
	if !tokenIn.MatchString(subject) {
		t.Fatalf("no token in %q", subject)
	}
	c.staffSays(clinician, subject, "please wait")
	c.wantMails(clinician, "paused, pain 9", "no answer that can be read")
	c.staffSays("stranger@example.net", subject, "1 release")
	if strings.Contains(c.file("enrollments.yaml"), "release") {
		t.Fatal("anybody can release")
	}
	token := tokenIn.FindString(subject)
	forged := token[:len(token)-1] + map[bool]string{true: "B", false: "A"}[token[len(token)-1] == 'A']
	c.staffSays(clinician, strings.Replace(subject, token, forged, 1), "1 release")
	if strings.Contains(c.file("enrollments.yaml"), "release") {
		t.Fatal("a forged token works")
	}
	in := notify.Incoming{ID: "REL", From: clinician, Subject: subject, Text: "1 Release\n\n-- \nJ. Marlowe"}
	c.take("email", in)
	c.take("email", in)
	c.send()
	text := c.file("enrollments.yaml")
	if strings.Count(text, `release: 2026-10-05, by: "clinician, by mail"`) != 1 {
		t.Fatalf("the file:\n%s", text)
	}
	mails := c.email.mailsTo(clinician)
	if last := mails[len(mails)-1]; !strings.Contains(last, "released; the pause ends") || !strings.Contains(last, "enrollments.yaml") {
		t.Errorf("the answer:\n%s", last)
	}
	c.morning("2026-10-06")
	if d := c.last("p-01"); d.State == rules.InPaused {
		t.Error("the patient is still paused")
	}
	c.ticks("2026-10-07 12:00", time.Hour)
	if got := c.email.mailsTo(clinician); strings.Contains(got[len(got)-1], "pain 9") {
		t.Errorf("what was answered goes out again:\n%s", got[len(got)-1])
	}
}

// A process that dies between the edit and the commit takes the answer again,
// and the entry stands once.
func TestAnAnswerTakenAgainEditsOnce(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"))
	c.canEdit()
	c.morning("2026-10-05")
	c.at("2026-10-05 10:00")
	c.reply("p-01", "P9")
	subject := "Re: " + c.email.subjects(clinician)[0]
	edit := c.s.o.Edit
	c.s.o.Edit = func(id string, entries []rules.Entry) (rules.Pos, error) {
		for range 2 {
			if _, err := edit(id, entries); err != nil {
				t.Error(err)
			}
		}
		return edit(id, entries)
	}
	c.staffSays(clinician, subject, "1 release")
	if n := strings.Count(c.file("enrollments.yaml"), "release: 2026-10-05"); n != 1 {
		t.Errorf("%d releases in the file", n)
	}
	mails := c.email.mailsTo(clinician)
	if last := mails[len(mails)-1]; !strings.Contains(last, "released; the pause ends") {
		t.Errorf("the answer:\n%s", last)
	}
}

// A hold with an end is two entries; seen is none; an answer in a thread needs
// no token.
func TestOtherAnswersToAlerts(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"), onSpool("p-02"))
	c.canEdit()
	c.morning("2026-10-05")
	c.at("2026-10-05 18:30")
	c.reply("p-01", "xyzzy plugh")
	c.reply("p-02", "B")
	c.morning("2026-10-06")
	id := ""
	c.view(func(tx *journal.Tx) error {
		return tx.Alerts(func(r *journal.AlertRow) error {
			row, err := tx.Row(r.Mail)
			if row != nil {
				id = row.CarrierID
			}
			return err
		})
	})
	c.take("email", notify.Incoming{ID: "IN-T", From: clinician, Subject: "Re: two", Answers: []string{"other@example.com", id},
		Text: "1 hold until 2026-10-20\n2 seen"})
	text := c.file("enrollments.yaml")
	if !strings.Contains(text, `hold: 2026-10-06, by: "clinician, by mail"`) || !strings.Contains(text, `release: 2026-10-20, of hold: 2026-10-06, by: "clinician, by mail"`) {
		t.Fatalf("the file:\n%s", text)
	}
	c.morning("2026-10-07")
	if d := c.last("p-01"); d.State != rules.InHeld {
		t.Errorf("p-01 is %s", d.State)
	}
	open := 0
	c.view(func(tx *journal.Tx) error { return tx.OpenAlerts(func(*journal.AlertRow) error { open++; return nil }) })
	if open != 0 {
		t.Errorf("%d alerts are open", open)
	}
}

// An entry that a person wrote acknowledges the alerts about the patient.
func TestAnEntryAcknowledges(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"))
	c.morning("2026-10-05")
	c.reply("p-01", "P9")
	c.enter("p-01", "release: 2026-10-05")
	c.ticks("2026-10-08 12:00", time.Hour)
	c.wantMails(backup)
}

// A patient paused for two clinic days is told once that the clinic has not
// released them.
func TestPausedForTwoClinicDays(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"))
	c.mornings("p-01", "2026-10-05", "2026-10-08", "D1")
	c.morning("2026-10-09") // a Friday
	c.at("2026-10-09 15:00")
	c.reply("p-01", "P9")
	reminded := func() (n int) {
		for _, text := range c.sent("p-01") {
			if strings.Contains(text, "has not yet said that you can go on") {
				n++
			}
		}
		return n
	}
	c.mornings("p-01", "2026-10-10", "2026-10-12", "")
	if n := reminded(); n != 0 {
		t.Fatalf("reminded %d times after one clinic day", n)
	}
	c.mornings("p-01", "2026-10-13", "2026-10-15", "")
	if n := reminded(); n != 1 {
		t.Fatalf("reminded %d times", n)
	}
}

// The digest: once on its day, who needs a look first, and none before the
// clinic began.
func TestDigestOnItsDay(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"), onSpool("p-02"))
	c.settings = strings.Replace(c.settings, "digest: off", "digest: \"0 7 * * mon\"", 1)
	c.mustReload()
	c.ticks("2026-10-05 08:00", 10*time.Minute)
	c.wantMails(clinician)
	c.mornings("p-01", "2026-10-05", "2026-10-11", "D2")
	c.at("2026-10-11 18:01")
	c.reply("p-01", "P9")
	c.ticks("2026-10-12 08:00", 10*time.Minute)
	c.restart()
	c.ticks("2026-10-12 12:00", 10*time.Minute)
	var digests []string
	for _, m := range c.email.mailsTo(clinician) {
		if strings.Contains(m, "Oct 5 to Oct 11") {
			digests = append(digests, m)
		}
	}
	if len(digests) != 1 {
		t.Fatalf("%d digests", len(digests))
	}
	digest := digests[0]
	look, silent := strings.Index(digest, "p-01"), strings.Index(digest, "p-02")
	if look < 0 || silent < look {
		t.Errorf("the digest:\n%s", digest)
	}
}

func (c *clinic) file(name string) string {
	c.t.Helper()
	b, err := os.ReadFile(filepath.Join(c.dir, name))
	if err != nil {
		c.t.Fatal(err)
	}
	return string(b)
}

// The answer to a clinician's answer goes out at once, and not at the next tick.
func TestTheAnswerToAnAnswerGoesOutAtOnce(t *testing.T) {
	c := staffed(t, "", onSpool("p-01"))
	c.canEdit()
	c.morning("2026-10-05")
	c.reply("p-01", "P9")
	select {
	case <-c.s.kicked:
	default:
	}
	c.take("email", notify.Incoming{ID: "IN1", From: clinician, Subject: c.email.subjects(clinician)[0], Text: "1 seen"})
	select {
	case <-c.s.kicked:
	default:
		t.Error("nobody wakes the sender")
	}
}
