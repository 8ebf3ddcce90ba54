package export

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// record is one patient's record on its way into the bundle.
type record struct {
	o      Options
	texts  bool // the words may leave, and are asked for
	id     idOf
	e      *config.Enrollment
	p      *journal.Person
	prog   *rules.Program
	clinic string
	system string        // of the clinic's enrollment ids
	today  rules.Date    // where the patient is
	state  rules.InState // today
	days   []journal.Day // all of them, whatever dates are asked for
	out    *bytes.Buffer
	more   *bool // an entry stands before the next one
	err    error // the first one
}

// bundle writes one Bundle, entry by entry: no clinic's record needs to lie in
// memory. A Bundle without entries has no list of them: FHIR knows no empty one.
func (s Source) bundle(w io.Writer, ids []string, o Options) error {
	head, err := json.Marshal(fhir.Bundle{Type: fhir.BundleTypeCollection, Timestamp: new(instant(s.Now))})
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	if _, err := w.Write(bytes.TrimSuffix(head, []byte("}"))); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	more := false
	err = s.stream(w, ids, func(buf *bytes.Buffer, tx *journal.Tx, id string, p *journal.Person) error {
		return s.patient(buf, &more, tx, id, p, o)
	})
	if err != nil {
		return err
	}
	end := "}\n"
	if more {
		end = "\n]}\n"
	}
	if _, err := io.WriteString(w, end); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}

// patient writes the resources of one patient.
func (s Source) patient(buf *bytes.Buffer, more *bool, tx *journal.Tx, id string, p *journal.Person, o Options) error {
	e := s.Clinic.Enrollments.Get(id)
	days, err := tx.Days(id, 0, 0)
	if err != nil {
		return err
	}
	for i := range days {
		if days[i].Program == "" {
			days[i].Program = e.Program // a day of before that was kept
		}
	}
	r := &record{o: o, texts: o.Texts && s.consent(id, p).Texts, id: idsOf(tx, id, p), e: e, p: p, prog: s.Clinic.Programs[e.Program], clinic: s.Clinic.Name,
		system: system(tx), days: days, out: buf, more: more}
	r.today = rules.DateOf(s.Now.In(e.Zone))
	r.state = p.State.Shown(r.today, tx.AnyOptedOut(e.Contacts()))
	r.person()
	r.plans()
	r.devices()
	if err := r.scores(tx); err != nil {
		return err
	}
	if err := r.messages(tx); err != nil {
		return err
	}
	return r.err
}

// put writes an entry. Bundle.entry.fullUrl is what references name.
func (r *record) put(id string, resource any) {
	raw, err := json.Marshal(resource)
	if err == nil {
		raw, err = json.Marshal(fhir.BundleEntry{FullUrl: new("urn:uuid:" + id), Resource: printable(raw)})
	}
	if err != nil {
		if r.err == nil {
			r.err = err
		}
		return
	}
	sep := ",\n"
	if !*r.more {
		sep, *r.more = ",\"entry\":[\n", true
	}
	r.out.WriteString(sep)
	r.out.Write(raw)
}

// printable takes out of JSON what a FHIR string may not hold: control
// characters other than tab and line ends (hl7.org/fhir/R4/datatypes.html#string).
func printable(raw []byte) []byte {
	for i := 0; i+1 < len(raw); i++ {
		if raw[i] != '\\' {
			continue
		}
		n := 0 // length of an escape that has to go
		switch {
		case raw[i+1] == 'b' || raw[i+1] == 'f':
			n = 2
		case bytes.HasPrefix(raw[i:], []byte(`\u000`)) || bytes.HasPrefix(raw[i:], []byte(`\u001`)):
			n = 6
		}
		if n > 0 {
			raw = slices.Replace(raw, i, i+n, []byte("\ufffd")...)
		}
		i++ // what is escaped is no escape
	}
	return raw
}

// words is a text, or nil for one without any: FHIR knows no empty string.
func words(s string) *string {
	if strings.TrimSpace(s) == "" {
		return nil
	}
	return &s
}

// ref refers to another resource of the bundle.
func (r *record) ref(kind, key string) fhir.Reference {
	return fhir.Reference{Reference: new("urn:uuid:" + r.id.of(kind, key)), Type: &kind}
}

// subject refers to the patient.
func (r *record) subject() fhir.Reference { return r.ref("Patient", "") }

// writer refers to who answers: the patient, or the carer who gets the texts.
func (r *record) writer() fhir.Reference {
	if r.e.Proxy != nil {
		return r.ref("RelatedPerson", "")
	}
	return r.subject()
}

// person writes who the record is about: the id, and whose patient. No name,
// no contact, no date of birth; of a carer only what they are to the patient.
func (r *record) person() {
	id := r.id.of("Patient", "")
	r.put(id, fhir.Patient{
		Id: &id, Active: new(!r.p.State.Discharged),
		Identifier: []fhir.Identifier{{System: &r.system, Value: &r.e.ID,
			Type: &fhir.CodeableConcept{Text: new("enrollment id")}}},
		ManagingOrganization: &fhir.Reference{Display: &r.clinic},
	})
	if r.e.Proxy == nil {
		return
	}
	id = r.id.of("RelatedPerson", "")
	r.put(id, fhir.RelatedPerson{Id: &id, Patient: r.subject(),
		Relationship: []fhir.CodeableConcept{{Text: &r.e.Proxy.Relation}}})
}

func instant(t time.Time) string { return t.UTC().Truncate(time.Second).Format(time.RFC3339) }

// dateOf is a date; nil for none.
func dateOf(d rules.Date) *string {
	if d == 0 {
		return nil
	}
	return new(d.String())
}

// coded is a concept of one code, and of what it is here in words.
func coded(system, code, display, text string) fhir.CodeableConcept {
	c := fhir.CodeableConcept{Coding: []fhir.Coding{{System: &system, Code: &code, Display: &display}}}
	if text != "" {
		c.Text = &text
	}
	return c
}
