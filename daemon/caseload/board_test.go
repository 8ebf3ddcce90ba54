package caseload

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// busy has six patients like Rosa, in six states, and one who left the files.
func busy(t *testing.T) *book {
	t.Helper()
	b := newBook(t)
	like := *b.view.Clinic.Enrollments.At(1)
	var all []*config.Enrollment
	b.view.Now = b.at("2026-10-18 15:00")
	nine := 9
	for id, st := range map[string]rules.State{
		"a": {}, "b": {Hold: &rules.PainHold{Since: b.date("2026-10-16")}}, "c": {Hold: &rules.PainHold{Since: b.date("2026-10-12")}},
		"d": {Pause: &rules.Pause{Cause: "pain", Since: b.date("2026-10-17")}}, "e": {Quiet: 4, Blank: 4}, "f": {Heard: rules.Heard{Any: true, Score: &nine}},
		"gone": {},
	} {
		e := like
		e.ID, e.Name, e.Address = id, "N"+id, config.Address{Channel: "spool", To: "box-" + id}
		if id == "a" {
			e.Dispensed -= 3
		}
		if id != "gone" {
			all = append(all, &e)
		}
		b.course(id, st)
	}
	b.view.Clinic.Enrollments = config.NewRoll(all)
	return b
}

// course is two weeks of dates with exercises on each, done on as many of the
// last as the letter of the id says, with its pain.
func (b *book) course(id string, last rules.State) {
	b.t.Helper()
	b.add("2026-10-05 08:00", journal.Event{Kind: journal.Enrolled, ID: id, State: &rules.State{}})
	first, n := b.date("2026-10-05"), int(id[0]-'a')
	for i := range 14 {
		d := first + rules.Date(i)
		dec := rules.Decision{Date: d, Day: i + 1, P: i + 1, W: 1, Step: 1, Steps: 3, State: rules.InActive, Send: true, Why: rules.Reason{Code: rules.Tick},
			Doses: []rules.Due{{Exercise: "towel-curl", Sets: 1, Reps: 10, Sessions: 1}}}
		st := rules.State{Rev: 2*i + 1, Decided: d, P: i + 1, W: 1, WearMin: 90}
		if i == 13 {
			st = last
			st.Rev, st.Decided, st.P, st.W, st.WearMin = 2*i+1, d, i+1, 1, 90
		}
		b.add(d.String()+" 09:00", journal.Event{Kind: journal.Decided, ID: id, Decision: &dec, State: &st})
		if pain := n; i >= 13-n && i < 13 {
			st.Rev++
			st.Heard = rules.Heard{Any: true, Halves: 1, Score: &pain}
			b.add(d.String()+" 18:00", journal.Event{Kind: journal.Heard, ID: id, State: &st, In: &journal.In{Channel: "spool", ID: id + d.String(),
				From: "box-" + id, Text: "S", Day: d, Reading: rules.Reading{Done: rules.DoneSome, Pain: &pain}}})
		}
	}
}

func (b *book) board(q Query) *Board {
	b.t.Helper()
	if err := q.Check(); err != nil {
		b.t.Fatal(err)
	}
	var board *Board
	if err := b.j.View(func(tx *journal.Tx) (err error) { board, err = b.view.Board(tx, q); return err }); err != nil {
		b.t.Fatal(err)
	}
	return board
}

func ids(b *Board) string {
	var list []string
	for _, r := range b.Rows {
		list = append(list, r.ID)
	}
	return strings.Join(list, " ")
}

// TestBoardOrder: who needs a look comes first, and in a group who waits
// longest.
func TestBoardOrder(t *testing.T) {
	b := busy(t)
	for q, want := range map[string]string{"": "d c b f e a", "id": "a b c d e f", "day": "b c d e f a", "pain": "f e d c b a", "done": "a b c d e f"} {
		if got := ids(b.board(Query{Sort: q})); got != want {
			t.Errorf("by %q: %s, want %s", q, got, want)
		}
	}
	if got := ids(b.board(Query{Sort: "last"})); !strings.HasSuffix(got, "f") {
		t.Errorf("by last: %s; f was heard of today", got)
	}
	board := b.board(Query{})
	if board.Enrolled != 6 || board.Decided != 6 || board.Look != 5 || board.Matching != 6 || !slices.Equal(board.Gone, []string{"emil-02", "gone", rosa}) {
		t.Errorf("board %+v", board)
	}
	want := []Count{{Paused, 1}, {Held, 3}, {Silent, 1}, {OnCourse, 1}}
	if !slices.Equal(board.Groups, want) {
		t.Errorf("groups %v, want %v", board.Groups, want)
	}
}

// TestBoardAsked: filters count what matches, the limit only what is shown.
func TestBoardAsked(t *testing.T) {
	b := busy(t)
	held := b.board(Query{Only: []string{"Held"}, Limit: 2})
	if ids(held) != "c b" || held.Matching != 3 || !slices.Equal(held.Groups, []Count{{Held, 3}}) || held.Look != 5 {
		t.Errorf("held: %s of %d, %v", ids(held), held.Matching, held.Groups)
	}
	if got := ids(b.board(Query{Only: []string{"active"}})); got != "f e a" {
		t.Errorf("active: %s", got)
	}
	if got := b.board(Query{Program: "other"}); len(got.Rows) != 0 || got.Rows == nil || got.Matching != 0 {
		t.Errorf("of another program: %+v", got)
	}
}

