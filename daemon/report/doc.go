// Package report makes what the report pages show: one patient's record for
// the review visit, the clinic's page, and the program for a patient to take
// home. It only reads: the journal through one transaction, the clinic's files
// as they are in force. How the pages look, and their words, is for templates.
package report
