package daemon

import (
	"errors"
	"fmt"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
)

// RefusedError says why files that read well were refused all the same, in
// view of what the journal knows.
type RefusedError struct{ config.Problem }

func (e RefusedError) Error() string { return e.String() }

// mayAccept tells whether the journal lets a clinic come into force, and whom
// it would leave out. On a made-up calendar approval is not asked for.
func mayAccept(tx *journal.Tx, r *roster, now time.Time, made bool) (gone, strays []string, err error) {
	if !made {
		if err := approvalsHold(tx, r, now); err != nil {
			return nil, nil, err
		}
	}
	return goneFrom(tx, r)
}

// goneFrom lists the patients the journal knows and the files do not. A
// reload that would drop more than a tenth of them, and at least three, is
// refused: it is more likely a lost file than a decision. Strays are apart: they
// were enrolled ahead of files that never came into force, because the service
// was stopped between (see [Service.enrollAhead]), so nobody loses them.
func goneFrom(tx *journal.Tx, r *roster) (gone, strays []string, err error) {
	_, accepted, err := tx.LastAccepted()
	if err != nil {
		return nil, nil, err
	}
	known := 0
	err = tx.People(func(id string, p *journal.Person) error {
		if p.Gone {
			return nil
		}
		_, in := r.clinic.Enrollments.Find(id)
		if !in && p.Told == nil && p.Since.After(accepted) {
			strays = append(strays, id)
			return nil
		}
		known++
		if !in {
			gone = append(gone, id)
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	if len(gone) >= 3 && len(gone)*10 > known {
		return nil, nil, RefusedError{config.Problem{
			What: fmt.Sprintf("%d of %d patients are gone from the files", len(gone), known),
			Do:   "put them back, or discharge them first",
		}}
	}
	return gone, strays, nil
}

// approvalsHold refuses a program that is used by text or mail and was
// changed since it was approved: an approval belongs to the contents it was
// first accepted with.
func approvalsHold(tx *journal.Tx, r *roster, now time.Time) error {
	outside := map[string]bool{}
	for e := range r.clinic.Enrollments.All() {
		if e.Address.Channel != "spool" && !discharged(e, today(now, e)) {
			outside[e.Program] = true
		}
	}
	if len(outside) == 0 {
		return nil
	}
	first := map[string]string{} // approval: hash first accepted with it
	err := tx.Events("", func(e journal.Event) error {
		for _, f := range e.Files {
			if f.Approved != "" && first[f.Path+"|"+f.Approved] == "" {
				first[f.Path+"|"+f.Approved] = f.Hash
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for id := range outside {
		p := r.clinic.Programs[id]
		at := p.Where["program"]
		if was := first[at.File+"|"+approval(p)]; was != "" && was != p.Hash {
			return RefusedError{config.Problem{
				At:   at,
				What: fmt.Sprintf("program %s was changed since it was approved on %s", id, p.Approved.On),
				Do:   "look it through and put the new date and name under approved",
			}}
		}
	}
	return nil
}

// refusal is the problem for which a running service would refuse these files,
// or nil. It reads the journal of real time.
func refusal(tx *journal.Tx, c *config.Clinic, now time.Time) (*config.Problem, error) {
	_, _, err := mayAccept(tx, newRoster(c, now), now, false)
	var refused RefusedError
	if errors.As(err, &refused) {
		return &refused.Problem, nil
	}
	return nil, err
}
