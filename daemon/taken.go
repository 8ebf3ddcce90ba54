package daemon

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"time"

	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// TakenUp is how far a running service has taken up an edit of a patient.
type TakenUp struct {
	InForce bool `json:"in_force"` // the patient, with the entries asked about, is in the files in force
	Counted bool `json:"counted"`  // the entries have been read; one of a later date is not yet
	Refused bool `json:"refused"`  // the files as they stand are not in force
}

// takenUp answers for one patient and the ids of entries.
func (x *serving) takenUp(r *http.Request) (any, error) {
	id, entries := r.PathValue("id"), r.URL.Query()["entry"]
	out := TakenUp{Refused: len(x.svc.refused()) > 0}
	e := x.svc.roster.Load().enrolled(id)
	if e == nil {
		return out, nil
	}
	out.InForce = !slices.ContainsFunc(entries, func(want string) bool {
		return !slices.ContainsFunc(e.Entries, func(n rules.Entry) bool { return n.ID() == want })
	})
	err := x.j.View(func(tx *journal.Tx) error {
		p, err := tx.Person(id)
		out.Counted = p != nil && !slices.ContainsFunc(entries, func(want string) bool { return !slices.Contains(p.State.Read, want) })
		return err
	})
	return out, err
}

// knownIDs lists the patients the journal knows, those gone from the files too.
func knownIDs(tx *journal.Tx) (any, error) {
	ids := []string{}
	err := tx.People(func(id string, _ *journal.Person) error { ids = append(ids, id); return nil })
	return ids, err
}

// TakenUp waits until the running service has a patient's new entries in force,
// or refuses the files, or so long. It is control.ErrNone where none runs.
func (l *Looker) TakenUp(ctx context.Context, id string, entries []rules.Entry, wait time.Duration) (t TakenUp, err error) {
	q := url.Values{}
	for _, n := range entries {
		q.Add("entry", n.ID())
	}
	ctx, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	every := time.NewTicker(100 * time.Millisecond)
	defer every.Stop()
	for {
		var now TakenUp
		if err := l.ask(ctx, "/v1/taken/"+url.PathEscape(id)+"?"+q.Encode(), &now); err != nil {
			if ctx.Err() != nil {
				return t, nil // what it said last
			}
			return t, err
		}
		if t = now; t.InForce || t.Refused {
			return t, nil
		}
		select {
		case <-ctx.Done():
			return t, nil
		case <-every.C:
		}
	}
}

// Known lists the ids the record of real time knows, in the files or not.
func (l *Looker) Known(ctx context.Context) (ids []string, err error) {
	at := l.places[0]
	if err = control.Get(ctx, at.data, "/v1/known", &ids); !errors.Is(err, control.ErrNone) {
		return ids, err
	}
	path := filepath.Join(at.data, "journal.db")
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		return nil, err
	}
	defer func() { _ = j.Close() }()
	err = j.View(func(tx *journal.Tx) error {
		list, err := knownIDs(tx)
		ids, _ = list.([]string)
		return err
	})
	return ids, err
}
