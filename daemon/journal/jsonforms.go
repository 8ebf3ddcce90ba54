package journal

import (
	"bytes"
	"encoding/json"
)

// What is written and read for every text of a day, by hand: see jsonOut and
// jsonIn. Whatever is out of the ordinary goes the way of encoding/json.

// written returns a copy of what was written, or what toJSON makes of v if
// that is not sure to be the same.
func (w *jsonOut) written(v any) ([]byte, error) {
	if w.odd {
		return toJSON(v)
	}
	return bytes.Clone(w.b), nil
}

// anew begins a value in the transaction's buffer.
func (c *core) anew() *jsonOut {
	return c.out.anew()
}

func (w *jsonOut) anew() *jsonOut {
	w.b, w.odd = w.b[:0], false
	return w
}

// out writes the fields of a message. Those of a payload have the decision in
// the middle; rows have none.
func (w *jsonOut) out(o *Out, decision, next []byte) {
	w.text("key", o.Key)
	w.text("kind", o.Kind)
	w.text("channel", o.Channel)
	w.mayText("from", o.From)
	w.text("to", o.To)
	w.mayText("subject", o.Subject)
	w.text("text", o.Text)
	w.mayText("html", o.HTML)
	w.mayText("reply_to", o.ReplyTo)
	w.time("made", o.Made)
	w.mayTime("until", o.Until)
	w.mayNumber("rev", o.Rev)
	w.mayRaw("decision", decision)
	w.mayRaw("next", next)
	w.mayTime("next_due", o.NextDue)
	w.mayNumber("rank", o.Rank)
	w.mayNumber("segments", o.Segments)
	w.maySeqs("alerts", o.Alerts)
	w.mayTime("again", o.Again)
}

func (c *core) personJSON(p *person) ([]byte, error) {
	w := c.anew()
	w.open()
	w.raw("state", p.State)
	w.mayTime("due", p.Due)
	w.mayTrue("gone", p.Gone)
	w.time("since", p.Since)
	w.mayText("from", p.From)
	w.mayBytes("dead", p.Dead)
	w.mayRaw("told", p.Told)
	w.maySeq("last", p.Last)
	w.close()
	return w.written(p)
}

func (c *core) toldJSON(t *told) ([]byte, error) {
	w := c.anew()
	w.open()
	w.date("date", t.Date)
	w.number("day", t.Day)
	w.mayNumber("step", t.Step)
	w.mayNumber("steps", t.Steps)
	w.raw("why", t.Why)
	w.raw("wear_why", t.WearWhy)
	w.close()
	return w.written(t)
}

// closeUp brings what another program may have spaced out into the form that
// is written.
func closeUp(v json.RawMessage) json.RawMessage {
	in := jsonIn{b: v}
	if in.skip(0); in.done() || len(v) == 0 {
		return v // as it is nearly always
	}
	var b bytes.Buffer
	if json.Compact(&b, v) != nil {
		return v
	}
	return b.Bytes()
}
