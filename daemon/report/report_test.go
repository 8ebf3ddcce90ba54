package report_test

import (
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/demo"
	"stepgate/daemon/journal"
	"stepgate/daemon/report"
	"stepgate/rules"
	"stepgate/templates"
)

// played is the demo's clinic after its eight weeks: six patients whose stories
// are told in daemon/demo/story.go.
type played struct {
	t     *testing.T
	j     *journal.Journal
	c     *config.Clinic
	words *templates.Set
}

func play(t *testing.T) *played {
	t.Helper()
	dir := t.TempDir()
	if err := demo.Run(t.Context(), demo.Options{Dir: dir, Out: io.Discard}); err != nil {
		t.Fatal(err)
	}
	c, problems := config.Load(dir, func(string) string { return "" })
	if c == nil {
		t.Fatal(problems)
	}
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(filepath.Join(c.Data, "journal.db"), journal.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	return &played{t, j, c, words}
}

func (p *played) look(fn func(*journal.Tx, caseload.View) error) {
	p.t.Helper()
	err := p.j.View(func(tx *journal.Tx) error {
		return fn(tx, caseload.View{Clinic: p.c, Words: p.words, Now: tx.LastAt()})
	})
	if err != nil {
		p.t.Fatal(err)
	}
}

func (p *played) patient(id string) (out *templates.PatientReport) {
	p.t.Helper()
	p.look(func(tx *journal.Tx, v caseload.View) (err error) {
		out, err = report.Patient(tx, v, id, "")
		return err
	})
	return out
}

func date(t *testing.T, s string) rules.Date {
	t.Helper()
	d, err := rules.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The record of each patient tells that patient's story.
func TestPatientsOfTheDemo(t *testing.T) {
	p := play(t)
	on := func(s string) rules.Date { return date(t, s) }
	ben := p.patient("p-02")
	if len(ben.Days) != 56 || ben.Day != 56 || ben.AsOf != on("2026-04-26") || ben.Step != 4 || ben.Steps != 4 || ben.State != rules.InActive || ben.Name != "Ben" {
		t.Errorf("Ben stands at %+v", ben)
	}
	if len(ben.Spans) != 1 {
		t.Fatalf("Ben was held %d times: %+v", len(ben.Spans), ben.Spans)
	}
	s := ben.Spans[0]
	if s.Kind != "pain" || s.Line != "hold" || s.LineAt != 4 || s.Ended != "clear" || s.Open || s.From != on("2026-03-11") || s.To != on("2026-03-13") || s.Days != 3 ||
		!slices.Equal(s.Scores, []templates.ReportSaid{{Score: 5, On: on("2026-03-10")}}) || s.Quote != "Did it. pain was about 5" {
		t.Errorf("Ben's hold: %+v", s)
	}
	if d := ben.Days[8]; d.Score == nil || *d.Score != 5 || d.Date != on("2026-03-10") || !d.Asked || !d.Answered || d.Allowed != 1 {
		t.Errorf("Ben's day 9: %+v", d)
	}
	if d := ben.Days[14]; d.Step != 1 || d.Allowed != 2 {
		t.Errorf("Ben's day 15: step %d of %d allowed, want 1 of 2", d.Step, d.Allowed)
	}
	if w := ben.Weeks[0]; len(ben.Weeks) != 8 || w.Due != 7 || w.Halves != 14 || w.First == nil || *w.Low != 1 || *w.High != 2 {
		t.Errorf("Ben's first of %d weeks: %+v", len(ben.Weeks), w)
	}
	carla := p.patient("p-03")
	if s := carla.Spans[0]; s.Kind != "back" || s.Line != "back" || s.LineAt != 6 || len(s.Scores) != 2 || s.Scores[0].Score != 7 || s.Scores[1].Score != 4 || s.Ended != "clear" {
		t.Errorf("Carla's step back: %+v", s)
	}
	ella := p.patient("p-05")
	if s := ella.Spans[len(ella.Spans)-1]; ella.State != rules.InSuspended || s.Kind != "silent" || s.Line != "silent" || !s.Open || s.Ended != "" || s.Why.Code != rules.Lost {
		t.Errorf("Ella's silence, %s: %+v", ella.State, s)
	}
	if ella.Answered != 5 || ella.Messages <= 5 {
		t.Errorf("Ella answered %d of %d", ella.Answered, ella.Messages)
	}
}

// The dates held are the same by week as by hold, today's with them.
func TestHeldDatesAddUp(t *testing.T) {
	p := play(t)
	for _, id := range []string{"p-01", "p-02", "p-03", "p-06"} {
		got, weeks, spans := p.patient(id), 0, 0
		for _, w := range got.Weeks {
			weeks += w.Held
		}
		for _, s := range got.Spans {
			if s.Stops() {
				spans += s.Days
			}
		}
		if weeks != spans || id == "p-06" && spans == 0 {
			t.Errorf("%s: %d dates held by week, %d by hold", id, weeks, spans)
		}
	}
}

// A danger word is told with the words, and a release with who wrote it; it
// answers the alert before it.
func TestPauseOfTheDemo(t *testing.T) {
	p := play(t)
	finn := p.patient("p-06")
	if len(finn.Spans) != 2 {
		t.Fatalf("Finn's holds: %+v", finn.Spans)
	}
	pause, after := finn.Spans[0], finn.Spans[1]
	if pause.Kind != "pause" || pause.Line != "word" || pause.Word != "sudden pop" || !strings.Contains(pause.Quote, "sudden pop") || pause.Ended != "release" ||
		pause.EndBy != "J. Marlowe DPM" || pause.EndOn != date(t, "2026-03-19") {
		t.Errorf("the pause: %+v", pause)
	}
	if after.Kind != "pain" || after.Line != "after" || after.Ended != "clear" {
		t.Errorf("the hold after it: %+v", after)
	}
	if len(finn.Alerts) != 1 {
		t.Fatalf("alerts: %+v", finn.Alerts)
	}
	if a := finn.Alerts[0]; a.Notice.Kind != rules.NoticeRedFlag || a.How != "release" || a.By != "J. Marlowe DPM" || a.Acked.IsZero() {
		t.Errorf("the alert: %+v", a)
	}
	out, in := 0, 0
	for _, s := range finn.Talk {
		switch s.Kind {
		case "in":
			in++
		case "out":
			out++
		}
		if s.Fate != "" {
			t.Errorf("a message is told to be %s: %+v", s.Fate, s)
		}
	}
	if out < finn.Messages || in < finn.Answered {
		t.Errorf("%d messages of %d, %d replies of %d", out, finn.Messages, in, finn.Answered)
	}
}

// Whom the clinic does not have has no report; of whom nothing is decided yet
// one can be made, and says so.
func TestNobodyAndNotYet(t *testing.T) {
	p := play(t)
	if got := p.patient("p-99"); got != nil {
		t.Errorf("p-99 has a report: %+v", got)
	}
	fresh := *p.c.Enrollments.At(0)
	fresh.ID = "p-77"
	p.c.Enrollments = config.NewRoll(append(slices.Collect(p.c.Enrollments.All()), &fresh))
	got := p.patient("p-77")
	if got == nil || got.AsOf != 0 || len(got.Days) != 0 || got.Spans == nil || got.Alerts == nil || got.Talk == nil {
		t.Fatalf("a patient of whom nothing is known: %+v", got)
	}
	if page := string(p.words.PatientReport(*got, "")); !strings.Contains(page, "Nothing is decided yet.") {
		t.Error("the page does not say that nothing is decided")
	}
}

// The clinic's page has everybody, whoever needs a look first, and leads to
// patients only where there is somewhere to lead to.
func TestClinicOfTheDemo(t *testing.T) {
	p := play(t)
	var c *report.Clinic
	p.look(func(tx *journal.Tx, v caseload.View) (err error) { c, err = report.OfClinic(tx, v); return err })
	if c.Board.Enrolled != 6 || len(c.Board.Rows) != 6 || c.Board.Rows[0].ID != "p-05" {
		t.Fatalf("the board: %+v", c.Board)
	}
	if o := c.Outcomes; o.Patients != 6 || o.Begun != 6 || o.Week6.There != 6 || len(o.Steps) != 4 || len(o.Exercises) != 3 {
		t.Errorf("the outcomes: %+v", o)
	}
	file, served := string(c.Page(p.words, false)), string(c.Page(p.words, true))
	for _, want := range []string{"Call first", "Ella", "1 of 6 patients enrolled needs a look.", "Towel curl", "Which step hurts", "too few to say"} {
		if !strings.Contains(file, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(file, `href="/`) || strings.Count(served, `href="/patients/p-0`) != 6 {
		t.Errorf("links: %v in the file, %d where served", strings.Contains(file, `href="/`), strings.Count(served, `href="/patients/p-0`))
	}
	if strings.Index(file, "Ella") > strings.Index(file, "Everybody else") || strings.Index(file, "Ana") < strings.Index(file, "Everybody else") {
		t.Error("who needs a look does not come first")
	}
}
