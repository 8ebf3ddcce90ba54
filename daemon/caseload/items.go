package caseload

import (
	"fmt"
	"slices"
	"strings"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// teller makes items of one patient's events, in order.
type teller struct {
	v       View
	e       *config.Enrollment
	reports reports
	items   []Item
	byKey   map[string]told // messages, by key
	alerts  []alertItem
	at      place // by the last decision
}

// told is where a message's items lie, and where the plan stood before them.
type told struct {
	decided, message int // -1: none
	before           place
	stands           bool // handed over once: the decision is final, whatever becomes of the message
}

// place is where a plan stands.
type place struct {
	step  int
	state rules.InState
}

type alertItem struct {
	at  int
	seq uint64
}

// items tells everything of a patient. What became of a message stands with
// the message, and what was done about an alert with the alert.
func (v View) items(tx *journal.Tx, e *config.Enrollment) ([]Item, error) {
	t := &teller{v: v, e: e, byKey: map[string]told{}}
	if err := tx.Events(e.ID, func(ev journal.Event) error { t.take(ev); return nil }); err != nil || e.ID == "" {
		return nil, err
	}
	for _, a := range t.alerts {
		row, err := tx.AlertOf(a.seq)
		if err != nil {
			return nil, err
		}
		if row != nil {
			t.items[a.at].Status = t.answered(row)
		}
	}
	return slices.DeleteFunc(t.items, func(it Item) bool { return it.Kind == "" }), nil
}

func (t *teller) add(ev *journal.Event, it Item) int {
	it.At = ev.At.In(t.e.Zone)
	t.items = append(t.items, it)
	return len(t.items) - 1
}

func (t *teller) take(ev journal.Event) {
	behind := t.reports.take(t.e, ev)
	switch {
	case ev.Decision != nil:
		t.decided(&ev, *ev.Decision, behind)
	case ev.Out != nil:
		t.message(&ev, behind)
	case ev.Alert != nil:
		text := t.v.Words.Short(ev.Alert.Notice)
		if ev.Alert.Detail != "" {
			text += ": " + ev.Alert.Detail
		}
		t.alerts = append(t.alerts, alertItem{t.add(&ev, Item{Kind: "alert", Text: text, Code: string(ev.Alert.Notice.Kind)}), ev.Seq})
	case ev.Kind == journal.Heard && ev.In != nil:
		it := Item{Kind: "reply", Text: ev.In.Text, Read: t.v.Words.Reading("en", ev.In.Reading)}
		if ev.Entry != nil { // a report the clinic took
			it.Phone = ev.Entry.By
		}
		t.add(&ev, it)
	case ev.Entry != nil:
		t.add(&ev, Item{Kind: "entry", Text: entryText(*ev.Entry), Code: string(ev.Entry.Kind)})
	case ev.Key != "":
		t.became(&ev)
	default:
		if text := note(ev); text != "" {
			t.add(&ev, Item{Kind: "note", Text: text})
		}
	}
}

// decided tells a decision, and before it what it changed.
func (t *teller) decided(ev *journal.Event, dec rules.Decision, behind []templates.Report) int {
	now := place{dec.Step, dec.State}
	kind, text := "change", changed(t.at, now, dec.Steps)
	if text == "" {
		kind = ""
	}
	t.add(ev, Item{Kind: kind, Text: text})
	t.at = now
	return t.add(ev, Item{Kind: "decided", Text: t.v.story(t.e, dec, behind, t.reports.before), Code: string(dec.Why.Code)})
}

// changed says in a few words how a plan stands otherwise than before.
func changed(was, now place, steps int) string {
	var parts []string
	switch {
	case now.step > was.step:
		parts = append(parts, fmt.Sprintf("step %d of %d begins", now.step, steps))
	case now.step < was.step && now.step > 0:
		parts = append(parts, fmt.Sprintf("back to step %d of %d", now.step, steps))
	}
	if now.state != was.state && (was.state != "" || now.state != rules.InActive) {
		parts = append(parts, "now "+string(now.state))
	}
	return strings.Join(parts, ", ")
}

// message tells a text to the patient; of a daily one first the decision. The
// mails of alerts are the clinic's.
func (t *teller) message(ev *journal.Event, behind []templates.Report) {
	out, at := ev.Out, told{-1, -1, t.at, false}
	switch {
	case out.Kind == "alert" || out.Kind == "digest":
		return
	case out.Decision != nil:
		at.decided = t.decided(ev, *out.Decision, behind)
		at.message = t.add(ev, Item{Kind: "dose", Text: t.v.doseText(t.e, *out.Decision)})
	default:
		at.message = t.add(ev, Item{Kind: "message", Text: out.Text})
	}
	t.items[at.message].Status = "waits to go out"
	t.byKey[out.Key] = at
}

// became takes in what became of a message.
func (t *teller) became(ev *journal.Event) {
	at, ok := t.byKey[ev.Key]
	if !ok {
		return
	}
	it := &t.items[at.message]
	switch {
	case ev.Kind == journal.Withdrawn:
		it.Status = "taken back before it went out: " + ev.Why
		if at.decided >= 0 && !at.stands {
			t.items[at.decided].Status = "did not come to stand: " + ev.Why
			t.items[at.decided-1].Kind, t.at = "", at.before
		}
	case ev.Kind == journal.HandedOut:
		it.Status, at.stands = "handed to the carrier", true
		t.byKey[ev.Key] = at
	case ev.Result != nil && ev.Result.Status != journal.NoNews:
		it.Status = fate(ev.Result)
		if ev.Kind == journal.Delivery && rules.DateOf(ev.At.In(t.e.Zone)) != rules.DateOf(it.At) {
			it.Status += ", " + short(rules.DateOf(ev.At.In(t.e.Zone)))
		}
	}
}

// fate is what became of a message, in words.
func fate(r *journal.Result) string {
	words := map[string]string{"sent": "sent", "retry": "not taken yet, to be tried again", "rejected": "refused by the carrier",
		"unknown": "it can't be told whether it went out", "expired": "its time was over before it went out",
		journal.Delivered: "delivered", journal.Undelivered: "not delivered"}[r.Status]
	if words == "" {
		words = r.Status
	}
	if r.Code != "" {
		words += " (" + strings.TrimSuffix(notify.Explain(r.Code), ".") + ")"
	}
	return words
}

// answered is what was done about an alert.
func (t *teller) answered(r *journal.AlertRow) string {
	switch {
	case r.Acked.IsZero() && r.Rank >= needsNoAck:
		return "for information"
	case r.Acked.IsZero():
		return "not acknowledged"
	}
	text := "acknowledged " + r.Acked.In(t.e.Zone).Format("Jan 2 15:04")
	if r.How != "" {
		text += ": " + r.How
	}
	if r.By != "" {
		text += ", by " + r.By
	}
	return text
}

func entryText(n rules.Entry) string {
	text := string(n.Kind)
	switch {
	case n.Kind == rules.EntryCap && n.Step == 0:
		text += " lifted"
	case n.Kind == rules.EntryCap:
		text += fmt.Sprintf(" at step %d", n.Step)
	case n.AsBefore:
		text += ", as before"
	}
	if n.Report != 0 {
		text += " the report of " + short(n.Report)
	}
	if n.Score != nil {
		text += fmt.Sprintf(": pain %d instead", *n.Score)
	}
	if n.By != "" {
		text += ", by " + n.By
	}
	if n.On != 0 {
		text += ", dated " + short(n.On)
	}
	if n.Why != "" {
		text += ": " + n.Why
	}
	return text
}

// note is what else is worth a line; empty: nothing.
func note(ev journal.Event) string {
	switch ev.Kind {
	case journal.Enrolled:
		return "enrolled"
	case journal.Removed:
		return "gone from the clinic's files; no message goes out on its own"
	case journal.Skipped:
		return "the service was down: a date passed undecided, and is not made up for"
	case journal.Rerouted:
		if len(ev.Contact) > 0 {
			return "texts do not arrive; messages go another way if one is on file"
		}
		return "messages go to the usual contact again"
	case journal.Noted:
		return ev.Note
	}
	return ""
}
