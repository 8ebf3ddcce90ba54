package daemon

import (
	"context"
	"crypto/hmac"
	"errors"
	"fmt"
	"log/slog"
	"regexp"
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

// command is one thing a clinician answers to an alert.
type command struct {
	number int    // of the alert in the mail, from 1; 0: all of them
	do     string // seen, release, release wear, confirm, hold, discharge
	until  rules.Date
}

var (
	commandForm = regexp.MustCompile(`(?i)^\W*(?:(all|\d{1,2})\b[\s.:,)]*)?` +
		`(seen|ok|okay|release wear|release|confirm(?: contact)?|hold|discharge)\b[\s.:,]*(?:until\s+)?([\w-]*(?:\s+\d{1,2})?)\W*$`)
	tokenForm = regexp.MustCompile(`\bA(\d{1,19})-([A-Z2-7]{16})\b`)
)

// readCommands reads an answer to a mail of n alerts, a command a line. Lines
// after the first that is none are somebody's signature or other words; words
// before any command are an error.
func readCommands(text string, n int, today rules.Date) ([]command, error) {
	var list []command
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		m := commandForm.FindStringSubmatch(line)
		if m == nil {
			if len(list) == 0 {
				return nil, fmt.Errorf("%q is no answer that can be read", clip(line))
			}
			break
		}
		c := command{do: strings.ToLower(m[2])}
		switch c.do {
		case "ok", "okay":
			c.do = "seen"
		case "confirm contact":
			c.do = "confirm"
		}
		switch {
		case strings.EqualFold(m[1], "all"):
		case m[1] != "":
			c.number, _ = strconv.Atoi(m[1])
		case n == 1:
			c.number = 1
		case c.do != "seen":
			return nil, fmt.Errorf("%q: the mail has %d alerts; write the number of the one first", clip(line), n)
		}
		if c.number > n {
			return nil, fmt.Errorf("%q: the mail has %d alerts", clip(line), n)
		}
		if m[3] != "" {
			d, err := readDay(m[3], today)
			if err != nil || c.do != "hold" {
				return nil, fmt.Errorf("%q: %q is no date that can be read here; write it like hold until %s", clip(line), m[3], today+7)
			}
			c.until = d
		}
		list = append(list, c)
	}
	if len(list) == 0 {
		return nil, errors.New("there is nothing in it")
	}
	return list, nil
}

func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "..."
	}
	return s
}

// readDay reads a date ahead, at most a year: 2026-12-10 or Dec 10.
func readDay(s string, today rules.Date) (rules.Date, error) {
	d, err := rules.ParseDate(s)
	if err != nil {
		t, terr := time.Parse("Jan 2 2006", strings.Join(strings.Fields(s), " ")+" "+strconv.Itoa(today.Time().Year()))
		if terr != nil {
			return 0, err
		}
		if d = rules.DateOf(t); d < today {
			d = rules.DateOf(t.AddDate(1, 0, 0))
		}
	}
	if d <= today || d > today+366 {
		return 0, errors.New("not a date ahead")
	}
	return d, nil
}

// asked are the alerts that an answer speaks of.
type answered struct {
	mail uint64 // number of the message's event
	rows []journal.AlertRow
	data []templates.AlertData
}

// answers finds which message of alerts an incoming one answers: by the signed
// token in subject or text, or by the message it replies to.
func (w *work) answers(channel string, in notify.Incoming) (*answered, error) {
	for _, m := range tokenForm.FindAllStringSubmatch(strings.ToUpper(in.Subject+"\n"+in.Text), -1) {
		seq, err := strconv.ParseUint(m[1], 10, 64)
		if err == nil && hmac.Equal([]byte(m[0]), []byte(w.alertToken(seq))) {
			return w.alertsOf(seq)
		}
	}
	for _, id := range in.Answers {
		row, err := w.tx.Row(w.tx.KeyOf(channel, id))
		if err != nil {
			return nil, err
		}
		if row != nil && len(row.Alerts) > 0 {
			return w.alertsOf(row.Seq)
		}
	}
	return nil, nil
}

// alertsOf are the alerts of a message by the number of its event; nil where
// there is no such message, or it is older than tokens are good for.
func (w *work) alertsOf(seq uint64) (*answered, error) {
	ev, err := w.tx.Event(seq, "")
	if err != nil || ev == nil || ev.Out == nil || w.now.Sub(ev.At) > tokenFor {
		return nil, err
	}
	out := &answered{mail: seq}
	for _, n := range ev.Out.Alerts {
		r, err := w.tx.AlertOf(n)
		if err != nil {
			return nil, err
		}
		if r == nil {
			continue
		}
		data, err := w.alertData(r)
		if err != nil {
			return nil, err
		}
		if data != nil {
			out.rows, out.data = append(out.rows, *r), append(out.data, *data)
		}
	}
	return out, nil
}

// tokenFor is how long an alert can be answered.
const tokenFor = 30 * 24 * time.Hour

