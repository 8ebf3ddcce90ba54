package journal

import (
	"fmt"
	"sync"
	"unicode/utf8"

	"stepgate/rules"
)

// payload makes the packed payload of an event, and what a replay will read from
// it: that is applied, whatever JSON makes of a value. It is good until the next
// payload is made.
func (c *core) payload(e *Event) (packed []byte, b body, err error) {
	if e.ahead != nil {
		return e.ahead.packed, e.ahead.body, nil
	}
	plain, b, err := payload(e, c.plain.anew())
	return pack(plain), b, err
}

// encoded is what is made of an event ahead of its transaction.
type encoded struct {
	packed []byte
	body   body
}

// Encode makes the payload of an event ahead of [Tx.Append], outside the
// transaction and on any goroutine, because it is much of Append's work. From
// then on nothing of the event may change but At, ID and Kind.
func (e *Event) Encode() error {
	e.ahead = nil
	w := scratch.Get().(*jsonOut)
	defer scratch.Put(w)
	plain, b, err := payload(e, w.anew())
	if err != nil {
		return fmt.Errorf("encode %s for %q: %w", e.Kind, e.ID, err)
	}
	e.ahead = &encoded{packed: pack(plain), body: b}
	return nil
}

// scratch are buffers that nothing keeps anything of.
var scratch = sync.Pool{New: func() any { return &jsonOut{b: make([]byte, 0, 4096)} }}

// payload makes the JSON of a payload, in w where it can.
func payload(e *Event, w *jsonOut) (plain []byte, b body, err error) {
	in := inUTC(*e)
	if in.usual() {
		if plain, b, ok := quick(&in, w); ok {
			return plain, b, nil
		}
	}
	if plain, err = toJSON(in); err != nil {
		return nil, body{}, fmt.Errorf("%w: %w", ErrInvalid, err)
	}
	b, err = parseBody(plain)
	return plain, b, err
}

// usual tells whether an event has nothing but what the day of a text needs,
// with strings that JSON leaves as they are.
func (e *Event) usual() bool {
	if len(e.Files) > 0 || e.Entry != nil || len(e.Contact) > 0 || e.OptOut || e.Note != "" || e.Channel != "" ||
		!e.Point.IsZero() || e.Alert != nil || len(e.Alerts) > 0 || e.By != "" || e.Erasure != nil || len(e.Sets) > 0 {
		return false
	}
	if o := e.Out; o != nil && !valid(o.Key, o.Kind, o.Channel, o.From, o.To, o.Subject, o.Text, o.HTML, o.ReplyTo) {
		return false
	}
	if in := e.In; in != nil && !valid(in.Channel, in.ID, in.From, in.Text, string(in.Reading.Done), in.Reading.Side) {
		return false
	}
	if r := e.Result; r != nil && !valid(r.Status, r.ID, r.Code) {
		return false
	}
	return valid(e.Key, e.Why)
}

func valid(list ...string) bool {
	for _, s := range list {
		if !utf8.ValidString(s) {
			return false
		}
	}
	return true
}

// quick makes payload and body of an event in UTC from the same bytes; not ok
// where anything has no such form.
func quick(e *Event, w *jsonOut) (plain []byte, b body, ok bool) {
	b, ok = body{Key: e.Key, Why: e.Why}, true
	state := func(s *rules.State) (v []byte) {
		if s != nil && ok {
			var err error
			v, err = stateJSON(s)
			ok = err == nil
		}
		return v
	}
	decision := func(d *rules.Decision) (v []byte) {
		if d != nil && ok {
			var err error
			v, err = decisionJSON(d)
			ok = err == nil
		}
		return v
	}
	b.State, b.Decision = state(e.State), decision(e.Decision)
	if e.Out != nil {
		b.Out = &rawOut{Out: *e.Out}
		b.Out.Decision, b.Out.Next = decision(e.Out.Decision), state(e.Out.Next)
		b.Out.Out.Decision, b.Out.Out.Next = nil, nil
		if len(b.Out.Alerts) == 0 {
			b.Out.Alerts = nil
		}
	}
	if e.In != nil {
		b.Incoming = &incoming{Channel: e.In.Channel, ID: e.In.ID, Day: e.In.Day, Reading: saidIn(&e.In.Reading)}
	}
	if !ok {
		return nil, b, false
	}
	w.open()
	w.mayRaw("state", b.State)
	if e.Due != nil {
		w.time("due", *e.Due)
		b.Due = e.Due
	}
	w.mayRaw("decision", b.Decision)
	if b.Out != nil {
		w.name("out")
		w.open()
		w.out(&b.Out.Out, b.Out.Decision, b.Out.Next)
		w.close()
	}
	w.mayText("key", b.Key)
	w.mayText("why", b.Why)
	if e.Result != nil {
		res := *e.Result
		b.Result = &res
		w.name("result")
		w.open()
		w.text("status", res.Status)
		w.mayText("id", res.ID)
		w.mayText("code", res.Code)
		w.mayTime("retry", res.Retry)
		w.close()
	}
	if e.In != nil {
		w.name("in")
		w.in(e.In)
	}
	w.close()
	return w.b, b, !w.odd
}
