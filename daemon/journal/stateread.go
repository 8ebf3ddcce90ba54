package journal

import (
	"encoding/json"
	"strconv"

	"stepgate/rules"
)

// The state of a patient is read for every decision and every reply, so it is
// read by hand, as in [jsonIn]: what is not known here is encoding/json's to read.

// scan reads a person; not ok: encoding/json is to be asked.
func (p *Person) scan(v []byte) bool {
	in := jsonIn{b: v}
	for in.open(); in.field(); {
		switch string(in.key) {
		case "state":
			in.state(&p.State)
		case "due":
			p.Due = in.time()
		case "gone":
			p.Gone = in.bool()
		case "since":
			p.Since = in.time()
		case "from":
			p.From = in.text()
		case "dead":
			p.Dead = in.bytes()
		case "told":
			p.Told = &Told{}
			in.told(p.Told)
		case "last": // the thread's, and nobody else's affair
			in.seq()
		default:
			in.odd = true
		}
	}
	return in.done()
}

func (in *jsonIn) told(t *Told) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "date":
			t.Date = in.date()
		case "day":
			t.Day = in.int()
		case "step":
			t.Step = in.int()
		case "steps":
			t.Steps = in.int()
		case "why":
			in.reason(&t.Why)
		case "wear_why":
			in.reason(&t.WearWhy)
		default:
			in.odd = true
		}
	}
}

func (in *jsonIn) reason(r *rules.Reason) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "code":
			r.Code = rules.Code(in.text())
		case "rule":
			r.Rule = in.text()
		case "at":
			in.into(&r.At)
		case "score":
			r.Score = in.intAt()
		case "line":
			r.Line = in.int()
		case "since":
			r.Since = in.date()
		case "have":
			r.Have = in.int()
		case "need":
			r.Need = in.int()
		case "short":
			r.Short = in.text()
		case "by":
			r.By = in.text()
		default:
			in.odd = true
		}
	}
}

// state reads what most states have; stateRest has the rest.
func (in *jsonIn) state(s *rules.State) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "rev":
			s.Rev = in.int()
		case "prog":
			s.Program = in.text()
		case "ed":
			s.Edition = in.text()
		case "dec":
			s.Decided = in.date()
		case "p":
			s.P = in.int()
		case "w":
			s.W = in.int()
		case "base":
			s.Base = in.date()
		case "wk":
			s.Week = in.int()
		case "due":
			s.Due = in.bool()
		case "msg":
			s.Sent = in.bool()
		case "wm":
			s.WearMin = in.int()
		case "heard":
			in.reports((*heardReports)(&s.Heard))
		case "win":
			s.Window = in.date()
		case "days":
			in.odd = in.odd || s.Days != nil
			in.items(func() { s.Days = append(s.Days, in.dayLog()) })
			in.odd = in.odd || s.Days == nil // an empty list is not nil
		case "skin":
			in.skin(&s.Skin)
		case "reach":
			s.Reach = in.bool()
		case "greet":
			s.Greeted = in.bool()
		case "asked":
			s.Asked = rules.Question(in.text())
		case "last":
			s.Last = rules.Code(in.text())
		case "said":
			s.Told = in.date()
		case "back":
			s.Back = in.date()
		default:
			in.stateRest(s)
		}
	}
}

func (in *jsonIn) stateRest(s *rules.State) {
	switch string(in.key) {
	case "wa":
		s.WasAway = in.bool()
	case "wp":
		s.WasPaused = in.bool()
	case "ns":
		s.NotSent = in.bool()
	case "first":
		s.First = in.bool()
	case "hold":
		in.into(&s.Hold)
	case "pause":
		in.into(&s.Pause)
	case "held":
		in.into(&s.Held)
	case "away":
		in.into(&s.Away)
	case "backs":
		in.into(&s.Backs)
	case "read":
		in.into(&s.Read)
	case "fs":
		in.odd = in.odd || s.Firsts != nil
		in.items(func() { s.Firsts = append(s.Firsts, in.int()) })
		in.odd = in.odd || s.Firsts == nil
	case "rises":
		s.Rises = in.int()
	case "stepask":
		s.StepAsk = in.date()
	case "over":
		s.Over = in.bool()
	case "eased":
		s.Eased = in.bool()
	case "cap":
		s.Cap = in.int()
	case "quiet":
		s.Quiet = in.int()
	case "blank":
		s.Blank = in.int()
	case "mute":
		s.Mute = in.int()
	case "gap":
		s.Gap = in.int()
	default: // seldom there
		in.odd = true
	}
}

func (in *jsonIn) dayLog() (d rules.DayLog) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "d":
			d.Date = in.date()
		case "due":
			d.Due = in.bool()
		case "h":
			d.Halves = in.int()
		case "s":
			d.Score = in.intAt()
		case "a":
			d.Any = in.bool()
		default:
			in.odd = true
		}
	}
	return d
}

func (in *jsonIn) skin(s *rules.Skin) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "out":
			s.Out = in.bool()
		case "wait":
			s.Wait = in.int()
		case "fresh":
			s.Fresh = in.bool()
		case "stop":
			s.Stop = in.bool()
		case "freed":
			s.Freed = in.bool()
		default:
			in.odd = true
		}
	}
}

func (in *jsonIn) intAt() *int {
	n := in.int()
	return &n
}

func (in *jsonIn) floatAt() *float64 {
	start := in.i
	in.number()
	if in.odd {
		return nil
	}
	n, err := strconv.ParseFloat(string(in.b[start:in.i]), 64)
	in.odd = in.odd || err != nil
	return &n
}

// into reads a value the way of encoding/json.
func (in *jsonIn) into(v any) {
	raw := in.raw()
	in.odd = in.odd || json.Unmarshal(raw, v) != nil
}
