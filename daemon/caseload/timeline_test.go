package caseload

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

var update = flag.Bool("update", false, "write the golden files anew")

func (b *book) timeline(id string, span Span) *Timeline {
	b.t.Helper()
	var line *Timeline
	if err := b.j.View(func(tx *journal.Tx) (err error) { line, err = b.view.Timeline(tx, id, span); return err }); err != nil {
		b.t.Fatal(err)
	}
	return line
}

// inShort is a course's items, one a line.
func inShort(line *Timeline) []string {
	var list []string
	for _, d := range line.Dates {
		for _, it := range d.Items {
			text := it.At.Format("2 15:04 ") + it.Kind + ": " + it.Text
			if it.Read != "" {
				text += " (" + it.Read + ")"
			}
			if it.Status != "" {
				text += " [" + it.Status + "]"
			}
			list = append(list, text)
		}
	}
	return list
}

// reported is Rosa's state on Oct 5 after a score.
func (b *book) reported(score int) *rules.State {
	return &rules.State{Rev: b.rev, Decided: b.date("2026-10-05"), P: 1, W: 1, WearMin: 90, Heard: rules.Heard{Any: true, Score: &score}}
}

// fullCourse has one of everything.
func fullCourse(t *testing.T) *book {
	t.Helper()
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	five := 5
	b.add("2026-10-05 18:30", journal.Event{Kind: journal.Heard, ID: rosa, State: b.reported(five), In: &journal.In{Channel: "spool", ID: "1", From: "rosa", Text: "P5 left",
		Day: b.date("2026-10-05"), Reading: rules.Reading{Pain: &five, Side: "left"}}})
	b.add("2026-10-05 18:30", journal.Event{Kind: journal.Intended, ID: rosa, Out: &journal.Out{
		Key: "answer/spool/1", Kind: "answer", Channel: "spool", To: "rosa", Text: "5 noted."}})
	b.add("2026-10-05 18:30", journal.Event{Kind: journal.Alerted, ID: rosa, Alert: &journal.Alert{Key: "call", To: "clinician",
		Notice: rules.Notice{Kind: rules.NoticeCall}, Due: b.at("2026-10-05 18:30")}})
	var seq uint64
	if err := b.j.View(func(tx *journal.Tx) error { seq = tx.LastSeq(); return nil }); err != nil {
		t.Fatal(err)
	}
	b.add("2026-10-05 19:00", journal.Event{Kind: journal.Acked, Alerts: []uint64{seq}, Why: "seen", By: "clinician"})
	b.add("2026-10-06 08:00", journal.Event{Kind: journal.Revised, ID: rosa, State: &rules.State{Rev: b.rev},
		Entry: &rules.Entry{Kind: rules.EntryCap, On: b.date("2026-10-06"), By: "J. Marlowe DPM", Step: 2, Why: "too much"}})
	rev := b.rev
	b.intend("2026-10-06", 2, rules.Tick)
	b.rev = rev // its state never came to be
	b.add("2026-10-06 09:00", journal.Event{Kind: journal.Withdrawn, ID: rosa, Key: "day/" + rosa + "/2026-10-06", Why: "a report came first"})
	b.intend("2026-10-06", 1, rules.PainHeld)
	b.handed("2026-10-06")
	b.settled("2026-10-06", "rejected", "30007")
	return b
}

