// Package caseload shows the journal to a person: all patients on a page, one
// patient's course by date, and one decision with its reasons. It only reads.
// How it looks on a screen is for the commands.
package caseload
