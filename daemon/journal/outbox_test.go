package journal

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"stepgate/rules"
)

func handed(id, key string) Event { return Event{Kind: HandedOut, ID: id, Key: key} }
func back(id, key string) Event   { return Event{Kind: Withdrawn, ID: id, Key: key, Why: "report came"} }
func settle(id, key, status string) Event {
	return Event{Kind: Settled, ID: id, Key: key, Result: &Result{Status: status, ID: "SM1", Code: "c"}}
}

// Every event from every status: where it leads, or that it is refused and
// writes nothing.
func TestTransitions(t *testing.T) {
	ways := map[Status][]Event{ // how a row gets there
		Pending:   {},
		Handed:    {handed("p1", "k")},
		Sent:      {handed("p1", "k"), settle("p1", "k", "sent")},
		Rejected:  {handed("p1", "k"), settle("p1", "k", "rejected")},
		Unknown:   {handed("p1", "k"), settle("p1", "k", "unknown")},
		Expired:   {settle("p1", "k", "expired")},
		TakenBack: {back("p1", "k")},
	}
	events := map[string]Event{
		"intended": daily("p1", "k"), "handed": handed("p1", "k"), "withdrawn": back("p1", "k"),
		"sent": settle("p1", "k", "sent"), "rejected": settle("p1", "k", "rejected"),
		"unknown": settle("p1", "k", "unknown"), "expired": settle("p1", "k", "expired"),
		"retry": settle("p1", "k", "retry"), "nonsense": settle("p1", "k", "nonsense"),
	}
	allowed := map[Status]map[string]Status{ // all else is refused
		Pending: {"handed": Handed, "withdrawn": TakenBack, "expired": Expired},
		Handed: {"sent": Sent, "rejected": Rejected, "unknown": Unknown, "expired": Expired,
			"retry": Pending},
		Unknown:   {"sent": Sent, "rejected": Rejected, "unknown": Unknown, "retry": Pending},
		TakenBack: {"intended": Pending},
	}
	for from, way := range ways {
		for name, e := range events {
			t.Run(fmt.Sprintf("%s/%s", from, name), func(t *testing.T) {
				j := openNew(t)
				mustAdd(t, j, enroll("p1", day), daily("p1", "k"))
				mustAdd(t, j, way...)
				before := lastSeq(t, j)
				err := add(j, e)
				to, ok := allowed[from][name]
				want := ErrInvalid
				if name == "intended" {
					want = ErrKeyTaken
				}
				if ok != (err == nil) || !ok && !errors.Is(err, want) {
					t.Fatalf("got error %v; allowed: %v", err, ok)
				}
				if !ok {
					to = from
					if got := lastSeq(t, j); got != before {
						t.Errorf("a refused event was written: %d, was %d", got, before)
					}
				}
				wantRow(t, j, to)
			})
		}
	}
}

// wantRow checks row k and that every index agrees with it.
func wantRow(t *testing.T, j *Journal, status Status) {
	t.Helper()
	view(t, j, func(tx *Tx) error {
		r, err := tx.Row("k")
		if err != nil || r == nil || r.Status != status {
			t.Fatalf("row %+v, %v; want %s", r, err, status)
		}
		if gone := r.To == "" && r.Text == "" && r.Next == nil && r.Decision == nil; gone != status.final() {
			t.Errorf("%s row keeps or misses its text: %+v", status, r)
		}
		if r.Key != "k" || r.Out.Kind != "daily" || r.Channel != "spool" || r.Enrollment != "p1" {
			t.Errorf("row lost its names: %+v", r)
		}
		waiting, err := tx.Waiting("spool", day, 0)
		if err != nil || len(waiting) == 1 != (status == Pending) {
			t.Errorf("%s row: %d waiting, %v", status, len(waiting), err)
		}
		if n, _ := tx.Backlog("spool"); n == 1 != (status == Pending) {
			t.Errorf("%s row: a backlog of %d", status, n)
		}
		handed, err := tx.HandedRows()
		if err != nil || len(handed) == 1 != (status == Handed) {
			t.Errorf("%s row: %d handed, %v", status, len(handed), err)
		}
		return nil
	})
}

func TestHandOver(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p1", day), daily("p1", "k"))
	view(t, j, func(tx *Tx) error {
		p, err := tx.Person("p1")
		if err != nil || p.State.P != 0 || !p.Due.Equal(day) {
			t.Errorf("an intent alone moved the person: %+v, %v", p, err)
		}
		r, err := tx.Row("k")
		if err != nil || r.Decision == nil || r.Next == nil || r.Seq != 2 || !r.Made.Equal(day) {
			t.Errorf("row %+v, %v", r, err)
		}
		return err
	})
	mustAdd(t, j, handed("p1", "k"))
	view(t, j, func(tx *Tx) error {
		p, err := tx.Person("p1")
		if err != nil || p.State.P != 1 || p.State.Rev != 2 || !p.Due.Equal(day.Add(24*time.Hour)) {
			t.Errorf("hand-over left the person at %+v, %v", p, err)
		}
		r, err := tx.Row("k")
		if err != nil || r.Decision != nil || r.Next != nil || r.Tries != 1 || r.Text == "" {
			t.Errorf("row %+v, %v", r, err)
		}
		return err
	})
	// A retry goes out again without touching the state once more.
	later := day.Add(10 * time.Minute)
	mustAdd(t, j, Event{Kind: Settled, ID: "p1", Key: "k", Result: &Result{Status: "retry", Code: "timeout", Retry: later}})
	view(t, j, func(tx *Tx) error {
		if rows, err := tx.Waiting("spool", later.Add(-time.Nanosecond), 0); len(rows) != 0 || err != nil {
			t.Errorf("a retry came too soon: %v, %v", rows, err)
		}
		rows, err := tx.Waiting("spool", later, 0)
		if err != nil || len(rows) != 1 || rows[0].Code != "timeout" || !rows[0].NotBefore.Equal(later) {
			t.Errorf("waiting %+v, %v", rows, err)
		}
		return nil
	})
	mustAdd(t, j, handed("p1", "k"), settle("p1", "k", "sent"))
	view(t, j, func(tx *Tx) error {
		r, err := tx.Row("k")
		if err != nil || r.Tries != 2 || r.CarrierID != "SM1" || !r.NotBefore.IsZero() {
			t.Errorf("row %+v, %v", r, err)
		}
		return err
	})
}

