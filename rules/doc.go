// Package rules is the progression engine: which dose a patient gets on a
// local date, whether the program day moves, and why.
//
// It is pure. Program, enrollment, state and date go in; the new state, what
// to do and a named reason come out. There is no clock, no I/O and no logging
// here, nothing but the standard library is imported, and nothing a person
// reads is worded here: vocabularies and texts come in as data or are rendered
// by package templates.
//
// What lives here:
//
//	date.go        calendar dates without a clock
//	program.go     what the clinician prescribes
//	enrollment.go  one patient on one program
//	state.go       what is remembered of a patient between two dates
//	reading.go     what a patient's text was read as
//	decision.go    what was decided for a date, and the names of the reasons
//	decide.go      settling a date: the program day
//	block.go       settling a date: the block served, and the cap on it
//	advance.go     settling a date: the advance rule
//	pain.go        settling a date: holds and step backs
//	silence.go     settling a date: silences and breaks
//	firststep.go   settling a date: first-step pain and its question
//	ending.go      settling a date: reviews, maintenance, the end
//	today.go       settling a date: what is due
//	tailor.go      what is due for this patient
//	wear.go        settling a date: the wear day
//	hear.go        taking a report into the state
//	enter.go       taking a clinician's entry into the state
//	reply/         reading a patient's text with a language's vocabulary
package rules

// Engine is the version of the rules. It is written beside every decision, so
// that a later engine can tell which decisions it may re-decide.
const Engine = "1"
