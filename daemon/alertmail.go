package daemon

import (
	"context"
	"encoding/base32"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// calm is the least time between two mails of new alerts to one addressee: the
// first goes at once, and what comes in a rush behind it goes together.
const calm = 5 * time.Minute

// manyAlerts is the most alerts in one mail.
const manyAlerts = 50

// tellAlerts puts the alerts whose time has come into the outbox: one message
// with many lines for each addressee. On a made-up calendar every alert has a
// message of its own.
func (w *work) tellAlerts() error {
	rows, err := w.tx.AlertsDue(w.now, 0)
	if err != nil {
		return err
	}
	groups := map[string][]journal.AlertRow{}
	for _, r := range rows {
		name := r.To
		switch {
		case w.s.o.Made:
			name = fmt.Sprintf("%s %d", r.To, r.Seq)
		case r.Told > 0:
			name += " again"
		case !w.s.calmed(r.To, w.now):
			continue
		}
		groups[name] = append(groups[name], r)
	}
	names := make([]string, 0, len(groups))
	for name := range groups {
		names = append(names, name)
	}
	// In the order in which the first of each came up.
	slices.SortFunc(names, func(a, b string) int { return int(int64(groups[a][0].Seq) - int64(groups[b][0].Seq)) })
	for _, name := range names {
		for part := range slices.Chunk(groups[name], manyAlerts) {
			if err := w.tell(part); err != nil {
				return err
			}
		}
	}
	return nil
}

// calmed tells whether the last mail of new alerts is long enough ago.
func (s *Service) calmed(to string, now time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return now.Sub(s.told[to]).Abs() >= calm
}

// tell puts one message of alerts into the outbox, for everybody who gets it.
func (w *work) tell(rows []journal.AlertRow) error {
	again := rows[0].Told > 0
	key := "alerts/" + strconv.FormatUint(rows[0].Seq, 10)
	escalate := time.Time{}
	if again {
		key += "/again"
	}
	var seqs []uint64
	for _, r := range rows {
		seqs = append(seqs, r.Seq)
		if r.Rank < goodNews && !again && !w.s.o.Made {
			escalate = clinicDayOn(w.r.clinic, w.now)
		}
	}
	for i, to := range w.told(rows[0].To, again) {
		out := journal.Out{Key: key, Kind: "alert", Channel: to.Channel, To: to.To, Made: w.now, Alerts: seqs, Again: escalate, Rank: rankUrgent}
		if i > 0 {
			out.Key += "/backup"
		}
		if numbers := w.s.o.Channels[to.Channel].Numbers; len(numbers) > 0 {
			out.From, out.Segments = numbers[0].Number, 1
		}
		ev := journal.Event{Kind: journal.Intended, At: w.now, Out: &out}
		if w.s.o.Made {
			// A made-up message is about one patient, and there is nobody to forget.
			msg, err := w.alertWords(&journal.Row{Out: out})
			if err != nil {
				return err
			}
			ev.ID, out.Subject, out.Text, out.HTML = rows[0].Enrollment, msg.Subject, notify.Plain(msg.Text), msg.HTML
		}
		if _, err := w.tx.Append(ev); err != nil {
			return err
		}
	}
	if !again {
		to, now := rows[0].To, w.now
		w.said = append(w.said, func(context.Context) {
			w.s.mu.Lock()
			defer w.s.mu.Unlock()
			w.s.told[to] = now
		})
	}
	return nil
}

// alertWords makes the words of a message of alerts, from what lies under
// their patients' keys. A patient who was erased since is left out.
func (w *work) alertWords(row *journal.Row) (templates.Message, error) {
	m := templates.AlertMail{Again: row.Key != "" && hasSuffixes(row.Key, "/again", "/again/backup")}
	rows := make([]journal.AlertRow, 0, len(row.Alerts))
	for _, seq := range row.Alerts {
		r, err := w.tx.AlertOf(seq)
		if err != nil {
			return templates.Message{}, err
		}
		if r != nil {
			rows = append(rows, *r)
		}
	}
	for _, r := range rows {
		data, err := w.alertData(&r)
		if err != nil {
			return templates.Message{}, err
		}
		if data == nil {
			continue
		}
		data.Brief = row.Channel == "sms"
		m.Alerts = append(m.Alerts, *data)
	}
	if ch := w.s.o.Channels[row.Channel]; ch.Receive != nil && row.Channel == "email" && !w.s.o.Made {
		m.Token = w.alertToken(row.Seq)
	}
	if web := w.r.clinic.Web; web != nil && !w.s.o.Made && row.Channel != "sms" {
		m.Link = web.Public + alertPath + w.alertToken(row.Seq)
	}
	return w.s.o.Words.Alerts(words(w.r.clinic), m), nil
}

// alertData is what an alert tells, from its event and from how the patient
// stands now; nil where the patient was erased.
func (w *work) alertData(r *journal.AlertRow) (*templates.AlertData, error) {
	ev, err := w.tx.Event(r.Seq, r.Enrollment)
	if err != nil || ev == nil || ev.Alert == nil {
		return nil, err
	}
	a := ev.Alert
	data := &templates.AlertData{ID: r.Enrollment, Notice: a.Notice, On: a.On, Quote: a.Quote, Detail: a.Detail, NoAnswer: a.Mute,
		Today: rules.DateOf(w.now.In(w.r.clinic.Zone))}
	if a.Why != nil {
		data.Why = *a.Why
	}
	e := w.r.enrolled(r.Enrollment)
	if e == nil {
		data.Commands = []string{"seen"}
		return data, nil
	}
	person, err := w.tx.Person(e.ID)
	if err != nil || person == nil {
		return data, err
	}
	data.Name, data.File, data.Today = e.Name, e.At.File, today(w.now, e)
	data.Paused = person.State.Pause != nil
	data.WearStopped = person.State.Skin.Stop
	data.Commands = commandsFor(a.Notice.Kind, data)
	return data, nil
}

// commandsFor are the answers to an alert that make sense.
func commandsFor(kind rules.NoticeKind, data *templates.AlertData) []string {
	list := []string{"seen"}
	if data.Paused {
		list = append(list, "release")
	}
	if data.WearStopped {
		list = append(list, "release wear")
	}
	switch kind {
	case rules.NoticeOptIn, rules.NoticeVisit, rules.NoticeFinished:
		return list
	case rules.NoticeContact, rules.NoticeByMail, rules.NoticeUndelivered, rules.NoticeWrong, rules.NoticeLost, rules.NoticeBack:
		list = append(list, "confirm")
	}
	return append(list, "hold", "discharge")
}

// alertToken is how an answer to a message of alerts is known: its number and
// 80 bits of a keyed hash of it.
func (w *work) alertToken(seq uint64) string {
	mac := w.tx.ContactHash("alert mail\x00" + strconv.FormatUint(seq, 10))
	return fmt.Sprintf("A%d-%s", seq, base32.StdEncoding.EncodeToString(mac[:10]))
}

// render gives a row its words, where they are made at hand-over.
func (w *work) render(row *journal.Row) error {
	var msg templates.Message
	var err error
	switch {
	case row.Text != "" || row.HTML != "":
		return nil
	case len(row.Alerts) > 0:
		msg, err = w.alertWords(row)
	case row.Kind == "digest":
		msg, err = w.digestWords(row)
	default:
		return nil
	}
	row.Subject, row.Text, row.HTML = msg.Subject, msg.Text, msg.HTML
	return err
}

// message is a row as it is handed over, with the words that are made only
// then.
func (s *Service) message(row journal.Row) (notify.Message, error) {
	stop := ""
	err := s.looking(func(w *work) error {
		if w.r.clinic == nil {
			return nil
		}
		// RFC 8058 wants https; a public address on this machine, for trying things
		// out, has none.
		if web := w.r.clinic.Web; web != nil && strings.HasPrefix(web.Public, "https://") && row.Channel == "email" && row.Enrollment != "" && !w.s.o.Made {
			stop = w.r.clinic.Web.Public + stopPath + linkToken(w.tx, link{row.Enrollment, rules.DateOf(row.Made.UTC()), "stop"})
		}
		return w.render(&row)
	})
	return notify.Message{Key: row.Key, From: row.From, To: row.To, Subject: row.Subject, Text: row.Text,
		HTML: row.HTML, At: row.Made, ReplyTo: row.ReplyTo, Until: row.Until, Unsubscribe: stop}, err
}

// staff are the contacts whose messages are answers to alerts, not a patient's.
func (r *roster) staff(a config.Address) bool {
	c := r.clinic
	if c == nil || a.To == "" {
		return false
	}
	return a == c.Alerts || a == c.Backup || a == c.Admin ||
		slices.ContainsFunc(c.Cover, func(v config.Cover) bool { return v.Address == a })
}

func hasSuffixes(s string, all ...string) bool {
	return slices.ContainsFunc(all, func(x string) bool { return len(s) >= len(x) && s[len(s)-len(x):] == x })
}
