package daemon

import (
	"encoding/json"
	"fmt"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Redecided is what came of deciding a journal's dates again.
type Redecided struct {
	Same    int `json:"same"`    // decided as they were
	Other   int `json:"other"`   // by another version of the rules, which is not asked
	Unknown int `json:"unknown"` // the files they were decided by are kept no more
	// Differ are the dates that this version, with the same files, state and
	// reports, decides otherwise: by id and date.
	Differ []string `json:"differ"`
}

// redecide decides every date again that this version of the rules decided, and
// compares. It writes nothing, and what it finds changes nothing: the record is
// what was decided. made says that it was on a made-up calendar.
func redecide(tx *journal.Tx, dir string, made bool) (*Redecided, error) {
	x := &redeciding{tx: tx, dir: dir, made: made, out: &Redecided{Differ: []string{}},
		states: map[string]rules.State{}, optedOut: map[string]bool{}, next: map[string]journal.Event{}}
	return x.out, tx.All(x.event)
}

type redeciding struct {
	tx       *journal.Tx
	dir      string
	made     bool
	out      *Redecided
	r        *roster                  // of the files in force; nil: not kept
	states   map[string]rules.State   // as the events so far leave them
	optedOut map[string]bool          // by contact hash
	next     map[string]journal.Event // intended and not handed over, by key
}

// event takes one event into account, and decides again where it holds a
// decision.
func (x *redeciding) event(e journal.Event) error {
	switch {
	case e.Kind == journal.Accepted:
		x.r = x.files(e.Files)
	case e.Kind == journal.Opted:
		x.optedOut[string(e.Contact)] = e.OptOut
	case e.Decision != nil && e.State != nil:
		x.compare(e, *e.Decision, *e.State)
	case e.Out != nil && e.Out.Decision != nil && e.Out.Next != nil:
		x.compare(e, *e.Out.Decision, *e.Out.Next)
		x.next[e.Out.Key] = e
	case e.Kind == journal.HandedOut:
		if intent, ok := x.next[e.Key]; ok {
			x.states[e.ID] = *intent.Out.Next
			delete(x.next, e.Key)
		}
	}
	if e.State != nil {
		x.states[e.ID] = *e.State
	}
	return nil
}

// files reads the clinic from kept files, or gives nil.
func (x *redeciding) files(refs []journal.FileRef) *roster {
	var files []config.File
	for _, ref := range refs {
		data, err := x.tx.File(ref.Hash)
		if err != nil {
			return nil
		}
		files = append(files, config.File{Path: ref.Path, Hash: ref.Hash, Data: data})
	}
	c, _ := config.LoadFiles(x.dir, files, nil)
	if c == nil {
		return nil
	}
	if x.made {
		c = quickClinic(c)
	}
	return &roster{clinic: c}
}

func (x *redeciding) compare(ev journal.Event, dec rules.Decision, next rules.State) {
	if ev.Engine != rules.Engine {
		x.out.Other++
		return
	}
	var e *config.Enrollment
	if x.r != nil {
		e = x.r.enrolled(ev.ID)
	}
	st, ok := x.states[ev.ID]
	if e == nil || !ok {
		x.out.Unknown++
		return
	}
	facts := rules.Facts{Unheard: dec.Why.Code == rules.Unheard || dec.WearWhy.Code == rules.Unheard}
	for _, contact := range e.Contacts() {
		facts.OptedOut = facts.OptedOut || x.optedOut[string(x.tx.ContactHash(contact))]
	}
	state, decided := rules.Decide(x.r.program(e), &e.Enrollment, st, dec.Date, facts)
	if sameJSON(decided, dec) && sameJSON(state, next) {
		x.out.Same++
		return
	}
	x.out.Differ = append(x.out.Differ, fmt.Sprintf("%s %s", ev.ID, dec.Date))
}

// sameJSON compares what the journal would keep.
func sameJSON(a, b any) bool {
	x, err1 := json.Marshal(a)
	y, err2 := json.Marshal(b)
	return err1 == nil && err2 == nil && string(x) == string(y)
}
