package daemon

import (
	"context"
	"errors"
	"io"
	"net/http"

	"stepgate/config"
	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
	"stepgate/daemon/export"
	"stepgate/daemon/journal"
)

// ExportSummary tells whom an export would hold and whom it would leave out.
func (l *Looker) ExportSummary(ctx context.Context, o export.Options) (sum export.Summary, err error) {
	if err = l.ask(ctx, "/v1/export/summary?"+o.Values().Encode(), &sum); !errors.Is(err, control.ErrNone) {
		return sum, err
	}
	err = l.exportHere(o, func(s export.Source) error { sum, err = export.Summarize(s, o); return err })
	return sum, err
}

// Export writes an export to w. On an error w may hold a part of it.
func (l *Looker) Export(ctx context.Context, o export.Options, w io.Writer) error {
	path := "/v1/export?" + o.Values().Encode()
	for _, p := range l.places {
		if err := control.Copy(ctx, p.data, path, w); !errors.Is(err, control.ErrNone) {
			return err
		}
	}
	return l.exportHere(o, func(s export.Source) error { return export.Write(w, s, o) })
}

// exportHere reads the journal where no service runs: in one transaction, as
// nobody waits for it.
func (l *Looker) exportHere(o export.Options, fn func(export.Source) error) error {
	return l.read(func(tx *journal.Tx, v caseload.View) error {
		s := export.Source{Clinic: v.Clinic, Now: v.Now, View: func(fn func(*journal.Tx) error) error { return fn(tx) }}
		return fromFolder(s, o, func() (*config.Clinic, config.Problems) { return config.Load(l.dir, l.getenv) }, fn)
	})
}

// fromFolder adds the clinic as its files stand now. Where they can't be read,
// who agreed to what is not known, and nothing leaves.
func fromFolder(s export.Source, o export.Options, load func() (*config.Clinic, config.Problems), fn func(export.Source) error) error {
	if o.Form == export.FHIR {
		var problems config.Problems
		if s.Folder, problems = load(); s.Folder == nil {
			return problems.Errors()
		}
	}
	return fn(s)
}

// exporting reads the service's journal, a transaction at a time.
func (x *serving) exporting(r *http.Request, fn func(export.Source, export.Options) error) error {
	o, err := export.ParseOptions(r.URL.Query())
	if err != nil {
		return control.Told(err)
	}
	s := export.Source{Clinic: x.svc.Clinic(), Now: x.svc.o.Clock.Now(), View: x.j.View}
	err = fromFolder(s, o, x.load, func(s export.Source) error { return fn(s, o) })
	if problems := (config.Problems{}); errors.As(err, &problems) {
		return control.Told(err)
	}
	return err
}

// exportSummary answers [Looker.ExportSummary].
func (x *serving) exportSummary(r *http.Request) (any, error) {
	var sum export.Summary
	err := x.exporting(r, func(s export.Source, o export.Options) (err error) { sum, err = export.Summarize(s, o); return err })
	return sum, err
}

// export answers [Looker.Export].
func (x *serving) export(r *http.Request) (v any, err error) {
	err = x.exporting(r, func(s export.Source, o export.Options) error {
		v = control.Stream(func(w io.Writer) error { return export.Write(w, s, o) })
		return nil
	})
	return v, err
}
