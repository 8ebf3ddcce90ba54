package caseload

import (
	"context"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// book is a journal written by hand, and a look at it.
type book struct {
	t    *testing.T
	j    *journal.Journal
	view View
	zone *time.Location
	rev  int
}

const rosa = "rosa-01"

// newBook has the clinic of testdata/clinic with both patients enrolled and
// nothing decided, looked at on 2026-10-08 at 15:00 in New York.
func newBook(t *testing.T) *book {
	t.Helper()
	c, problems := config.Load("../../testdata/clinic", func(string) string { return "" })
	if c == nil {
		t.Fatal(problems)
	}
	words, err := templates.New()
	if err != nil {
		t.Fatal(err)
	}
	j, err := journal.Open(filepath.Join(t.TempDir(), "journal.db"), journal.Options{NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	b := &book{t: t, j: j, zone: c.Zone, view: View{Clinic: c, Words: words}}
	t.Cleanup(func() {
		if _, err := j.Verify(); err != nil {
			t.Errorf("the journal of the test: %v", err)
		}
		if err := j.Close(); err != nil {
			t.Error(err)
		}
	})
	b.view.Now = b.at("2026-10-08 15:00")
	for e := range c.Enrollments.All() {
		b.add("2026-10-05 08:00", journal.Event{Kind: journal.Enrolled, ID: e.ID, State: &rules.State{}})
	}
	return b
}

func (b *book) at(local string) time.Time {
	b.t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", local, b.zone)
	if err != nil {
		b.t.Fatal(err)
	}
	return at
}

func (b *book) date(s string) rules.Date {
	b.t.Helper()
	d, err := rules.ParseDate(s)
	if err != nil {
		b.t.Fatal(err)
	}
	return d
}

func (b *book) add(local string, e journal.Event) {
	b.t.Helper()
	e.At = b.at(local)
	err := b.j.Update(context.Background(), func(tx *journal.Tx) error { _, err := tx.Append(e); return err })
	if err != nil {
		b.t.Fatalf("append %s: %v", e.Kind, err)
	}
}

// decision is one of Rosa's, held for pain 5 where p did not move.
func (b *book) decision(date string, p int, why rules.Code) (rules.Decision, rules.State) {
	b.t.Helper()
	d := b.date(date)
	dec := rules.Decision{Date: d, Day: int(d-b.date("2026-10-05")) + 1, P: p, W: p, Step: 1, Steps: 3,
		State: rules.InActive, Why: rules.Reason{Code: why}, WearWhy: rules.Reason{Code: why}, Send: true}
	b.rev++
	st := rules.State{Rev: b.rev, Decided: d, P: p, W: p, WearMin: 60 * p, Last: why}
	if why == rules.PainHeld {
		five := 5
		dec.State = rules.InHeld
		dec.Why = rules.Reason{Code: why, Score: &five, Line: 4, Need: 2, At: rules.Pos{File: "programs/settling-in.yaml", Line: 47, Column: 1}}
		st.Hold = &rules.PainHold{Since: d - 1}
	}
	return dec, st
}

// intend puts a decision's message into the outbox, to be handed over.
func (b *book) intend(date string, p int, why rules.Code) {
	b.t.Helper()
	rev := b.rev
	dec, st := b.decision(date, p, why)
	b.add(date+" 09:00", journal.Event{Kind: journal.Intended, ID: rosa, Out: &journal.Out{
		Key: "day/" + rosa + "/" + date, Kind: "daily", Channel: "spool", To: "rosa", Text: "the day's text",
		Rev: rev, Decision: &dec, Next: &st,
	}})
}

func (b *book) handed(date string) {
	b.t.Helper()
	b.add(date+" 09:00", journal.Event{Kind: journal.HandedOut, ID: rosa, Key: "day/" + rosa + "/" + date})
}

func (b *book) settled(date, status, code string) {
	b.t.Helper()
	res := &journal.Result{Status: status, Code: code}
	b.add(date+" 09:01", journal.Event{Kind: journal.Settled, ID: rosa, Key: "day/" + rosa + "/" + date, Result: res})
}

func (b *book) sent(date string, p int, why rules.Code) {
	b.t.Helper()
	b.intend(date, p, why)
	b.handed(date)
	b.settled(date, "sent", "")
}

func (b *book) heard(local, text string) {
	b.t.Helper()
	b.add(local, journal.Event{Kind: journal.Heard, ID: rosa, In: &journal.In{Channel: "spool", ID: "in " + local, From: "rosa", Text: text}})
}

func (b *book) rows() []Row {
	b.t.Helper()
	var rows []Row
	if err := b.j.View(func(tx *journal.Tx) (err error) { rows, err = b.view.List(tx); return err }); err != nil {
		b.t.Fatal(err)
	}
	return rows
}

func (b *book) row() Row {
	b.t.Helper()
	rows := b.rows()
	if len(rows) != 2 || rows[0].ID != "emil-02" || rows[1].ID != rosa {
		b.t.Fatalf("rows %+v, want emil-02 and %s", rows, rosa)
	}
	return rows[1]
}

func (b *book) explain(id, date string) *Story {
	b.t.Helper()
	var d rules.Date
	if date != "" {
		d = b.date(date)
	}
	var story *Story
	if err := b.j.View(func(tx *journal.Tx) (err error) { story, err = b.view.Explain(tx, id, d); return err }); err != nil {
		b.t.Fatal(err)
	}
	return story
}

// kinds are a story's steps in short.
func kinds(s *Story) []string {
	var list []string
	for _, st := range s.Events {
		list = append(list, st.Kind+" "+st.At.Format("2 15:04")+" "+st.Text)
	}
	return list
}

// TestNothingDecided shows patients before their first date.
func TestNothingDecided(t *testing.T) {
	b := newBook(t)
	want := Row{ID: rosa, Name: "Rosa", Program: "settling-in", Steps: 3, State: rules.InActive, Group: NotBegun, Needs: []Group{},
		Cause: "begins with the next message", Dispensed: b.date("2026-10-05"), SinceDay: 4, Scores: Scores{}, WearFull: 480, Alerts: []Alert{}}
	if got := b.row(); !reflect.DeepEqual(got, want) {
		t.Errorf("row %+v, want %+v", got, want)
	}
	story := b.explain(rosa, "")
	if story == nil || story.Decision != nil || story.Events == nil || len(story.Events) != 0 || story.ID != rosa {
		t.Errorf("story %+v, want one with no decision and an empty list", story)
	}
	if got := b.explain("nobody", ""); got != nil {
		t.Errorf("a story of nobody: %+v", got)
	}
}

// TestRow shows where a patient stands and why.
func TestRow(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	b.sent("2026-10-06", 2, rules.Tick)
	b.sent("2026-10-07", 2, rules.PainHeld)
	got := b.row()
	if got.Date != b.date("2026-10-07") || got.Day != 3 || got.ProgramDay != 2 || got.WearDay != 2 || got.Step != 1 || got.Steps != 3 ||
		got.WearMin != 120 || got.State != rules.InHeld || got.Why.Code != rules.PainHeld {
		t.Errorf("row %+v", got)
	}
	if want := "pain 5 reached the hold line 4 (programs/settling-in.yaml:47); 0 of 2 clear dates so far"; got.WhyText != want {
		t.Errorf("why %q, want %q", got.WhyText, want)
	}
	if other := b.rows()[0]; other.Date != 0 || other.State != rules.InActive {
		t.Errorf("the other patient: %+v", other)
	}
}

// TestOptedOut asks the contact, not the patient's state.
func TestOptedOut(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	var hash []byte
	if err := b.j.View(func(tx *journal.Tx) error { hash = tx.ContactHash("rosa"); return nil }); err != nil {
		t.Fatal(err)
	}
	b.add("2026-10-05 10:00", journal.Event{Kind: journal.Opted, Contact: hash, OptOut: true})
	if got := b.row().State; got != rules.InOptedOut {
		t.Errorf("state %q, want %q", got, rules.InOptedOut)
	}
	b.add("2026-10-05 11:00", journal.Event{Kind: journal.Opted, Contact: hash})
	if got := b.row().State; got != rules.InActive {
		t.Errorf("state %q after START, want %q", got, rules.InActive)
	}
}

// TestWithdrawn passes over a decision that was taken back before hand-over.
func TestWithdrawn(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	rev := b.rev
	b.intend("2026-10-06", 2, rules.Tick)
	b.rev = rev // its state never came to be
	b.add("2026-10-06 09:00", journal.Event{Kind: journal.Withdrawn, ID: rosa, Key: "day/" + rosa + "/2026-10-06", Why: "something came in first"})
	if got := b.row(); got.Date != b.date("2026-10-05") || got.Why.Code != rules.FirstDay || got.ProgramDay != 1 {
		t.Errorf("after the withdrawal: %+v, want the decision before it", got)
	}
	if got := b.explain(rosa, "2026-10-06"); got.Decision != nil {
		t.Errorf("the decision taken back is told: %+v", got.Decision)
	}
	b.sent("2026-10-06", 1, rules.PainHeld) // decided again
	if got := b.row(); got.Date != b.date("2026-10-06") || got.Why.Code != rules.PainHeld {
		t.Errorf("decided again: %+v", got)
	}
	story := b.explain(rosa, "2026-10-06")
	if story.Decision == nil || story.Decision.Why.Code != rules.PainHeld {
		t.Fatalf("decided again: %+v", story.Decision)
	}
	want := []string{
		"decided 5 09:00 first day", "sent 5 09:01 daily message: sent",
		"decided 6 09:00 one day on", "note 6 09:00 message withdrawn before it went out: something came in first",
		"decided 6 09:00 " + story.WhyText, "sent 6 09:01 daily message: sent",
	}
	if got := kinds(story); !slices.Equal(got, want) {
		t.Errorf("steps:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// TestHandedOverStands keeps a decision that came to a hand-over, even where
// the carrier did not take the message and it was taken back before the next
// try: the date is decided, and is not decided again.
func TestHandedOverStands(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	b.intend("2026-10-06", 2, rules.Tick)
	b.handed("2026-10-06")
	b.settled("2026-10-06", "retry", "429")
	b.add("2026-10-06 09:05", journal.Event{Kind: journal.Withdrawn, ID: rosa, Key: "day/" + rosa + "/2026-10-06", Why: "not wanted any more"})
	if got := b.row(); got.Date != b.date("2026-10-06") || got.ProgramDay != 2 || got.Why.Code != rules.Tick {
		t.Errorf("row %+v, want the date that was handed over", got)
	}
	if got := b.explain(rosa, "2026-10-06"); got.Decision == nil || got.Decision.P != 2 {
		t.Errorf("explain: %+v", got.Decision)
	}
}

// TestExplainDate tells the decision of the date asked for, with what was
// settled by it, beside where the patient stands now.
func TestExplainDate(t *testing.T) {
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	b.heard("2026-10-05 18:30", "P5")
	b.add("2026-10-05 18:30", journal.Event{Kind: journal.Intended, ID: rosa, Out: &journal.Out{
		Key: "answer/spool/1", Kind: "answer", Channel: "spool", To: "rosa", Text: "5 noted."}})
	b.add("2026-10-05 18:30", journal.Event{Kind: journal.Intended, ID: rosa, Out: &journal.Out{
		Key: "alert/1", Kind: "alert", Channel: "spool", To: "clinician", Subject: "not for this page"}})
	b.add("2026-10-06 08:00", journal.Event{Kind: journal.Revised, ID: rosa, State: &rules.State{Rev: b.rev},
		Entry: &rules.Entry{Kind: rules.EntryCap, On: b.date("2026-10-06"), By: "J. Marlowe DPM", Step: 2}})
	b.sent("2026-10-06", 1, rules.PainHeld)
	b.heard("2026-10-06 23:59", "D1")
	b.heard("2026-10-07 00:00", "D2")
	b.intend("2026-10-07", 1, rules.PainHeld)
	b.handed("2026-10-07")
	b.settled("2026-10-07", "rejected", "30007")
	dec, st := b.decision("2026-10-08", 2, rules.Tick)
	b.add("2026-10-08 09:00", journal.Event{Kind: journal.Decided, ID: rosa, Decision: &dec, State: &st})

	story := b.explain(rosa, "2026-10-06")
	if story.Decision.Date != b.date("2026-10-06") || story.Why.Code != rules.PainHeld || !strings.HasPrefix(story.WhyText, "pain 5 reached the hold line") {
		t.Errorf("the reason told is %q (%s), of %s", story.WhyText, story.Why.Code, story.Decision.Date)
	}
	if story.ProgramDay != 2 || story.State != rules.InActive {
		t.Errorf("where the patient stands now: program day %d, %s", story.ProgramDay, story.State)
	}
	want := []string{
		"decided 5 09:00 first day", "sent 5 09:01 daily message: sent",
		"heard 5 18:30 P5", "answer 5 18:30 5 noted.",
		"entry 6 08:00 cap, 2026-10-06, by J. Marlowe DPM",
		"decided 6 09:00 " + story.WhyText, "sent 6 09:01 daily message: sent",
		"heard 6 23:59 D1", // the next day's reply is the next day's
	}
	if got := kinds(story); !slices.Equal(got, want) {
		t.Errorf("steps:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if got := kinds(b.explain(rosa, "2026-10-07")); !slices.Contains(got, "sent 7 09:01 daily message: rejected (30007)") {
		t.Errorf("the message that was not taken: %q", got)
	}
	if got := b.explain(rosa, ""); got.Decision.Date != b.date("2026-10-08") || got.WhyText != "one day on" {
		t.Errorf("the last date: %+v", got.Decision)
	}
	for _, none := range []string{"2026-10-04", "2026-10-09"} {
		if got := b.explain(rosa, none); got.Decision != nil || len(got.Events) != 0 {
			t.Errorf("%s: %+v", none, got)
		}
	}
}
