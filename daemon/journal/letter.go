package journal

import (
	"encoding/json"
	"fmt"
)

// Letter is what a message says, and to whom, and what it decides: what its
// Intended event has and its row has not. It never changes.
type Letter struct {
	To       string          `json:"to"`
	Subject  string          `json:"subject"`
	Text     string          `json:"text"`
	HTML     string          `json:"html"`
	Decision json.RawMessage `json:"decision"` // as it was written; none: it decides nothing
	Next     json.RawMessage `json:"next"`
}

// letter reads the letter of an intent, whose enrollment is known. In a replay
// it lies in the journal that is replayed.
func (c *core) letter(seq uint64, id string) (*Letter, error) {
	if c.replayed != nil {
		return c.replayed.letter(seq, id)
	}
	if l := c.letters[seq]; l != nil {
		return l, nil
	}
	sub, err := c.subject(id)
	if err == nil && sub == nil {
		err = fmt.Errorf("%w: message of event %d belongs to nobody", ErrDamaged, seq)
	}
	if err != nil {
		return nil, err
	}
	r, plain, err := c.read(u64(seq), func([sidSize]byte) *subject { return sub })
	switch {
	case err != nil:
		return nil, err
	case r.kind != Intended || r.sid != sub.sid:
		return nil, fmt.Errorf("%w: event %d is no message of %q", ErrDamaged, seq, id)
	}
	p, err := readIntent(plain)
	if err != nil || p.Out == nil {
		return &Letter{}, err
	}
	p.Out.Decision, p.Out.Next = closeUp(p.Out.Decision), closeUp(p.Out.Next)
	return p.Out, nil
}

// Letters reads the letters of messages of the outbox ahead of an update that
// hands them over, by the numbers of their intents: reading them is much of the
// work, and needs no turn. A key without a message is left out.
func (tx *Tx) Letters(keys []string) (map[uint64]*Letter, error) {
	all := make(map[uint64]*Letter, len(keys))
	for _, key := range keys {
		r, err := tx.c.row(key)
		if err != nil {
			return nil, err
		}
		if r == nil || r.Status.final() {
			continue
		}
		if all[r.Seq], err = tx.c.letter(r.Seq, r.Enrollment); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Know takes in what Letters read. Numbers of events are given once, so that a
// letter is that of its message for as long as there is one.
func (tx *Tx) Know(letters map[uint64]*Letter) { tx.c.letters = letters }

// Letter fills in what a message that Progress gave says, and to whom.
func (tx *Tx) Letter(r *Row) error {
	l, err := tx.c.letter(r.Seq, r.Enrollment)
	if err != nil {
		return err
	}
	r.To, r.Subject, r.Text, r.HTML = l.To, l.Subject, l.Text, l.HTML
	return nil
}

// whole adds what a message says, and what it decides until its first hand-over.
func (tx *Tx) whole(r *Row) error {
	if r.Status.final() {
		return nil
	}
	l, err := tx.c.letter(r.Seq, r.Enrollment)
	if err != nil {
		return err
	}
	r.To, r.Subject, r.Text, r.HTML = l.To, l.Subject, l.Text, l.HTML
	if r.Tries > 0 {
		return nil
	}
	if len(l.Decision) > 0 {
		err = json.Unmarshal(l.Decision, &r.Decision)
	}
	if err == nil && len(l.Next) > 0 {
		err = json.Unmarshal(l.Next, &r.Next)
	}
	if err != nil {
		return fmt.Errorf("%w: read what message of event %d decides: %w", ErrDamaged, r.Seq, err)
	}
	return nil
}

// intent is the payload of an Intended event as far as its message goes.
type intent struct {
	Out *Letter `json:"out"`
}

func readIntent(plain []byte) (*intent, error) {
	p, in := &intent{}, jsonIn{b: plain}
	for in.open(); in.field(); {
		if string(in.key) == "out" {
			in.odd = in.odd || p.Out != nil // told twice
			p.Out = &Letter{}
			p.Out.scan(&in)
		} else {
			in.other()
		}
	}
	if in.done() {
		return p, nil
	}
	p = &intent{}
	if err := json.Unmarshal(plain, p); err != nil {
		return nil, fmt.Errorf("%w: read message: %w", ErrDamaged, err)
	}
	return p, nil
}

func (l *Letter) scan(in *jsonIn) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "to":
			l.To = in.text()
		case "subject":
			l.Subject = in.text()
		case "text":
			l.Text = in.text()
		case "html":
			l.HTML = in.text()
		case "decision":
			l.Decision = in.raw()
		case "next":
			l.Next = in.raw()
		default:
			in.other()
		}
	}
}
