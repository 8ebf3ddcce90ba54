package export

import (
	"errors"
	"fmt"
	"net/url"

	"stepgate/rules"
)

// Form is what is written.
type Form string

// The forms.
const (
	CSV  Form = "csv"
	FHIR Form = "fhir"
)

// Options narrow an export down.
type Options struct {
	Form     Form
	ID       string     // one patient; empty: all
	From, To rules.Date // of the days and messages, both included; 0: no bound
	Texts    bool       // FHIR: the words of the messages too, where the consent covers them
}

// Check finds what can't be asked for.
func (o Options) Check() error {
	switch {
	case o.Form != CSV && o.Form != FHIR:
		return errors.New("say which form: --csv or --fhir")
	case o.Texts && o.Form == CSV:
		return errors.New("--texts goes with --fhir: the table holds no texts")
	case o.To != 0 && o.From > o.To:
		return fmt.Errorf("--from %s is after --to %s", o.From, o.To)
	}
	return nil
}

// within tells whether a date is asked for.
func (o Options) within(d rules.Date) bool { return d >= o.From && (o.To == 0 || d <= o.To) }

// Values writes the options as a query.
func (o Options) Values() url.Values {
	v := url.Values{"form": {string(o.Form)}, "id": {o.ID}}
	if o.From != 0 {
		v.Set("from", o.From.String())
	}
	if o.To != 0 {
		v.Set("to", o.To.String())
	}
	if o.Texts {
		v.Set("texts", "yes")
	}
	return v
}

// ParseOptions reads what [Options.Values] writes.
func ParseOptions(v url.Values) (o Options, err error) {
	o = Options{Form: Form(v.Get("form")), ID: v.Get("id"), Texts: v.Get("texts") == "yes"}
	if o.From, err = dateIn(v, "from"); err != nil {
		return o, err
	}
	if o.To, err = dateIn(v, "to"); err != nil {
		return o, err
	}
	return o, o.Check()
}

func dateIn(v url.Values, key string) (rules.Date, error) {
	if s := v.Get(key); s != "" {
		return rules.ParseDate(s)
	}
	return 0, nil
}
