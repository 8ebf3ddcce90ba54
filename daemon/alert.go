package daemon

import (
	"log/slog"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// alert is one thing the clinician should know: one alert a cause.
type alert struct {
	id     string // enrollment; empty: the clinic
	notice rules.Notice
	cause  string // tells causes of one kind apart: a date, or an incoming id
	quote  string // what the patient wrote
	detail string // what else is known
	why    *rules.Reason
	mute   bool // no answer could go out to the patient
}

// alert puts an alert into the outbox, unless this cause had one.
func (w *work) alert(a alert) error {
	key := "alert/" + string(a.notice.Kind) + "/" + a.id + "/" + a.cause
	if row, err := w.tx.Row(key); err != nil || row != nil {
		return err
	}
	data := templates.AlertData{ID: a.id, Notice: a.notice, Quote: a.quote, Detail: a.detail, NoAnswer: a.mute,
		Today: rules.DateOf(w.now.In(w.r.clinic.Zone))}
	if a.why != nil && a.why.Code != rules.Tick { // a day that went on explains nothing
		data.Why = *a.why
	}
	if err := w.aboutPatient(&data); err != nil {
		return err
	}
	to := w.told(a.notice.Kind)
	data.Brief = to.Channel == "sms"
	out := w.out(to, "", w.s.o.Words.Alert(words(w.r.clinic), data))
	out.Key, out.Kind, out.Rank = key, "alert", rankUrgent
	_, err := w.tx.Append(journal.Event{Kind: journal.Intended, ID: a.id, At: w.now, Out: &out})
	if err != nil {
		return err
	}
	w.log(slog.LevelInfo, "alert.made", "id", a.id, "cause", string(a.notice.Kind))
	return nil
}

// told is who is told of something: the clinician, or the admin of what only
// they can mend.
func (w *work) told(kind rules.NoticeKind) config.Address {
	admin := w.r.clinic.Admin
	if admin.To != "" && (kind == rules.NoticeSender || kind == rules.NoticeBadFiles) {
		return admin
	}
	return w.r.clinic.Alerts
}

// aboutPatient fills in who an alert is about and how they stand now.
func (w *work) aboutPatient(data *templates.AlertData) error {
	e := w.r.byID[data.ID]
	if e == nil {
		return nil
	}
	person, err := w.tx.Person(e.ID)
	if err != nil || person == nil {
		return err
	}
	data.Name, data.File, data.Today = e.Name, e.At.File, today(w.now, e)
	data.On = data.Today
	data.Paused = person.State.Pause != nil
	data.WearStopped = person.State.Skin.Stop
	return nil
}
