package daemon

import (
	"time"

	"stepgate/config"
	"stepgate/rules"
	"stepgate/templates"
)

// What a made-up calendar needs to know of how the service works, so that a
// rehearsal and the service can't differ.

// LocalInstant is the instant at which the message of date d is due in loc,
// and any other time of day: see [localInstant] for the hour that comes twice
// and the one that is missing.
func LocalInstant(d rules.Date, c config.Clock, loc *time.Location) time.Time {
	return localInstant(d, c, loc)
}

// StillPaused tells whether a patient is to be told on date d, once a pause, that
// the clinic has not released them.
func StillPaused(c *config.Clinic, st rules.State, d rules.Date) bool {
	return st.Pause != nil && st.Reach && clinicDays(c.AlertWeek, st.Pause.Since, d) >= pausedFor
}

// ClinicWords is what messages say of a clinic.
func ClinicWords(c *config.Clinic) templates.Clinic { return words(c) }

// PatientWords is what messages say of a patient.
func PatientWords(e *config.Enrollment) templates.Patient { return patient(e, e.Address) }

// AnswerData is what an answer to a patient's text speaks of: st, h and r are
// the state after the text, what followed from it and what it was read as.
func AnswerData(p *rules.Program, e *rules.Enrollment, st rules.State, h rules.Hearing, r rules.Reading) templates.AnswerData {
	return answerData(p, e, st, h, r)
}