// TestTimeline tells what happened in order, with what became of messages and
// what was done about alerts.
func TestTimeline(t *testing.T) {
	line := fullCourse(t).timeline(rosa, Span{From: 1})
	story := func(i int) string { return line.Dates[1].Items[i].Text }
	want := []string{
		"5 08:00 note: enrolled",
		"5 09:00 change: step 1 of 3 begins",
		"5 09:00 decided: First day. The program day begins at 1 (step 1 of 3), and the wear day begins at 1.",
		"5 09:00 dose: no exercises due [sent]",
		"5 18:30 reply: P5 left (pain 5, left)",
		"5 18:30 message: 5 noted. [waits to go out]",
		"5 18:30 alert: asks for a call [acknowledged Oct 5 19:00: seen, by clinician]",
		"6 08:00 entry: cap at step 2, by J. Marlowe DPM, dated Oct 6: too much",
		"6 09:00 decided: " + story(1) + " [did not come to stand: a report came first]",
		"6 09:00 dose: no exercises due [taken back before it went out: a report came first]",
		"6 09:00 change: now held",
		"6 09:00 decided: " + story(4),
		"6 09:00 dose: no exercises due [refused by the carrier (Carrier code 30007: carrier filtered it as unwanted, see the registration)]",
	}
	got := inShort(line)
	if n := len(want) - 1; len(got) == len(want) && strings.Contains(got[n], "refused by the carrier (Carrier code 30007: ") {
		want[n] = got[n] // the rest is the table of codes'
	}
	if !slices.Equal(got, want) {
		t.Errorf("items:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if !strings.HasPrefix(story(4), `On Mon Oct 5 came "P5 left" (pain 5, left). Pain 5 reached the hold line 4 `) {
		t.Errorf("the decision is told as %q", story(4))
	}
}

// TestTimelineExplains: a decision is told as explain tells it.
func TestTimelineExplains(t *testing.T) {
	b := fullCourse(t)
	want := b.explain(rosa, "2026-10-06").Text
	items := b.timeline(rosa, Span{}).Dates[1].Items
	if got := items[4].Text; got != want || want == "" {
		t.Errorf("told as %q, explained as %q", got, want)
	}
}

// TestTimelineJSON is the contract of patient --json, whole.
func TestTimelineJSON(t *testing.T) {
	line := fullCourse(t).timeline(rosa, Span{})
	got := append(indented(t, line), '\n')
	golden := filepath.Join("testdata", "timeline.json")
	if *update {
		if err := os.WriteFile(golden, got, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("the JSON of a course is\n%s\nwant\n%s", got, want)
	}
	var back Timeline
	if err := json.Unmarshal(got, &back); err != nil || !reflect.DeepEqual(back.Scores, line.Scores) || len(back.Dates) != len(line.Dates) {
		t.Errorf("read back: %+v, %v", back, err)
	}
}

func indented(t *testing.T, v any) []byte {
	t.Helper()
	data, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestTimelineSpan: the dates asked for, and how many were left out.
func TestTimelineSpan(t *testing.T) {
	b := busy(t)
	for _, c := range []struct {
		span           Span
		from, to       string
		dates, earlier int
	}{
		{Span{}, "2026-10-05", "2026-10-18", 14, 0},
		{Span{Last: 3}, "2026-10-16", "2026-10-18", 3, 11},
		{Span{Last: 3, To: b.date("2026-10-10")}, "2026-10-08", "2026-10-10", 3, 3},
		{Span{From: b.date("2026-10-17")}, "2026-10-17", "2026-10-18", 2, 12},
		{Span{From: b.date("2026-10-19")}, "-", "-", 0, 14},
		{Span{To: b.date("2026-10-04")}, "-", "-", 0, 0},
	} {
		got := b.timeline("e", c.span)
		if got.From.String() != c.from || got.To.String() != c.to || len(got.Dates) != c.dates || got.Earlier != c.earlier {
			t.Errorf("%+v: %s to %s, %d dates, %d left out", c.span, got.From, got.To, len(got.Dates), got.Earlier)
		}
		if back, err := ParseSpan(c.span.Values()); err != nil || back != c.span {
			t.Errorf("%+v read back as %+v, %v", c.span, back, err)
		}
	}
	if first := b.timeline("a", Span{}).Dates[0]; first.Day != 4 {
		t.Errorf("the first date is day %d since dispense", first.Day)
	}
}

// TestTimelineGone: who is no longer in the files has a record, who was erased
// has none, and of nobody there is nothing.
func TestTimelineGone(t *testing.T) {
	b := busy(t)
	gone := b.timeline("gone", Span{})
	if !gone.Gone || gone.Erased || len(gone.Dates) != 14 || gone.Step != 1 || gone.Name != "" || gone.Date != b.date("2026-10-18") {
		t.Errorf("gone: %+v", gone.Row)
	}
	if got := b.timeline("nobody", Span{}); got != nil {
		t.Errorf("of nobody: %+v", got)
	}
	err := b.j.Update(t.Context(), func(tx *journal.Tx) error { return tx.Erase("gone", b.at("2026-10-18 16:00"), "admin", "asked for") })
	if err != nil {
		t.Fatal(err)
	}
	if got := b.timeline("gone", Span{}); got == nil || !got.Gone || !got.Erased || len(got.Dates) != 0 || got.State != "" {
		t.Errorf("erased: %+v", got)
	}
}

// TestTimelineZone keeps the zone of the patient.
func TestTimelineZone(t *testing.T) {
	line := busy(t).timeline("e", Span{Last: 1})
	at := line.Dates[0].Items[0].At
	if at.Location().String() != "America/New_York" || at.Hour() != 9 || line.AsOf.Location() != at.Location() {
		t.Errorf("times are in %s: %s", at.Location(), at)
	}
}