// Pain wins: a report between decision and hand-over makes the decision void.
func TestStaleDecision(t *testing.T) {
	j := openNew(t)
	pain := &rules.State{Rev: 2, Program: "steady-arches", Hold: &rules.PainHold{Since: 1}}
	mustAdd(t, j, enroll("p1", day), daily("p1", "k"),
		Event{Kind: Heard, ID: "p1", In: &In{Channel: "spool", ID: "1", Text: "P5"}, State: pain})
	if err := add(j, handed("p1", "k")); !errors.Is(err, ErrInvalid) {
		t.Fatalf("a void decision was handed over: %v", err)
	}
	mustAdd(t, j, back("p1", "k"))
	again := daily("p1", "k")
	again.Out.Rev = 2
	mustAdd(t, j, again, handed("p1", "k"))
}

func TestWithdrawnKeyAgain(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p1", day), daily("p1", "k"), handed("p1", "k"), settle("p1", "k", "retry"), back("p1", "k"))
	e := daily("p1", "k")
	e.Out.Next = nil
	mustAdd(t, j, e)
	view(t, j, func(tx *Tx) error {
		r, err := tx.Row("k")
		if err != nil || r.Tries != 0 || r.Seq != 6 || r.Code != "" || r.CarrierID != "" {
			t.Errorf("row %+v, %v", r, err)
		}
		return err
	})
}

func TestOutboxRefusals(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p1", day), enroll("p2", day), daily("p1", "k"))
	noKey, clinicNext, lateDue := daily("p1", ""), daily("", "x"), daily("p1", "y")
	lateDue.Out.NextDue = day.AddDate(400, 0, 0)
	late := settle("p1", "k", "retry")
	late.Result.Retry = day.AddDate(400, 0, 0)
	before := lastSeq(t, j)
	for name, e := range map[string]Event{
		"no message": {Kind: Intended, ID: "p1"}, "no key": noKey, "clinic with next": clinicNext,
		"next due out of range": lateDue, "unknown row": handed("p1", "other"), "somebody else's row": handed("p2", "k"),
		"the clinic's": back("", "k"), "no result": {Kind: Settled, ID: "p1", Key: "k"},
	} {
		if err := add(j, e); !errors.Is(err, ErrInvalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got := lastSeq(t, j); got != before {
		t.Errorf("refused events were written: %d, was %d", got, before)
	}
	mustAdd(t, j, handed("p1", "k"))
	if err := add(j, late); !errors.Is(err, ErrInvalid) {
		t.Errorf("retry out of range: %v", err)
	}
}

// New messages go in the order of their intents whatever their keys; retries
// by their time; the limit holds.
func TestWaitingOrder(t *testing.T) {
	j := openNew(t)
	alert := func(key string) Event {
		return Event{Kind: Intended, Out: &Out{Key: key, Kind: "alert", Channel: "spool", To: "clinic", Text: "x", Made: day}}
	}
	again := func(key string, at time.Time) []Event {
		return []Event{alert(key), handed("", key), {Kind: Settled, Key: key, Result: &Result{Status: "retry", Retry: at}}}
	}
	mustAdd(t, j, again("a", day.Add(2*time.Hour))...)
	mustAdd(t, j, again("b", day.Add(time.Hour))...)
	mustAdd(t, j, alert("z"), alert("y"), alert("x"))
	order := func(now time.Time, limit int) (s string) {
		view(t, j, func(tx *Tx) error {
			rows, err := tx.Waiting("spool", now, limit)
			for _, r := range rows {
				s += r.Key
			}
			return err
		})
		return s
	}
	if got := order(day, 0) + " " + order(day.Add(3*time.Hour), 0) + " " + order(day.Add(3*time.Hour), 4); got != "zyx zyxba zyxb" {
		t.Errorf("order %s", got)
	}
}

// A carrier's id belongs to the message it was given for, on its channel,
// also after a replay.
func TestOwned(t *testing.T) {
	j := openNew(t)
	mustAdd(t, j, enroll("p1", day), daily("p1", "k"))
	channel := daily("p1", "k").Out.Channel
	owned := func(channel, id string) (ours bool) {
		t.Helper()
		if err := j.View(func(tx *Tx) error { ours = tx.Owned(channel, id); return nil }); err != nil {
			t.Fatal(err)
		}
		return ours
	}
	if owned(channel, "SM1") {
		t.Error("owned before it was sent")
	}
	mustAdd(t, j, handed("p1", "k"), settle("p1", "k", "sent"))
	if err := j.Rebuild(); err != nil {
		t.Fatal(err)
	}
	if !owned(channel, "SM1") || owned("other", "SM1") || owned(channel, "SM2") {
		t.Error("a carrier's id is not kept with its message")
	}
}
