package daemon

import (
	"context"
	"errors"
	"net/http"
	"net/url"

	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
)

// Board shows the caseload as a query asks for it. Where no service runs, it
// is of the time the journal was last written, and running is false.
func (l *Looker) Board(ctx context.Context, q caseload.Query) (b *caseload.Board, running bool, err error) {
	if err := q.Check(); err != nil {
		return nil, false, err
	}
	if err = l.ask(ctx, "/v1/caseload?"+q.Values().Encode(), &b); !errors.Is(err, control.ErrNone) {
		return b, true, err
	}
	err = l.readThen(func(tx *journal.Tx, v caseload.View) error { b, err = v.Board(tx, q); return err })
	return b, false, err
}

// Timeline tells what happened to a patient from one date to another, 0 for no
// bound; it knows those too who are no longer in the files. With last dates
// asked for, from is left out of account. It gives control.ErrNotFound for an
// id under which nobody was ever enrolled.
func (l *Looker) Timeline(ctx context.Context, id string, span caseload.Span) (t *caseload.Timeline, running bool, err error) {
	if err = l.ask(ctx, "/v1/timeline/"+url.PathEscape(id)+"?"+span.Values().Encode(), &t); !errors.Is(err, control.ErrNone) {
		return t, true, err
	}
	err = l.readThen(func(tx *journal.Tx, v caseload.View) error { t, err = v.Timeline(tx, id, span); return err })
	if err == nil && t == nil {
		err = control.ErrNotFound
	}
	return t, false, err
}

// readThen reads the journal as of when it was last written: what stood then
// is known, and what has become of it since is not.
func (l *Looker) readThen(fn func(*journal.Tx, caseload.View) error) error {
	return l.read(func(tx *journal.Tx, v caseload.View) error {
		v.Now = tx.LastAt()
		return fn(tx, v)
	})
}

func (x *serving) view() caseload.View {
	return caseload.View{Clinic: x.svc.Clinic(), Words: x.svc.o.Words, Now: x.svc.o.Clock.Now(), Quick: x.svc.o.Made}
}

// board answers [Looker.Board].
func (x *serving) board(r *http.Request) (v any, err error) {
	q, err := caseload.ParseQuery(r.URL.Query())
	if err != nil {
		return nil, control.Told(err)
	}
	err = x.j.View(func(tx *journal.Tx) error { v, err = x.view().Board(tx, q); return err })
	return v, err
}

// timeline answers [Looker.Timeline].
func (x *serving) timeline(r *http.Request) (any, error) {
	span, err := caseload.ParseSpan(r.URL.Query())
	if err != nil {
		return nil, control.Told(err)
	}
	var t *caseload.Timeline
	err = x.j.View(func(tx *journal.Tx) error { t, err = x.view().Timeline(tx, r.PathValue("id"), span); return err })
	if err != nil || t == nil {
		return nil, err
	}
	return t, nil
}
