// Package config reads the clinic's folder and checks it: stepgate.yaml,
// programs/*.yaml and enrollments.yaml or enrollments/*.yaml.
//
// Every problem is found in one run and reported as
// file:line:column: what is wrong; what to do. A folder with an error gives
// no clinic at all: nothing is half loaded. Secrets come from the environment
// or from files named in the config and print as stars. A problem never
// repeats a contact, a name or anything that may be a secret: it names the
// place instead.
//
// The shape of the files is written once, as the structs of shape.go,
// shapeprogram.go and shapeenroll.go; schema.go makes the JSON Schema from
// them. rules/README.md is the reference for those who write the files. A file
// goes this way:
//
//	folder.go   the folder's files are read, as bytes
//	syntax.go   bytes to YAML nodes, with the place of a syntax error
//	walk.go     nodes against the shape: unknown and repeated keys, wrong
//	            kinds; what is left are maps whose values know their place
//	layer.go    koanf merges those maps over the defaults and fills the shape
//	load.go     the order of it all
//
// and then through the checks, which turn shapes into values: settings.go,
// alerts.go, cron.go, web.go, machine.go, sms.go, mail.go, signingkey.go, carriers.go,
// secret.go and contact.go for the clinic; program.go,
// blocks.go, doseparts.go, workload.go, lines.go and after.go for programs;
// enroll.go, person.go, tailor.go and entries.go for enrollments; suits.go for
// an enrollment against its program, senders.go for its contacts against those
// of others, crowd.go for all of them against the numbers' rates, across.go for
// what else only shows across files, which it looks for as each file comes. parse.go and schedule.go hold the small
// readers of dates, spans, numbers and due days; asof.go has what depends on
// the date of today.
//
// A service starts again with many patients and few changes. reader.go takes what
// reading a file gave before where its bytes are the same, kept.go is the file it
// lies in, packing.go and packpatient.go its form. check reads every file. roll.go
// holds all enrollments, packed in the same form, and makes one anew that is asked
// for.
//
// The other way go entries that are added to an enrollment, and newcomers that
// are added to a file. edit.go finds the enrollment, writes the entry and reads
// the result back; editsheet.go and editplace.go try where in the text it goes,
// editroll.go does so for newcomers, alike.go tells whether all else reads as
// before, editwrite.go replaces the file, editnew.go makes one that is not there.
//
// Newcomers come from questions or a spreadsheet: newcomer.go has the columns,
// aswritten.go reads dates and numbers as people write them, newcomercheck.go
// holds them against the checks of the files, newcomercsv.go reads spreadsheets,
// enrolling.go ties it together. opening.go makes a new clinic's folder.
//
// What lives here: the shape of the files, their checks and those edits, and
// nothing that runs. koanf is used here and nowhere else.
package config