// TestBoardCells: what the days tell.
func TestBoardCells(t *testing.T) {
	row := busy(t).board(Query{Only: []string{"silent"}}).Rows[0]
	want := Scores{-1, -1, -1, -1, -1, -1, -1, -1, -1, 4, 4, 4, 4, -1}
	if !slices.Equal(row.Scores, want) || row.LastScore() != 4 {
		t.Errorf("scores %v, want %v", row.Scores, want)
	}
	if row.DoneHalves != 4 || row.Due != 7 { // today is not over
		t.Errorf("done %d halves of %d", row.DoneHalves, row.Due)
	}
	b := busy(t)
	dec := rules.Decision{Date: b.date("2026-10-18"), Day: 14, P: 14, W: 1, Step: 1, Steps: 3, State: rules.InPaused, Doses: []rules.Due{{Exercise: "towel-curl"}}}
	for i := range 5 {
		dec.Date++
		b.add(dec.Date.String()+" 09:00", journal.Event{Kind: journal.Decided, ID: "e", Decision: &dec, State: &rules.State{Rev: 99 + i, Decided: dec.Date}})
	}
	// Of Oct 18 nothing came, and the dates of the pause asked for nothing.
	if row := b.board(Query{Sort: "id"}).Rows[4]; row.DoneHalves != 4 || row.Due != 7 || row.Date != dec.Date {
		t.Errorf("in a pause: %d halves of %d, %s", row.DoneHalves, row.Due, row.Date)
	}
	if row.WearFull != 480 || row.WearMin != 90 || row.SinceDay != 14 {
		t.Errorf("row %+v", row)
	}
	if row.Cause != "last answer Oct 13, 5 days ago" {
		t.Errorf("cause %q", row.Cause)
	}
}

// TestCauses: what happened and since when, and no rule or file.
func TestCauses(t *testing.T) {
	want := map[string]string{
		"a": "", "b": "pain, Oct 16; 0 of 2 clear dates so far", "c": "pain, Oct 12; 0 of 2 clear dates so far", "d": "pain 3, Oct 17; waits for your release",
		"f": "pain 9, Oct 18; the plan waits from the next message on",
	}
	for _, r := range busy(t).board(Query{}).Rows {
		if text, ok := want[r.ID]; ok && r.Cause != text {
			t.Errorf("%s: %q, want %q", r.ID, r.Cause, text)
		}
	}
	b := newBook(t)
	b.sent("2026-10-05", 1, rules.FirstDay)
	b.sent("2026-10-06", 1, rules.PainHeld)
	b.add("2026-10-06 10:00", journal.Event{Kind: journal.Alerted, ID: rosa, Alert: &journal.Alert{Key: "call", Notice: rules.Notice{Kind: rules.NoticeCall},
		To: "clinician", Due: b.at("2026-10-06 10:00")}})
	row := b.row()
	if row.Group != Call || row.Cause != "asked for a call, Oct 6; held" || len(row.Alerts) != 1 || row.Alerts[0].Text != "asks for a call" {
		t.Errorf("row %+v", row)
	}
	var seq uint64
	if err := b.j.View(func(tx *journal.Tx) error { seq = tx.LastSeq(); return nil }); err != nil {
		t.Fatal(err)
	}
	b.add("2026-10-06 11:00", journal.Event{Kind: journal.Acked, Alerts: []uint64{seq}, Why: "seen", By: "clinician"})
	if row = b.row(); row.Group != Held || row.Cause != "pain, Oct 5; 0 of 2 clear dates so far" || len(row.Alerts) != 0 {
		t.Errorf("once acknowledged: %s, %q", row.Group, row.Cause)
	}
}

// TestEmptyBoard says nothing that is not so.
func TestEmptyBoard(t *testing.T) {
	b := newBook(t)
	if got := b.board(Query{}); got.Decided != 0 || got.Look != 0 || len(got.Rows) != 2 || got.Rows[0].Group != NotBegun {
		t.Errorf("before the first date: %+v", got)
	}
	b.view.Clinic.Enrollments = config.Roll{}
	if got := b.board(Query{}); got.Enrolled != 0 || got.Rows == nil || len(got.Rows) != 0 {
		t.Errorf("with nobody: %+v", got)
	}
}

// TestQuery goes into an address and back, and refuses what it does not know.
func TestQuery(t *testing.T) {
	q := Query{Sort: "pain", Only: []string{"held", "opted-out"}, Program: "settling-in", Limit: 7}
	if got, err := ParseQuery(q.Values()); err != nil || !reflect.DeepEqual(got, q) {
		t.Errorf("%+v, %v", got, err)
	}
	var unknown UnknownError
	for _, bad := range []Query{{Sort: "name"}, {Only: []string{"held", "heald"}}} {
		if err := bad.Check(); !errors.As(err, &unknown) || len(unknown.Known) == 0 {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	if err := (&Query{Limit: -1}).Check(); err == nil {
		t.Error("a limit under none is taken")
	}
}
