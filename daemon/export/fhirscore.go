package export

import (
	"encoding/json"
	"strconv"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// The code of a pain score, and its name, from loinc.org. There is none of its
// own for pain at the first steps, so both series have this one and beside it a
// code of ours that tells them apart.
const (
	loinc       = "http://loinc.org"
	painCode    = "72514-3"
	painDisplay = "Pain severity - 0-10 verbal numeric rating [Score] - Reported"
	// series is the system of those codes of ours.
	series = "urn:uuid:8d0a7f0e-6f0b-4b57-9c39-5b7a5f1e2c61"
)

// scores writes an Observation for each day's worst pain, and one for each
// day's worst first-step pain.
func (r *record) scores(tx *journal.Tx) error {
	told, err := scored(tx, r.e.ID)
	if err != nil {
		return err
	}
	for i := range r.days {
		d := &r.days[i]
		if !r.o.within(d.Date) {
			continue
		}
		if d.Score >= 0 || d.Struck && told[d.Date] {
			r.score(d, "worst-pain", "Worst foot or leg pain since the last message", d.Score, d.Struck)
		}
		if d.FirstStep >= 0 {
			r.score(d, "first-step-pain", "Pain at the first steps of the morning", d.FirstStep, false)
		}
	}
	return nil
}

// scored are the dates of which a score was ever reported or written. One that
// was struck without any never was a record that somebody may have taken over.
func scored(tx *journal.Tx, id string) (map[rules.Date]bool, error) {
	told := map[rules.Date]bool{}
	err := tx.Events(id, func(e journal.Event) error {
		if e.In != nil && e.State != nil && e.State.Heard.Score != nil {
			told[e.State.Decided] = true
		}
		if e.Entry != nil && e.Entry.Kind == rules.EntryReplace {
			told[e.Entry.Report] = true
		}
		return nil
	})
	return told, err
}

// score writes one. A score a clinician struck stays, without a value and
// entered in error, so that whoever took it over takes it back; one they
// replaced is corrected.
func (r *record) score(d *journal.Day, which, says string, score int, struck bool) {
	id := r.id.of("Observation", which+"/"+d.Date.String())
	code := coded(loinc, painCode, painDisplay, says+", 0 to 10")
	code.Coding = append(code.Coding, fhir.Coding{System: new(series), Code: &which, Display: &says})
	o := fhir.Observation{
		Id: &id, Status: fhir.ObservationStatusFinal, Code: code, Subject: new(r.subject()),
		BasedOn:           []fhir.Reference{r.ref("CarePlan", d.Program)},
		Category:          []fhir.CodeableConcept{coded("http://terminology.hl7.org/CodeSystem/observation-category", "survey", "Survey", "")},
		EffectiveDateTime: dateOf(d.Date), Performer: []fhir.Reference{r.writer()},
		BodySite: &fhir.CodeableConcept{Text: new("foot or leg")},
	}
	switch {
	case score < 0:
		o.Status = fhir.ObservationStatusEnteredInError
		o.DataAbsentReason = new(coded("http://terminology.hl7.org/CodeSystem/data-absent-reason", "error", "Error", "struck by a clinician"))
	case struck:
		o.Status = fhir.ObservationStatusCorrected
	}
	if score >= 0 {
		o.ValueQuantity = &fhir.Quantity{Value: new(json.Number(strconv.Itoa(score))), Unit: new("{score}"),
			System: new("http://unitsofmeasure.org"), Code: new("{score}")}
	}
	r.put(id, o)
}
