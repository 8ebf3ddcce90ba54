package config

import "testing"

func TestEnrollmentRules(t *testing.T) { badOnce(t, enrollmentRules) }

var enrollmentRules = []badCase{
	{
		"no list", enrollmentsFile,
		"enrollments:\n",
		"people:\n",
		[]string{
			"enrollments.yaml:1:1: enrollments is missing; write enrollments: and the patients as a list below it",
			`enrollments.yaml:1:1: unknown key "people"; the keys here are enrollments`,
		},
	},
	{
		"no id", enrollmentsFile,
		"  - id: ada-1\n    name: Ada",
		"  - name: Ada",
		[]string{
			"enrollments.yaml:2:5: id is missing; write an id for the records, like initials and a number",
		},
	},
	{
		"bad id", enrollmentsFile,
		"id: ada-1",
		"id: Ada Lovelace",
		[]string{
			"enrollments.yaml:2:9: id has letters in it that can't be used; write letters, digits, - and _ only, at most 40 of them",
		},
	},
	{
		"id too long", enrollmentsFile,
		"id: ada-1",
		"id: aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa",
		[]string{
			"enrollments.yaml:2:9: id has letters in it that can't be used; write letters, digits, - and _ only, at most 40 of them",
		},
	},
	{
		"id twice", enrollmentsFile,
		"id: ben-2",
		"id: ada-1",
		[]string{
			`enrollments.yaml:9:5: the id "ada-1" is taken by the enrollment at enrollments.yaml:2:5; give every enrollment an id of its own`,
		},
	},
	{
		"id twice but for capitals", enrollmentsFile,
		"id: ben-2",
		"id: ADA-1",
		[]string{
			`enrollments.yaml:9:5: the id "ADA-1" differs only in capitals from "ada-1" at enrollments.yaml:2:5; give every enrollment an id of its own`,
		},
	},
	{
		"no name", enrollmentsFile,
		"    name: Ada\n",
		"",
		[]string{
			"enrollments.yaml:2:5: name is missing; write the first name to greet the patient by",
		},
	},
	{
		"no such program", enrollmentsFile,
		"program: steady\n    dispensed: 2026-10-05\n    start",
		"program: stedy\n    dispensed: 2026-10-05\n    start",
		[]string{
			`enrollments.yaml:11:14: nobody wrote a program "stedy"; did you mean "steady"?`,
		},
	},
	{
		"no dispense date", enrollmentsFile,
		"dispensed: 2026-10-05\n    consent",
		"consent",
		[]string{
			"enrollments.yaml:2:5: dispensed is missing; write the date the devices were handed over, like 2026-10-05",
		},
	},
	{
		"date that does not exist", enrollmentsFile,
		"start: 2026-10-12",
		"start: 2026-02-29",
		[]string{
			`enrollments.yaml:13:12: start is no date: "2026-02-29"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"date the other way round", enrollmentsFile,
		"start: 2026-10-12",
		"start: 10/12/2026",
		[]string{
			`enrollments.yaml:13:12: start is no date: "10/12/2026"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"start far off", enrollmentsFile,
		"start: 2026-10-12",
		"start: 2027-10-12",
		[]string{
			"enrollments.yaml:13:12: warning: the exercises start 372 days from the dispense date; look whether both dates are right",
		},
	},
	{
		"unknown side", enrollmentsFile,
		"affected: left",
		"affected: links",
		[]string{
			`enrollments.yaml:14:15: affected can't be "links"; choose one of both, left, right`,
		},
	},
	{
		"no consent", enrollmentsFile,
		"    consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}\n    spool",
		"    spool",
		[]string{
			"enrollments.yaml:9:5: consent is missing; ask the patient, then write consent: {on: DATE, how: in writing, by: NAME}",
		},
	},
	{
		"consent by nobody", enrollmentsFile,
		"in writing, by: J. Marlowe DPM}\n    spool",
		"in writing}\n    spool",
		[]string{
			"enrollments.yaml:15:5: by is missing; write who took the consent",
		},
	},
	{
		"consent covers what there is none of", enrollmentsFile,
		"in writing, by: J. Marlowe DPM}\n    spool",
		"in writing, by: J. Marlowe DPM, covers: exports}\n    spool",
		[]string{
			`enrollments.yaml:15:76: covers can't be "exports"; did you mean "export"?`,
		},
	},
	{
		"consent covers texts alone", enrollmentsFile,
		"in writing, by: J. Marlowe DPM}\n    spool",
		"in writing, by: J. Marlowe DPM, covers: texts}\n    spool",
		[]string{
			"enrollments.yaml:15:76: covers names texts without export; write covers: [export, texts], or take texts away",
		},
	},
	{
		"consent is one word", enrollmentsFile,
		"consent: {on: 2026-10-05, how: in writing, by: J. Marlowe DPM}\n    spool",
		"consent: yes\n    spool",
		[]string{
			"enrollments.yaml:15:14: consent should have keys of its own; write them below it, one a line: by, covers, how, on",
		},
	},
	{
		"no contact", enrollmentsFile,
		"    spool: ben\n",
		"",
		[]string{
			`enrollments.yaml:9:5: the enrollment has no contact; write one of spool: NAME, sms: "+1..." or email: ADDRESS`,
		},
	},
	{
		"two contacts", enrollmentsFile,
		"    spool: ben\n",
		"    spool: ben\n    email: ben@example.com\n",
		[]string{
			"enrollments.yaml:17:12: the enrollment has more than one contact: spool, email; keep one of them",
		},
	},
	{
		"number with letters", enrollmentsFile,
		`"+12125550123"`,
		`"+1 212 555 CALL"`,
		[]string{
			`enrollments.yaml:7:10: sms is no phone number that can be texted; write it with + and the country code, without letters or extension, like "+12125550123"`,
		},
	},
	{
		"number with extension", enrollmentsFile,
		`"+12125550123"`,
		`"+12125550123 ext 4"`,
		[]string{
			`enrollments.yaml:7:10: sms is no phone number that can be texted; write it with + and the country code, without letters or extension, like "+12125550123"`,
		},
	},
	{
		"number too short", enrollmentsFile,
		`"+12125550123"`,
		`"+1212555"`,
		[]string{
			`enrollments.yaml:7:10: sms is no phone number that can be texted; write it with + and the country code, without letters or extension, like "+12125550123"`,
		},
	},
	{
		"number without country code", enrollmentsFile,
		`"+12125550123"`,
		"212-555-0123",
		[]string{
			`enrollments.yaml:7:10: sms is no phone number that can be texted; write it with + and the country code, without letters or extension, like "+12125550123"`,
		},
	},
	{
		"spool name climbs out", enrollmentsFile,
		"spool: ben",
		"spool: ../ben",
		[]string{
			"enrollments.yaml:16:12: this name on the spool can't be a folder; write letters, digits, - and _ only, at most 40, beginning with a letter or digit",
		},
	},
	{
		"mail address with a name", enrollmentsFile,
		"spool: ben",
		"email: Ben <ben@example.com>",
		[]string{
			"enrollments.yaml:16:12: email is no plain mail address; write it without a name or brackets, like pat@example.com",
		},
	},
	{
		"on email", enrollmentsFile,
		"spool: ben",
		"email: ben@example.com",
		[]string{
			"enrollments.yaml:16:12: warning: 1 enrollment is on email: answers by mail are not collected, so the program day waits (unheard); add imap: below email: in stepgate.yaml, or use sms or the spool for patients whose program should go on",
		},
	},
	{
		"contact twice", enrollmentsFile,
		"spool: ben",
		"sms: +1 (212) 555-0123",
		[]string{
			`enrollments.yaml:16:10: this sms contact is already that of the open enrollment "ada-1" at enrollments.yaml:2:5; give each of them a sender: of its own, use an email, or name a proxy: and write the proxy's number`,
		},
	},
	{
		"contact of the alerts", enrollmentsFile,
		"spool: ben",
		"email: Clinician@example.com",
		[]string{
			"enrollments.yaml:16:12: warning: 1 enrollment is on email: answers by mail are not collected, so the program day waits (unheard); add imap: below email: in stepgate.yaml, or use sms or the spool for patients whose program should go on",
			"enrollments.yaml:16:12: this is the contact that alerts go to; give the patient and the clinician contacts of their own",
		},
	},
	{
		"the clinic's own number", enrollmentsFile,
		"spool: ben",
		"sms: +12125550100",
		[]string{
			"enrollments.yaml:16:10: this is a number that the clinic's texts come from; write the patient's number",
		},
	},
	{
		"unknown language", enrollmentsFile,
		"language: en",
		"language: eng",
		[]string{
			`enrollments.yaml:17:15: language can't be "eng"; did you mean "en"?`,
		},
	},
	{
		"unknown zone", enrollmentsFile,
		"America/Chicago",
		"Chicago",
		[]string{
			`enrollments.yaml:18:11: unknown time zone "Chicago"; write an IANA name, like America/New_York or Europe/London`,
		},
	},
	{
		"no time", enrollmentsFile,
		"    time: 09:00\n",
		"",
		[]string{
			`enrollments.yaml:2:5: time is missing; write when the daily message is due, like "09:00"`,
		},
	},
	{
		"time at night", enrollmentsFile,
		"time: 18:30",
		"time: 20:00",
		[]string{
			"enrollments.yaml:19:11: the message time 20:00 is outside the texting hours; choose a time from 08:00 on and before 20:00",
		},
	},
	{
		"time in words", enrollmentsFile,
		"time: 18:30",
		"time: half past six",
		[]string{
			`enrollments.yaml:19:11: time can't be read: "half past six"; write a time of day on the 24-hour clock, like 08:30 or 17:00`,
		},
	},
}
