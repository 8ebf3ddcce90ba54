package daemon

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// Take returns what commits the incoming messages of a channel. It returns
// nil only once the message stands in the journal, read and answered in one
// commit; a message seen before changes nothing.
func (s *Service) Take(channel string) notify.Take {
	return func(ctx context.Context, in notify.Incoming) error {
		r := s.roster.Load()
		if r.isStaff(channel, in) {
			err := s.takeStaff(ctx, channel, in)
			s.kick()
			return err
		}
		collector.did(1)
		var ahead *understood
		s.ahead.do(func() { ahead = s.understandAhead(r, channel, in) })
		err := s.commit(ctx, r, func(w *work) error { return w.take(channel, in, ahead) })
		if err != nil {
			s.o.Log.ErrorContext(ctx, "in.failed", "channel", channel, "error", safeError(err))
			return fmt.Errorf("take message: %w", err)
		}
		s.kick()
		return nil
	}
}

func (w *work) take(channel string, in notify.Incoming, ahead *understood) error {
	if err := w.onlyQuoted(channel, &in); err != nil {
		return err
	}
	if _, seen := w.tx.Seen(channel, in.ID); seen {
		w.log(slog.LevelInfo, "in.duplicate", "channel", channel)
		return nil
	}
	e := w.r.whose(config.Address{Channel: channel, To: in.From}, in.To)
	if e == nil {
		return w.stranger(channel, in)
	}
	return w.hear(e, channel, channel, in, ahead)
}

// onlyQuoted empties a mail with nothing of its own in it: what is left of one is
// its subject, for people answer there too, but the subject of a mail of ours
// come back says nothing, and its date could be read as a number.
func (w *work) onlyQuoted(channel string, in *notify.Incoming) error {
	for _, id := range in.Answers {
		row, err := w.tx.Row(w.tx.KeyOf(channel, id))
		if err != nil {
			return err
		}
		if row == nil {
			continue
		}
		ev, err := w.tx.Event(row.Seq, row.Enrollment)
		if err != nil {
			return err
		}
		if ev != nil && ev.Out != nil && in.Text == notify.BareSubject(ev.Out.Subject) {
			in.Text = ""
		}
	}
	return nil
}

// hear takes in a patient's message of a channel; the answer goes by another
// one where that has no way back. What was understood ahead is taken where
// nothing has changed since.
func (w *work) hear(e *config.Enrollment, channel, back string, in notify.Incoming, u *understood) (err error) {
	if _, seen := w.tx.Seen(channel, in.ID); seen {
		w.log(slog.LevelInfo, "in.duplicate", "channel", channel)
		return nil
	}
	if !w.holds(u, e, in.Text) {
		if u, err = w.understand(e, back, in.Text); err != nil {
			return err
		}
	}
	if u == nil {
		return fmt.Errorf("enrollment %s is not in the journal", e.ID)
	}
	ev := u.heard
	if ev == nil {
		ev = w.heardEvent(u, channel, in)
	}
	ev.At = w.now
	if _, err = w.tx.Append(*ev); err != nil {
		return err
	}
	w.log(slog.LevelInfo, "in.taken", "id", e.ID, "channel", channel, "report", u.reading.Report(), "unread", u.reading.Unread)
	carrierSays := w.s.confirmed(channel, in.Text)
	if carrierSays && u.hearing.OptIn {
		stoppedHere, err := w.stoppedHere(e)
		if err != nil {
			return err
		}
		carrierSays = !stoppedHere
	}
	if err := w.opt(e, in.From, u.hearing, carrierSays); err != nil {
		return err
	}
	answered, err := w.answer(e, channel, back, in, u, carrierSays)
	if err != nil {
		return err
	}
	return w.tellHearing(e, u.st, u.hearing, alert{cause: channel + " " + in.ID, quote: in.Text, mute: !answered})
}

// tellHearing alerts about what a report asks for; of says where it came from.
func (w *work) tellHearing(e *config.Enrollment, st rules.State, hearing rules.Hearing, of alert) error {
	for _, n := range hearing.Notices {
		a := of
		a.id, a.notice = e.ID, n
		if n.Kind == rules.NoticePause || n.Kind == rules.NoticeRedFlag && st.Pause != nil {
			why := rules.WhyPaused(w.r.program(e), &e.Enrollment, st)
			if n.Kind == rules.NoticePause && n.Score != nil {
				why.Score, why.Line = n.Score, e.Enrollment.Pain(w.r.program(e)).Pause
			}
			a.why = &why
		}
		if err := w.alert(a); err != nil {
			return err
		}
	}
	return nil
}

// opt notes a patient's stop or start word: a stop belongs to the contact it
// came from and covers all of them, so a start lifts it from all.
func (w *work) opt(e *config.Enrollment, from string, h rules.Hearing, carrierSays bool) error {
	switch {
	case h.OptOut && carrierSays:
		return w.optOut(from, true, "")
	case h.OptOut:
		return w.optOut(from, true, confirmedHere)
	case h.OptIn:
		for _, contact := range append(e.Contacts(), from) {
			if err := w.optOut(contact, false, ""); err != nil {
				return err
			}
		}
	}
	return nil
}

