package journal

import (
	"encoding/json"
	"fmt"

	"stepgate/rules"
)

// readPerson reads a person; state and told stay the transaction's.
func readPerson(id string, v []byte) (*person, error) {
	p, in := &person{}, jsonIn{b: v}
	for in.open(); in.field(); {
		switch string(in.key) {
		case "state":
			p.State = in.raw()
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
			p.Told = in.raw()
		case "last":
			p.Last = in.seq()
		default:
			in.odd = true
		}
	}
	if in.done() {
		return p, nil
	}
	p = &person{}
	if err := json.Unmarshal(v, p); err != nil {
		return nil, fmt.Errorf("%w: read person %q: %w", ErrDamaged, id, err)
	}
	return p, nil
}

// readRev reads a state's revision.
func readRev(v []byte) (int, error) {
	var s struct {
		Rev int `json:"rev"`
	}
	in := jsonIn{b: v}
	for in.open(); in.field(); {
		if string(in.key) == "rev" {
			s.Rev = in.int()
		} else {
			in.other()
		}
	}
	if in.done() {
		return s.Rev, nil
	}
	s.Rev = 0
	if err := json.Unmarshal(v, &s); err != nil {
		return 0, fmt.Errorf("%w: read state: %w", ErrDamaged, err)
	}
	return s.Rev, nil
}

// readProgram reads which program a state is of; no state is of none.
func readProgram(v []byte) (string, error) {
	var s struct {
		Program string `json:"prog"`
	}
	in := jsonIn{b: v}
	for in.open(); in.field(); {
		if string(in.key) == "prog" {
			s.Program = in.text()
		} else {
			in.other()
		}
	}
	if in.done() || len(v) == 0 {
		return s.Program, nil
	}
	s.Program = ""
	if err := json.Unmarshal(v, &s); err != nil {
		return "", fmt.Errorf("%w: read state: %w", ErrDamaged, err)
	}
	return s.Program, nil
}

// readCode reads a reason's code, if it has one.
func readCode(v []byte) rules.Code {
	var r struct {
		Code rules.Code `json:"code"`
	}
	in := jsonIn{b: v}
	for in.open(); in.field(); {
		if string(in.key) == "code" {
			r.Code = rules.Code(in.text())
		} else {
			in.other()
		}
	}
	if in.done() {
		return r.Code
	}
	r.Code = ""
	_ = json.Unmarshal(v, &r) // it was read as a whole before
	return r.Code
}

// scan reads a decision.
func (d *decided) scan(v []byte) bool {
	in := jsonIn{b: v}
	for in.open(); in.field(); {
		switch string(in.key) {
		case "date":
			d.Date = in.date()
		case "day":
			d.Day = in.int()
		case "program_day":
			d.P = in.int()
		case "wear_day":
			d.W = in.int()
		case "step":
			d.Step = in.int()
		case "steps":
			d.Steps = in.int()
		case "why":
			d.Why = in.raw()
		case "wear_why":
			d.WearWhy = in.raw()
		case "wear_minutes":
			d.Wear = in.int()
		case "rest":
			d.Rest = in.bool()
		case "eased":
			d.Eased = in.bool()
		case "send":
			d.Send = in.bool()
		default:
			d.scanMore(&in)
		}
	}
	return in.done()
}

func (d *decided) scanMore(in *jsonIn) {
	switch string(in.key) {
	case "state":
		d.State = rules.InState(in.text())
	case "ask":
		d.Ask = rules.Question(in.text())
	case "doses":
		in.odd = in.odd || d.Doses != nil // told twice
		d.Doses = []dose{}
		in.items(func() {
			d.Doses = append(d.Doses, dose{})
			in.open()
			for in.field() {
				if string(in.key) == "exercise" {
					d.Doses[len(d.Doses)-1].Exercise = in.text()
				} else {
					in.other()
				}
			}
		})
	default:
		in.other()
	}
}

// readHeard reads what reports a state holds.
func readHeard(v []byte) (*heard, error) {
	h, in := &heard{}, jsonIn{b: v}
	for in.open(); in.field(); {
		switch string(in.key) {
		case "dec":
			h.Decided = in.date()
		case "heard":
			in.reports(&h.Heard)
		default:
			in.other()
		}
	}
	if in.done() {
		return h, nil
	}
	h = &heard{}
	if err := json.Unmarshal(v, h); err != nil {
		return nil, fmt.Errorf("%w: read state: %w", ErrDamaged, err)
	}
	return h, nil
}

func (in *jsonIn) reports(h *heardReports) {
	for in.open(); in.field(); {
		switch string(in.key) {
		case "any":
			h.Any = in.bool()
		case "score":
			h.Score = in.intAt()
		case "half":
			h.Halves = in.int()
		case "none":
			h.None = in.bool()
		case "skin":
			h.Skin = in.bool()
		case "clean":
			h.Clean = in.bool()
		case "wear":
			h.Wear = in.floatAt()
		case "first":
			h.First = in.intAt()
		case "skin_ok":
			h.SkinOK = in.bool()
		case "flag":
			h.Flag = in.bool()
		default:
			in.other()
		}
	}
}
