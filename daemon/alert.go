package daemon

import (
	"log/slog"
	"slices"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// alert is one thing the clinician, or the admin, should know: one alert a
// cause.
type alert struct {
	id     string // enrollment; empty: the clinic
	notice rules.Notice
	cause  string // tells causes of one kind apart: a date, or an incoming id
	quote  string // what the patient wrote
	detail string // what else is known
	why    *rules.Reason
	mute   bool // no answer could go out to the patient
}

// Who is told.
const (
	toClinician = "clinician"
	toAdmin     = "admin"
)

// alert writes an alert down, unless this cause had one. It goes out in a mail
// of its own or with others; see [work.tellAlerts].
func (w *work) alert(a alert) error {
	key := string(a.notice.Kind) + "/" + a.id + "/" + a.cause
	if w.tx.AlertKnown(key) {
		return nil
	}
	if row, err := w.tx.Progress("alert/" + key); err != nil || row != nil {
		return err // told before alerts were grouped
	}
	out := journal.Alert{Key: key, Notice: a.notice, Quote: a.quote, Detail: a.detail, Mute: a.mute, To: toClinician,
		On: rules.DateOf(w.now.In(w.r.clinic.Zone)), Rank: w.urgency(a), Due: w.now}
	if e := w.r.enrolled(a.id); e != nil {
		out.On = today(w.now, e)
	}
	if a.notice.Kind == rules.NoticeSender || a.notice.Kind == rules.NoticeBadFiles {
		out.To = toAdmin
	}
	if a.why != nil && a.why.Code != rules.Tick { // a day that went on explains nothing
		out.Why = a.why
	}
	if out.Rank > atOnce && !w.s.o.Made {
		out.Due = nextClinicHour(w.r.clinic, w.now)
	}
	if _, err := w.tx.Append(journal.Event{Kind: journal.Alerted, ID: a.id, At: w.now, Alert: &out}); err != nil {
		return err
	}
	w.alerted = true
	w.log(slog.LevelInfo, "alert.made", "id", a.id, "cause", string(a.notice.Kind))
	return nil
}

// The urgencies of alerts.
const (
	atOnce   = 0 // somebody may be in danger, or messages have ended
	canWait  = 1 // until the next clinic hour
	goodNews = 2 // the same, and nobody need acknowledge it
)

// urgency is how soon an alert goes out. What is not listed can wait.
func (w *work) urgency(a alert) int {
	switch a.notice.Kind {
	case rules.NoticeRedFlag, rules.NoticePause, rules.NoticeContact, rules.NoticeByMail, rules.NoticeUndelivered,
		rules.NoticeWrong, rules.NoticeOptOut, rules.NoticeCall, rules.NoticeSender, rules.NoticeBadFiles, rules.NoticeUnknownSent:
		return atOnce
	case rules.NoticeSkin:
		// Skin that is not felt, or heals badly, does not wait.
		if e := w.r.enrolled(a.id); e == nil || e.Cautions.SkinChecks() {
			return atOnce
		}
	case rules.NoticeStranger:
		if len(a.notice.Flags) > 0 {
			return atOnce
		}
	case rules.NoticeOptIn, rules.NoticeVisit, rules.NoticeFinished:
		return goodNews
	}
	return canWait
}

// told are the contacts that hear of an alert today: the clinician or who
// covers for them, or the admin. What nobody acknowledged goes to the backup
// too.
func (w *work) told(to string, again bool) []config.Address {
	c := w.r.clinic
	list := []config.Address{c.Alerts}
	if to == toAdmin && c.Admin.To != "" {
		list[0] = c.Admin
	} else if i := slices.IndexFunc(c.Cover, func(v config.Cover) bool {
		d := rules.DateOf(w.now.In(c.Zone))
		return v.From <= d && d <= v.To
	}); i >= 0 {
		list[0] = c.Cover[i].Address
	}
	if again && c.Backup.To != "" && c.Backup != list[0] {
		list = append(list, c.Backup)
	}
	return list
}

// ackAlerts ends the alerts about a patient that somebody was told of: the
// clinician has acted.
func (w *work) ackAlerts(id, how, by string) error {
	var seqs []uint64
	err := w.tx.OpenAlerts(func(r *journal.AlertRow) error {
		if r.Enrollment == id && r.Told > 0 {
			seqs = append(seqs, r.Seq)
		}
		return nil
	})
	if err != nil || len(seqs) == 0 {
		return err
	}
	_, err = w.tx.Append(journal.Event{Kind: journal.Acked, At: w.now, Alerts: seqs, Why: how, By: by})
	return err
}
