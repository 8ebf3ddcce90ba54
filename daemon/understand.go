package daemon

import (
	"bytes"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// understood is a patient's message as it was read, with what follows from it.
type understood struct {
	reading  rules.Reading
	optedOut bool
	was      rules.State
	st       rules.State
	hearing  rules.Hearing
	answer   templates.Message // empty where nothing is said

	// Of one that was worked out ahead of its commit:
	row      []byte         // of the person, as they were; nil: there is none
	heard    *journal.Event // what is filed of it, encoded,
	said     *journal.Event // and the answer, unless it says that a stop or start was taken
	contacts hashes
	r        *roster // it was read by
	id       string
	text     string
	today    rules.Date
}

// understand reads a message that came from a patient, and renders the answer
// that goes back by a channel.
func (w *work) understand(e *config.Enrollment, back, text string) (*understood, error) {
	person, err := w.tx.Person(e.ID)
	if err != nil || person == nil {
		return nil, err
	}
	u := &understood{was: person.State, contacts: w.hashes(e), r: w.r, id: e.ID, text: text, today: today(w.now, e)}
	u.optedOut = w.anyOut(u.contacts)
	p := w.r.program(e)
	u.reading = w.s.reader(e.Language).Read(text, u.was.Asked)
	u.st, u.hearing = rules.Hear(p, &e.Enrollment, u.was, u.reading, u.today, u.optedOut)
	if u.hearing.Ask != rules.AskNothing {
		u.st.Asked = u.hearing.Ask
	}
	if len(u.hearing.Parts) > 0 {
		to := patient(e, config.Address{Channel: back})
		u.answer = w.s.o.Words.Answer(words(w.r.clinic), to, p, answerData(p, &e.Enrollment, u.st, u.hearing, u.reading))
	}
	return u, nil
}

// understandAhead understands a message before its commit, so that the one
// writer of the journal is not held up by it. It gives nil where the commit is
// to find out for itself.
func (s *Service) understandAhead(r *roster, channel string, in notify.Incoming) (u *understood) {
	defer func() {
		if recover() != nil {
			u = nil // it panics again in its commit, which tells whose it is
		}
	}()
	e := r.whose(config.Address{Channel: channel, To: in.From}, in.To)
	if e == nil {
		return nil
	}
	_ = s.o.Journal.View(func(tx *journal.Tx) (err error) { // the commit tells
		w := &work{s: s, tx: tx, r: r, now: s.o.Clock.Now()}
		if u, err = w.understand(e, channel, in.Text); u != nil {
			u.row = bytes.Clone(tx.PersonRow(e.ID))
			err = w.encode(u, channel, in)
		}
		return err
	})
	return u
}

// encode makes the events of what was understood.
func (w *work) encode(u *understood, channel string, in notify.Incoming) error {
	u.heard = w.heardEvent(u, channel, in)
	if err := u.heard.Encode(); err != nil {
		return err
	}
	if len(u.hearing.Parts) == 0 || u.hearing.OptOut || u.hearing.OptIn {
		return nil
	}
	u.said = w.answerEvent(u.id, answerKey(channel, in.ID), "answer", channel, in, u.answer)
	return u.said.Encode()
}

// heardEvent is what is filed of a message.
func (w *work) heardEvent(u *understood, channel string, in notify.Incoming) *journal.Event {
	return &journal.Event{Kind: journal.Heard, ID: u.id, At: w.now, State: &u.st, In: &journal.In{
		Channel: channel, ID: in.ID, From: in.From, Text: in.Text, Came: in.At,
		Day: u.was.Decided, Reading: u.reading, Hearing: &u.hearing,
	}}
}

// holds tells whether what was understood ahead of this commit is what it would
// come to.
func (w *work) holds(u *understood, e *config.Enrollment, text string) bool {
	return u != nil && u.row != nil && u.r == w.r && u.id == e.ID && u.text == text && u.today == today(w.now, e) &&
		bytes.Equal(u.row, w.tx.PersonRow(e.ID)) && w.anyOut(u.contacts) == u.optedOut
}
