package report

import (
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// story is what the events tell of one patient beside the days.
type story struct {
	zone    *time.Location
	decided map[rules.Date]*rules.Decision // the one that stands
	reports []heard
	entries []written
	alerts  []templates.ReportAlert
	talk    []templates.ReportSaying

	alertSeq []uint64
	talkOf   map[string]int             // message key: where it stands in talk
	undo     map[string]*rules.Decision // message key: what its decision took the place of
	byKey    map[string]rules.Date      // message key: the date it decides, until it is handed over
}

// heard is a text that held a report.
type heard struct {
	day  rules.Date // the decided date it belongs to
	text string
	read rules.Reading
}

// written is a clinician's entry, and when it was read.
type written struct {
	rules.Entry
	at   time.Time
	read rules.Date // its local date
}

// needsNoAck is the rank from which on an alert is for information.
const needsNoAck = 2

func readStory(tx *journal.Tx, e *config.Enrollment) (*story, error) {
	r := &story{zone: e.Zone, decided: map[rules.Date]*rules.Decision{}, talkOf: map[string]int{}, undo: map[string]*rules.Decision{},
		byKey: map[string]rules.Date{}, alerts: []templates.ReportAlert{}, talk: []templates.ReportSaying{}}
	if err := tx.Events(e.ID, func(ev journal.Event) error { r.take(&ev); return nil }); err != nil {
		return nil, err
	}
	for i, seq := range r.alertSeq {
		row, err := tx.AlertOf(seq)
		if err != nil {
			return nil, err
		}
		if row == nil {
			continue
		}
		a := &r.alerts[i]
		a.Needs, a.How, a.By = row.Rank < needsNoAck, row.How, row.By
		if !row.Acked.IsZero() {
			a.Acked = row.Acked.In(e.Zone)
			continue
		}
		r.acted(a)
	}
	return r, nil
}

// acted finds what a clinician wrote on a later date than an alert that nobody
// acknowledged, as the caseload has it. What was written ahead answers for
// nothing that came after, and a report taken by phone for nothing at all.
func (r *story) acted(a *templates.ReportAlert) {
	on := rules.DateOf(a.At)
	for _, n := range r.entries {
		if n.at.After(a.At) && n.On > on && n.OfHold == 0 && n.Kind != rules.EntryReport {
			a.How, a.By = string(n.Kind), n.By
			a.Acked = time.Date(a.At.Year(), a.At.Month(), a.At.Day()+int(n.On-on), 0, 0, 0, 0, r.zone)
			return
		}
	}
}

func (r *story) take(ev *journal.Event) {
	at := ev.At.In(r.zone)
	switch {
	case ev.Decision != nil:
		r.decided[ev.Decision.Date] = ev.Decision
	case ev.Out != nil:
		r.message(at, ev.Out)
	case ev.Alert != nil:
		r.alertSeq = append(r.alertSeq, ev.Seq)
		r.alerts = append(r.alerts, templates.ReportAlert{At: at, Notice: ev.Alert.Notice})
	case ev.Kind == journal.Heard && ev.In != nil:
		kind := "in"
		if ev.Entry != nil { // somebody at the clinic took it
			kind = "phone"
		}
		r.talk = append(r.talk, templates.ReportSaying{At: at, Kind: kind, Text: ev.In.Text})
		if ev.In.Reading.Report() {
			r.reports = append(r.reports, heard{ev.In.Day, ev.In.Text, ev.In.Reading})
		}
	case ev.Entry != nil:
		r.entries = append(r.entries, written{*ev.Entry, at, rules.DateOf(at)})
	case ev.Key != "":
		r.became(ev)
	}
}

// message is one of ours. The mails of alerts are the clinic's.
func (r *story) message(at time.Time, out *journal.Out) {
	if out.Kind == "alert" || out.Kind == "digest" {
		return
	}
	if d := out.Decision; d != nil {
		r.undo[out.Key], r.byKey[out.Key] = r.decided[d.Date], d.Date
		r.decided[d.Date] = d
	}
	kind := "answer"
	if out.Kind == "daily" || out.Decision != nil {
		kind = "out"
	}
	r.talkOf[out.Key] = len(r.talk)
	r.talk = append(r.talk, templates.ReportSaying{At: at, Kind: kind, Text: out.Text, Fate: "waiting"})
}

// became takes in what became of a message.
func (r *story) became(ev *journal.Event) {
	i, ok := r.talkOf[ev.Key]
	if !ok {
		return
	}
	switch {
	case ev.Kind == journal.HandedOut: // decided for good, whatever becomes of the message
		delete(r.byKey, ev.Key)
	case ev.Kind == journal.Withdrawn:
		r.talk[i].Fate = "withdrawn"
		if d, ok := r.byKey[ev.Key]; ok {
			if before := r.undo[ev.Key]; before != nil {
				r.decided[d] = before
			} else {
				delete(r.decided, d)
			}
		}
	case ev.Result == nil:
	case ev.Result.Status == string(journal.Rejected), ev.Result.Status == string(journal.Unknown), ev.Result.Status == string(journal.Expired),
		ev.Result.Status == journal.Undelivered:
		r.talk[i].Fate = ev.Result.Status
	case ev.Result.Status == string(journal.Sent), ev.Result.Status == journal.Delivered:
		r.talk[i].Fate = ""
	}
}
