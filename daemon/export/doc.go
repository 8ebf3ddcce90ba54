// Package export writes what the journal holds for others to read: a table
// with a row for every patient and day (CSV), and a Bundle of FHIR R4. It only
// reads. README.md beside this file is the contract: the columns, the
// resources, how ids are made, and whose record may leave.
//
// One patient is in memory at a time, and no transaction is open while a row
// is handed to the reader: a slow one must not hold the service's writes up.
package export
