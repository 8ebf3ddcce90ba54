package daemon

import (
	"context"
	"errors"
	"net/http"
	"net/url"

	"stepgate/daemon/caseload"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/daemon/report"
	"stepgate/templates"
)

// PatientReport gathers the record of one patient for the review visit, in the
// words of a language; "" is English. Where no service runs, it is of the time
// the journal was last written. It gives control.ErrNotFound for a patient the
// clinic does not have.
func (l *Looker) PatientReport(ctx context.Context, id, lang string) (p *templates.PatientReport, err error) {
	path := "/v1/report/" + url.PathEscape(id) + "?" + url.Values{"lang": {lang}}.Encode()
	if err = l.ask(ctx, path, &p); !errors.Is(err, control.ErrNone) {
		return p, err
	}
	err = l.readThen(func(tx *journal.Tx, v caseload.View) error { p, err = report.Patient(tx, v, id, lang); return err })
	if err == nil && p == nil {
		err = control.ErrNotFound
	}
	return p, err
}

// ClinicReport gathers the caseload board and the outcomes.
func (l *Looker) ClinicReport(ctx context.Context) (c *report.Clinic, err error) {
	if err = l.ask(ctx, "/v1/report", &c); !errors.Is(err, control.ErrNone) {
		return c, err
	}
	err = l.readThen(func(tx *journal.Tx, v caseload.View) error { c, err = report.OfClinic(tx, v); return err })
	return c, err
}

// patientReport answers [Looker.PatientReport].
func (x *serving) patientReport(r *http.Request) (any, error) {
	var p *templates.PatientReport
	err := x.j.View(func(tx *journal.Tx) (err error) {
		p, err = report.Patient(tx, x.view(), r.PathValue("id"), r.URL.Query().Get("lang"))
		return err
	})
	if err != nil || p == nil {
		return nil, err
	}
	return p, nil
}

// clinicReport answers [Looker.ClinicReport].
func (x *serving) clinicReport(*http.Request) (any, error) { return report.AtOnce(x.j.View, x.view()) }
