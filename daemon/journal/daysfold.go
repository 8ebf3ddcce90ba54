package journal

import (
	"encoding/json"
	"fmt"

	"stepgate/rules"
)

// What the events say of days. The keys are those that package rules writes;
// they are read here by themselves, so that later rules replay the same.

// decided is a decision as far as a day and a caseload want it.
type decided struct {
	Date    rules.Date      `json:"date"`
	Day     int             `json:"day"`
	P       int             `json:"program_day"`
	W       int             `json:"wear_day"`
	Step    int             `json:"step"`
	Steps   int             `json:"steps"`
	State   rules.InState   `json:"state"`
	Why     json.RawMessage `json:"why"`
	WearWhy json.RawMessage `json:"wear_why"`
	Wear    int             `json:"wear_minutes"`
	Rest    bool            `json:"rest"`
	Eased   bool            `json:"eased"`
	Send    bool            `json:"send"`
	Ask     rules.Question  `json:"ask"`
	Doses   []dose          `json:"doses"`
}

type dose struct {
	Exercise string `json:"exercise"`
}

func parseDecision(v json.RawMessage) (*decided, error) {
	dec := &decided{}
	if dec.scan(v) {
		return dec, nil
	}
	dec = &decided{}
	if err := json.Unmarshal(v, dec); err != nil {
		return nil, fmt.Errorf("%w: read decision: %w", ErrDamaged, err)
	}
	return dec, nil
}

// decidedBy makes the decision that came with a message final.
func (f *fold) decidedBy(r *row, d *Letter, state json.RawMessage) error {
	if len(d.Decision) == 0 {
		return nil
	}
	dec, err := parseDecision(d.Decision)
	if err != nil {
		return err
	}
	r.Day = dec.Date
	return f.settles(dec, state)
}

// told is Told with the reasons left as bytes.
type told struct {
	Date    rules.Date      `json:"date"`
	Day     int             `json:"day"`
	Step    int             `json:"step,omitempty"`
	Steps   int             `json:"steps,omitempty"`
	Why     json.RawMessage `json:"why"`
	WearWhy json.RawMessage `json:"wear_why"`
}

// settles takes in a decision that is final from now on, with the state that
// comes with it.
func (f *fold) settles(dec *decided, state json.RawMessage) error {
	if f.id == "" {
		return nil
	}
	program, err := readProgram(state)
	if err != nil {
		return err
	}
	v, err := f.c.toldJSON(&told{dec.Date, dec.Day, dec.Step, dec.Steps, orNull(dec.Why), orNull(dec.WearWhy)})
	if err != nil {
		return fmt.Errorf("write decision: %w", err)
	}
	f.now.Told, f.change = v, true
	return f.day(dec.Date, true, func(d *Day) {
		d.Program, d.D, d.P, d.W, d.Step, d.Steps = program, dec.Day, dec.P, dec.W, dec.Step, dec.Steps
		d.State, d.Why, d.WearWhy = dec.State, readCode(dec.Why), readCode(dec.WearWhy)
		d.Wear, d.Rest, d.Eased, d.Sent, d.Ask = dec.Wear, dec.Rest, dec.Eased, dec.Send, dec.Ask
		d.Due = nil
		for _, dose := range dec.Doses {
			d.Due = append(d.Due, dose.Exercise)
		}
	})
}

func orNull(v json.RawMessage) json.RawMessage {
	if len(v) == 0 {
		return json.RawMessage("null")
	}
	return v
}

// said is a reading as far as a day wants it.
type said struct {
	Done      rules.Done        `json:"done"`
	Pain      *int              `json:"pain"`
	FirstStep *int              `json:"first_step"`
	Skin      bool              `json:"skin"`
	SkinOK    bool              `json:"skin_ok"`
	Wear      *float64          `json:"wear_hours"`
	Call      bool              `json:"call"`
	Flags     []json.RawMessage `json:"red_flags"`
}

// heard is what the rules took in since the last settlement, as the state that
// came with a text has it.
type heard struct {
	Decided rules.Date   `json:"dec"`
	Heard   heardReports `json:"heard"`
}

// heardReports are the fields of rules.Heard, by names that stay.
type heardReports struct {
	Any    bool     `json:"any"`
	Score  *int     `json:"score"`
	Halves int      `json:"half"`
	None   bool     `json:"none"`
	Skin   bool     `json:"skin"`
	Clean  bool     `json:"clean"`
	Wear   *float64 `json:"wear"`
	First  *int     `json:"first"`
	SkinOK bool     `json:"skin_ok"`
	Flag   bool     `json:"flag"`
}

// reported takes what a text left behind into the day it belongs to: what the
// rules took in, not what the text was read as, since not every text counts.
func (f *fold) reported(on rules.Date, r *said) error {
	if f.id == "" || len(f.body.State) == 0 {
		return nil
	}
	st, err := readHeard(f.body.State)
	if err != nil {
		return err
	}
	h := &st.Heard
	if st.Decided != on {
		return nil
	}
	counts := r.Done != "" || r.Pain != nil || r.FirstStep != nil || r.Skin || r.Wear != nil || len(r.Flags) > 0 || r.SkinOK && h.SkinOK
	return f.day(on, false, func(d *Day) {
		d.Call = d.Call || r.Call
		if !h.Any && !h.Flag {
			return
		}
		if counts {
			d.Reports++
		}
		if r.Pain != nil && h.Score != nil {
			d.Struck = false
		}
		d.Score, d.FirstStep, d.Worn = scoreOf(h.Score), scoreOf(h.First), -1
		if h.Wear != nil {
			d.Worn = int(*h.Wear*60 + 0.5)
		}
		d.Halves, d.None, d.Skin, d.SkinOK, d.Flag = h.Halves, h.None, h.Skin, h.SkinOK, h.Flag
	})
}

func scoreOf(n *int) int {
	if n == nil {
		return -1
	}
	return *n
}

// entryBody is a clinician's entry as far as a day wants it.
type entryBody struct {
	Kind   rules.EntryKind `json:"Kind"`
	Report rules.Date      `json:"Report"`
	Score  *int            `json:"Score"`
}

// corrects takes a clinician's word on a report into its day.
func (f *fold) corrects(n *entryBody) error {
	if n == nil || n.Kind != rules.EntryStrike && n.Kind != rules.EntryReplace {
		return nil
	}
	return f.day(n.Report, false, func(d *Day) {
		if d.Score < 0 && n.Score == nil {
			return // there was none to strike
		}
		d.Struck, d.Score = true, scoreOf(n.Score)
	})
}

// fate notes what became of the message of a day. One that is tried again is on
// its way again.
func (f *fold) fate(r *row, what string) error {
	if r.Day == 0 {
		return nil
	}
	if what == string(retry) {
		what = ""
	}
	return f.day(r.Day, false, func(d *Day) { d.Fate = what })
}
