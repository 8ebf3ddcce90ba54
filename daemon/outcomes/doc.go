// Package outcomes counts what became of patients: one patient's course, and
// the clinic's figures over all of them. It is arithmetic over
// [journal.Day] and nothing else: no clock, no I/O, no words a person reads.
//
// What lives here:
//
//	patient.go   what is read of a patient, and what their course is made of
//	clinic.go    what is told of the clinic
//	course.go    one patient's course
//	firststep.go first-step pain: its base, its change, improved or not
//	causes.go    why a program day waited
//	tally.go     the clinic, patients added one at a time
//	hurts.go     which step and which exercise hurts
//	interval.go  exact intervals, with days of one patient being alike
//	spread.go    medians and quartiles
//
// # What the figures mean
//
// A date is over when it lies before Patient.Today: until then a report of it
// may still come. Shares and rates count dates that are over; spans, steps and
// first-step answers take today's date along.
//
// A date stands when the patient could be asked for something on it: it was
// decided, and they were not away, paused, opted out, suspended, without
// consent, discharged or finished. Nothing else takes a date out of a
// denominator: one whose message did not arrive stays in, and is counted
// beside it.
//
// What is no longer asked is no longer counted. In a long silence no exercise
// is due, so adherence by week is that of the patients who are still at it:
// tell ClinicWeek.Could and ClinicWeek.Answering beside it.
//
// Each share names what it is a share of by a field next to it. Where nobody
// and nothing is counted there is no figure: a nil pointer, null in JSON.
package outcomes