// takeStaff takes a clinician's answer to alerts: the edit of the files first,
// which does nothing a second time, then everything else in one commit.
func (s *Service) takeStaff(ctx context.Context, channel string, in notify.Incoming) error {
	var to *answered
	var seen bool
	err := s.o.Journal.View(func(tx *journal.Tx) (err error) {
		w := &work{s: s, tx: tx, r: s.roster.Load(), now: s.o.Clock.Now()}
		if _, seen = tx.Seen(channel, in.ID); !seen {
			to, err = w.answers(channel, in)
		}
		return err
	})
	if err != nil || seen {
		return err
	}
	clinic := s.Clinic()
	answer := templates.AlertAnswer{Problem: "it does not say which alert it answers; answer the mail of the alert itself"}
	var acks []ack
	if to != nil {
		commands, err := readCommands(in.Text, len(to.rows), rules.DateOf(s.o.Clock.Now().In(clinic.Zone)))
		if answer.Problem = ""; err != nil {
			answer.Problem = err.Error()
		}
		by := s.roster.Load().role(config.Address{Channel: channel, To: in.From}) + ", by mail"
		answer.Lines, acks = s.obey(ctx, to, commands, by, "from "+in.From)
	}
	return s.commit(ctx, s.roster.Load(), func(w *work) error {
		if _, seen := w.tx.Seen(channel, in.ID); seen {
			return nil
		}
		reading := rules.Reading{}
		_, err := w.tx.Append(journal.Event{Kind: journal.Heard, At: w.now, In: &journal.In{Channel: channel, ID: in.ID,
			From: in.From, Text: in.Text, Came: in.At, Reading: reading}})
		if err != nil {
			return err
		}
		if err := w.ack(acks, in.From); err != nil {
			return err
		}
		w.log(slog.LevelInfo, "alert.answered", "channel", channel, "lines", len(answer.Lines), "problem", answer.Problem != "")
		if !s.mayAnswer(in.From, w.now) {
			return nil
		}
		// It lies under the clinic's own key, so it names nobody but by id.
		for i := range answer.Lines {
			answer.Lines[i].Name = ""
		}
		return w.intendAnswer("", answerKey(channel, in.ID), "answer", channel, in, s.o.Words.AlertAnswered(words(w.r.clinic), answer))
	})
}

// ack is an alert that somebody saw or acted on.
type ack struct {
	seq uint64
	how string
}

func (w *work) ack(acks []ack, by string) error {
	for _, a := range acks {
		r, err := w.tx.AlertOf(a.seq)
		if err != nil || r == nil || !r.Acked.IsZero() {
			if err != nil {
				return err
			}
			continue
		}
		if _, err := w.tx.Append(journal.Event{Kind: journal.Acked, At: w.now, Alerts: []uint64{a.seq}, Why: a.how, By: by}); err != nil {
			return err
		}
	}
	return nil
}

// obey carries out commands, and says what came of each.
func (s *Service) obey(ctx context.Context, to *answered, commands []command, by, cause string) ([]templates.AnswerLine, []ack) {
	var lines []templates.AnswerLine
	var acks []ack
	edited := false
	for _, c := range commands {
		for i := range to.rows {
			if c.number != 0 && c.number != i+1 {
				continue
			}
			line := s.obeyOne(&to.data[i], c, by, strings.TrimSpace(fmt.Sprintf("answer to alert %d %s", to.rows[i].Seq, cause)))
			edited = edited || line.File != ""
			if line.Problem == "" {
				acks = append(acks, ack{to.rows[i].Seq, line.Did})
			}
			lines = append(lines, line)
		}
	}
	if edited {
		if err := s.o.Reread(ctx); err != nil {
			for i := range lines {
				if lines[i].File != "" {
					lines[i].Problem = "written down, but the files were refused; the last good ones stay in force"
				}
			}
		}
	}
	return lines, acks
}

func (s *Service) obeyOne(data *templates.AlertData, c command, by, why string) templates.AnswerLine {
	line := templates.AnswerLine{ID: data.ID, Name: data.Name, Did: c.do, Until: c.until}
	if c.do == "hold" && c.until != 0 {
		line.Did = "hold until"
	}
	switch {
	case c.do == "seen":
		return line
	case !slices.Contains(data.Commands, c.do):
		line.Problem = "there is nothing to " + c.do
		return line
	case s.o.Edit == nil:
		line.Problem = "the files can't be edited from here"
		return line
	}
	at, err := s.o.Edit(data.ID, entriesOf(c, data.Today, by, why))
	if err != nil {
		line.Problem = err.Error()
		return line
	}
	line.File, line.Line = at.File, at.Line
	return line
}

// entriesOf are the entries that a command stands for.
func entriesOf(c command, today rules.Date, by, why string) []rules.Entry {
	kinds := map[string]rules.EntryKind{"release": rules.EntryRelease, "release wear": rules.EntryWear, "confirm": rules.EntryConfirm,
		"hold": rules.EntryHold, "discharge": rules.EntryDischarge}
	list := []rules.Entry{{Kind: kinds[c.do], On: today, By: by, Why: why}}
	if c.until != 0 {
		list = append(list, rules.Entry{Kind: rules.EntryRelease, On: c.until, OfHold: today, By: by, Why: why})
	}
	return list
}

// role is who somebody is who gets alerts: entries name them so, for the files
// and the log should not name an address as a person.
func (r *roster) role(a config.Address) string {
	switch c := r.clinic; a {
	case c.Alerts:
		return "clinician"
	case c.Backup:
		return "backup"
	case c.Admin:
		return "admin"
	}
	return "cover"
}

// isStaff tells whether a message comes from who gets alerts, and not from a
// patient.
func (r *roster) isStaff(channel string, in notify.Incoming) bool {
	from := config.Address{Channel: channel, To: in.From}
	return r.staff(from) && r.whose(from, in.To) == nil
}
