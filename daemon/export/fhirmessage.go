package export

import (
	"slices"
	"strings"
	"time"

	"github.com/samply/golang-fhir-models/fhir-models/fhir"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// communication is a Communication whose payload can be of one kind only: the
// library's writes all three.
type communication struct {
	fhir.OtherCommunication
	Payload      []payload `json:"payload,omitempty"`
	ResourceType string    `json:"resourceType"`
}

type payload struct {
	ContentString string `json:"contentString"`
}

// said is one message between the clinic and the patient.
type said struct {
	key    string
	in     bool
	kind   string // daily, answer, visit, ... of the clinic's; reply of the patient's
	on     string // channel
	at     time.Time
	status fhir.EventStatus
	why    string // of a status that is not plain
	text   string
}

// date is the patient's own at that instant.
func (m *said) date(e *config.Enrollment) rules.Date { return rules.DateOf(m.at.In(e.Zone)) }

// messages writes a Communication for every message and reply.
func (r *record) messages(tx *journal.Tx) error {
	list, err := conversation(tx, r.e.ID)
	if err != nil {
		return err
	}
	list = slices.DeleteFunc(list, func(m *said) bool { return !r.o.within(m.date(r.e)) })
	known := map[string]bool{}
	for _, m := range list {
		known[m.key] = true
	}
	for _, m := range list {
		r.message(m, known)
	}
	return nil
}

// conversation reads a patient's events into messages, in order of their first
// event. A message that was taken back and made anew under its key is one.
func conversation(tx *journal.Tx, id string) ([]*said, error) {
	var list []*said
	at := map[string]*said{}
	err := tx.Events(id, func(e journal.Event) error {
		if e.In != nil && e.Kind == journal.Heard {
			list = append(list, &said{key: inKey(e.In.Channel, e.In.ID), in: true, kind: "reply", on: e.In.Channel,
				at: e.In.Came, status: fhir.EventStatusCompleted, text: e.In.Text})
			return nil
		}
		if e.Out != nil && e.Kind == journal.Intended {
			m := &said{key: e.Out.Key, kind: e.Out.Kind, on: e.Out.Channel, at: e.Out.Made, text: e.Out.Text}
			if old := at[m.key]; old != nil {
				*old = *m
				return nil
			}
			at[m.key] = m
			list = append(list, m)
			return nil
		}
		if m := at[e.Key]; m != nil {
			m.hear(e)
		}
		return nil
	})
	return list, err
}

// inKey is the key of the patient's message, the one its answer is kept under
// without the word answer.
func inKey(channel, id string) string { return channel + "/" + id }

// hear takes in what became of a message.
func (m *said) hear(e journal.Event) {
	switch {
	case e.Kind == journal.HandedOut:
		m.status, m.why = fhir.EventStatusInProgress, ""
	case e.Kind == journal.Withdrawn:
		m.status, m.why = fhir.EventStatusNotDone, "withdrawn before hand-over"
	case e.Result == nil:
	case e.Kind == journal.Settled:
		m.settle(e)
	case e.Kind == journal.Delivery && e.Result.Status == journal.Undelivered:
		m.status, m.why = fhir.EventStatusStopped, journal.Undelivered
	case e.Kind == journal.Delivery && e.Result.Status == journal.Delivered:
		m.status, m.why = fhir.EventStatusCompleted, ""
	}
}

// settle takes in how a hand-over ended.
func (m *said) settle(e journal.Event) {
	switch s := journal.Status(e.Result.Status); s {
	case journal.Sent:
		m.status, m.why, m.at = fhir.EventStatusCompleted, "", e.At
	case journal.Rejected, journal.Expired:
		m.status, m.why = fhir.EventStatusNotDone, string(s)
	case journal.Unknown:
		m.status, m.why = fhir.EventStatusUnknown, "may or may not have been taken by the carrier"
	default: // to be tried again
		m.status, m.why = fhir.EventStatusPreparation, ""
	}
}

func (r *record) message(m *said, known map[string]bool) {
	id := r.id.of("Communication", m.key)
	c := communication{ResourceType: "Communication", OtherCommunication: fhir.OtherCommunication{
		Id: &id, Status: m.status, Subject: new(r.subject()), Topic: &fhir.CodeableConcept{Text: &m.kind},
		BasedOn: []fhir.Reference{r.ref("CarePlan", r.programOn(m.date(r.e)))}, Medium: medium(m.on),
	}}
	if m.why != "" {
		c.StatusReason = &fhir.CodeableConcept{Text: &m.why}
	}
	const categories = "http://terminology.hl7.org/CodeSystem/communication-category"
	switch {
	case m.in:
		c.Sender, c.Received = new(r.writer()), new(instant(m.at))
	case m.kind == "daily":
		c.Category = []fhir.CodeableConcept{coded(categories, "instruction", "Instruction", "")}
	default:
		c.Category = []fhir.CodeableConcept{coded(categories, "notification", "Notification", "")}
	}
	if !m.in {
		c.Recipient = []fhir.Reference{r.writer()}
		if slices.Contains([]fhir.EventStatus{fhir.EventStatusCompleted, fhir.EventStatusStopped}, m.status) {
			c.Sent = new(instant(m.at))
		}
		if to, ok := strings.CutPrefix(m.key, "answer/"); ok && known[to] {
			c.InResponseTo = []fhir.Reference{r.ref("Communication", to)}
		}
	}
	if text := words(m.text); r.texts && text != nil {
		c.Payload = []payload{{*text}}
	}
	r.put(id, c)
}

// medium is how a message went. The spool is files on the clinic's machine.
func medium(channel string) []fhir.CodeableConcept {
	const modes = "http://terminology.hl7.org/CodeSystem/v3-ParticipationMode"
	switch channel {
	case "sms":
		return []fhir.CodeableConcept{coded(modes, "SMSWRIT", "SMS message", "")}
	case "email":
		return []fhir.CodeableConcept{coded(modes, "EMAILWRIT", "email", "")}
	case "phone":
		return []fhir.CodeableConcept{coded(modes, "PHONE", "telephone", "")}
	}
	return []fhir.CodeableConcept{{Text: &channel}}
}
