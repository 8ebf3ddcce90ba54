package daemon

import (
	"bytes"
	"maps"
	"runtime"
	"sync"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// settlement is a decision with the event that files it.
type settlement struct {
	e      *config.Enrollment
	person *journal.Person
	was    rules.State // with the entries read
	facts  rules.Facts
	next   rules.State
	dec    rules.Decision
	ev     journal.Event

	// Of one that was worked out ahead of its commit:
	row      []byte // of the person, as they were
	contacts hashes
	at       time.Time
}

// settlement decides a date and renders its message.
func (w *work) settlement(e *config.Enrollment, p *journal.Person, st rules.State, d rules.Date, facts rules.Facts) *settlement {
	t := &settlement{e: e, person: p, was: st, facts: facts}
	t.next, t.dec = rules.Decide(w.r.program(e), &e.Enrollment, st, d, facts)
	due := localInstant(d+1, e.Time, e.Zone)
	t.ev = journal.Event{Kind: journal.Decided, ID: e.ID, At: w.now, Decision: &t.dec, State: &t.next, Due: &due}
	if t.dec.Send {
		to := w.address(e, p)
		about := patient(e, to)
		about.Links = w.dayLinks(e, to, d, t.dec.Ask == rules.AskFirstStep)
		out := w.out(to, w.number(e, p), w.s.o.Words.Daily(words(w.r.clinic), about, w.r.program(e), t.dec))
		out.Key, out.Kind, out.Rank = dailyKey(e.ID, d), "daily", rankOf(st, t.dec)
		out.Until = localInstant(d, w.r.clinic.Texting.To, e.Zone)
		out.Rev, out.Decision, out.Next = st.Rev, &t.dec, &t.next
		t.ev = journal.Event{Kind: journal.Intended, ID: e.ID, At: w.now, Due: &due, Out: &out}
	}
	return t
}

// aheadFor is how old a decision that was worked out ahead may be.
const aheadFor = 5 * time.Second

// stands tells whether a decision that was worked out ahead of this commit is
// the one it would come to.
func (w *work) stands(t *settlement) bool {
	age := w.now.Sub(t.at)
	return age >= 0 && age < aheadFor && bytes.Equal(t.row, w.tx.PersonRow(t.e.ID)) &&
		w.anyOut(t.contacts) == t.facts.OptedOut && !w.inOutbox(t.e)
}

// aheadLot is what was worked out ahead of a commit.
type aheadLot struct {
	roster  *roster
	settled map[string]*settlement // by id; nil for whom there is more to it
	err     error
}

// workAhead decides for the next of those due, and renders their messages,
// before the commit and on every processor, so that the one writer of the
// journal is not held up by it. It leaves out those of later, and those of skip,
// who are being committed meanwhile. What it returns holds the lot once it is
// ready.
func (s *Service) workAhead(later map[string]bool, skip map[string]*settlement, size int) <-chan aheadLot {
	done, out := make(chan aheadLot, 1), maps.Clone(later)
	go func() {
		lot := aheadLot{roster: s.roster.Load()}
		lot.settled, lot.err = s.settleAhead(lot.roster, func(id string) bool {
			_, skipped := skip[id]
			return skipped || out[id]
		}, size, len(out)+len(skip))
		done <- lot
	}()
	return done
}

// settleAhead works out size of those due, but for those that are out, of whom
// there are so many at most.
func (s *Service) settleAhead(r *roster, out func(id string) bool, size, outs int) (map[string]*settlement, error) {
	now := s.o.Clock.Now()
	var ids []string
	err := s.o.Journal.View(func(tx *journal.Tx) error {
		rows, err := tx.DueBy(now, size+outs)
		for _, row := range rows {
			if !out(row.ID) && len(ids) < size {
				ids = append(ids, row.ID)
			}
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	all := make([]*settlement, len(ids))
	var working sync.WaitGroup
	share := (len(ids) + runtime.GOMAXPROCS(0) - 1) / runtime.GOMAXPROCS(0)
	for from := 0; from < len(ids); from += share {
		to := min(from+share, len(ids))
		working.Go(func() {
			_ = s.o.Journal.View(func(tx *journal.Tx) error { // closed: the commit tells
				w := &work{s: s, tx: tx, r: r, now: now}
				for i := from; i < to; i++ {
					all[i] = w.ahead(ids[i])
				}
				return nil
			})
		})
	}
	working.Wait()
	settled := make(map[string]*settlement, len(ids))
	for i, id := range ids {
		settled[id] = all[i]
	}
	return settled, nil
}

// ahead is the decision for one patient, or nil where the commit has more to
// do, such as to read an entry, or is to find out what fails.
func (w *work) ahead(id string) (t *settlement) {
	defer func() {
		if recover() != nil {
			t = nil // it panics again in its commit, which tells who it is
		}
	}()
	e, row := w.r.enrolled(id), bytes.Clone(w.tx.PersonRow(id))
	person, err := w.tx.Person(id)
	if err != nil || person == nil || e == nil {
		return nil
	}
	d := today(w.now, e)
	if len(rules.Pending(&e.Enrollment, person.State, d)) > 0 || !w.mayDecide(e, person.State, d) || !w.heard(e, person, w.asked(e, d)) {
		return nil
	}
	contacts := w.hashes(e)
	t = w.settlement(e, person, person.State, d, rules.Facts{OptedOut: w.anyOut(contacts)})
	if t.ev.Encode() != nil {
		return nil
	}
	t.row, t.contacts, t.at = row, contacts, w.now
	return t
}