// answer puts the answer to a patient's text into the outbox. It is false
// where none may go out.
func (w *work) answer(e *config.Enrollment, channel, back string, in notify.Incoming, u *understood, carrierSays bool) (bool, error) {
	kind, h := "answer", u.hearing
	confirm := h.OptOut || h.OptIn
	switch {
	case len(h.Parts) == 0:
		return false, nil
	case confirm && carrierSays:
		return false, nil // the carrier says it already
	case u.optedOut && !confirm:
		return false, nil
	case !w.s.mayAnswer(in.From, w.now):
		w.log(slog.LevelWarn, "answer.limited", "id", e.ID, "channel", channel)
		return false, nil
	case confirm:
		kind = "confirm"
	}
	if kind == "answer" && u.said != nil {
		u.said.At = w.now
		_, err := w.tx.Append(*u.said)
		return true, err
	}
	return true, w.intendAnswer(e.ID, answerKey(channel, in.ID), kind, back, in, u.answer)
}

// answerKey tells answers apart: one a message that came in.
func answerKey(channel, id string) string { return "answer/" + channel + "/" + id }

// answerData is what an answer speaks of.
func answerData(p *rules.Program, e *rules.Enrollment, st rules.State, h rules.Hearing, r rules.Reading) templates.AnswerData {
	data := templates.AnswerData{
		Parts: h.Parts, Score: h.Score, FirstStep: r.FirstStep, Wear: r.Wear, Lines: e.Pain(p),
		Ask: h.Ask, Left: h.Left,
		Support: e.Cautions.Balance, WearStopped: st.Skin.Stop,
	}
	if r.How != nil {
		data.How = *r.How
	}
	if slices.Contains(h.Parts, rules.SayHow) {
		data.Due = p.Listed(e, st)
	}
	if st.Away != nil {
		data.Away = st.Away.To
	}
	return data
}

func (w *work) intendAnswer(id, key, kind, channel string, in notify.Incoming, msg templates.Message) error {
	_, err := w.tx.Append(*w.answerEvent(id, key, kind, channel, in, msg))
	return err
}

// answerEvent is an answer to a message that came in.
func (w *work) answerEvent(id, key, kind, channel string, in notify.Incoming, msg templates.Message) *journal.Event {
	out := w.out(config.Address{Channel: channel, To: in.From}, w.ours(channel, in.To), msg)
	out.Key, out.Kind, out.Rank, out.ReplyTo = key, kind, rankUrgent, in.MessageID
	out.Until = w.now.Add(answerFor)
	return &journal.Event{Kind: journal.Intended, ID: id, At: w.now, Out: &out}
}

// confirmed tells whether the carrier itself answers a text.
func (s *Service) confirmed(channel, text string) bool {
	confirms := s.o.Channels[channel].Confirms
	return confirms != nil && confirms(text)
}

// answerFor is how long an answer is worth sending. A later one would come
// beside the next day's message and could be taken for it.
const answerFor = 12 * time.Hour

// stranger takes a message from a contact nobody is enrolled with: kept, told
// to the clinic, and answered at most once a day, without saying what this
// is about.
func (w *work) stranger(channel string, in notify.Incoming) error {
	reading := w.s.reader(w.r.clinic.Language).Read(in.Text, rules.AskNothing)
	_, err := w.tx.Append(journal.Event{Kind: journal.Heard, At: w.now, In: &journal.In{
		Channel: channel, ID: in.ID, From: in.From, Text: in.Text, Came: in.At, Reading: reading,
	}})
	if err != nil {
		return err
	}
	w.log(slog.LevelWarn, "in.stranger", "channel", channel)
	if reading.Echo {
		return nil
	}
	hash := w.tx.ContactHash(in.From)
	optedOut := w.tx.OptedOut(hash)
	if reading.Stop || reading.Start {
		return w.optOut(in.From, reading.Stop, "")
	}
	cause := fmt.Sprintf("%x %s %s", hash[:6], rules.DateOf(w.now.In(w.r.clinic.Zone)), reading.Worst())
	err = w.alert(alert{notice: rules.Notice{Kind: rules.NoticeStranger, Flags: reading.Flags}, cause: cause, quote: in.Text, mute: optedOut})
	if err != nil || optedOut {
		return err
	}
	key := "answer/stranger/" + cause
	if row, err := w.tx.Progress(key); err != nil || row != nil {
		return err
	}
	parts := []rules.Part{rules.SayStranger}
	if worst := reading.Worst(); worst != "" {
		parts = []rules.Part{worst.Part(), rules.SayStranger}
	}
	msg := w.s.o.Words.Answer(words(w.r.clinic), templates.Patient{Language: w.r.clinic.Language, TextOnly: channel != "email"}, nil, templates.AnswerData{Parts: parts})
	return w.intendAnswer("", key, "answer", channel, in, msg)
}
