package export

import (
	"fmt"
	"strconv"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"stepgate/rules"
)

// pair is one pair of orthoses, by the enrollment's list of devices.
type pair struct {
	from, to rules.Date // to 0: not replaced
	out      bool       // not with the patient now
	notes    []string
}

// pairs reads the list up to a date. Remade ones take the place of those
// before; a second pair comes beside them.
func pairs(e *rules.Enrollment, today rules.Date) []pair {
	list := []pair{{from: e.Dispensed}}
	for _, d := range e.Devices {
		if d.On > today {
			break // written ahead
		}
		now := &list[len(list)-1]
		switch d.Kind {
		case rules.DeviceOut:
			now.out = true
		case rules.DeviceBack:
			now.out = false
		case rules.DeviceRemade:
			now.to = d.On
			list = append(list, pair{from: d.On})
			continue
		case rules.DeviceSecond:
			list = append(list, pair{from: d.On})
			continue
		case rules.DeviceDispensed:
			continue // the date of the enrollment
		}
		now.notes = append(now.notes, fmt.Sprintf("%s on %s", d.Kind, d.On))
	}
	return list
}

// devices writes each pair with what the clinic's files say of its use. They
// are the source, not a report; what was worn by day is in the table, as R4
// has no code for it.
func (r *record) devices() {
	for i, p := range pairs(&r.e.Enrollment, r.today) {
		key := strconv.Itoa(i + 1)
		id := r.id.of("Device", key)
		r.put(id, fhir.Device{Id: &id, Type: &fhir.CodeableConcept{Text: new("Foot orthoses")}, Patient: new(r.subject())})
		id = r.id.of("DeviceUseStatement", key)
		use := fhir.DeviceUseStatement{
			Id: &id, Status: fhir.DeviceUseStatementStatusActive, Subject: r.subject(), Device: r.ref("Device", key),
			TimingPeriod: &fhir.Period{Start: dateOf(p.from), End: dateOf(p.to)},
			BodySite:     &fhir.CodeableConcept{Text: new("foot; affected side: " + r.e.Affected)},
		}
		switch {
		case p.from > r.today:
			use.Status = fhir.DeviceUseStatementStatusIntended
		case p.to != 0:
			use.Status = fhir.DeviceUseStatementStatusCompleted
		case p.out:
			use.Status = fhir.DeviceUseStatementStatusOnHold
		}
		for _, text := range p.notes {
			use.Note = append(use.Note, fhir.Annotation{Text: text})
		}
		r.put(id, use)
	}
}
