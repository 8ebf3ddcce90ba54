package config

import "testing"

func TestAlertRules(t *testing.T) { badOnce(t, alertRules) }

const (
	alertsTo = "alerts: {email: clinician@example.com}"
	alertsBe = "alerts: {email: clinician@example.com, "
)

// alertRules: who is told when, the digest, and the pages.
var alertRules = []badCase{
	{"backup", settingsFile, alertsTo, alertsBe + "backup: {spool: second}}", nil},
	{
		"backup the same in capitals", settingsFile, alertsTo, alertsBe + "backup: {email: Clinician@example.com}}",
		[]string{"stepgate.yaml:11:40: backup is the contact that alerts go to anyway; write another contact, or take backup away"},
	},
	{
		"backup without contact", settingsFile, alertsTo, alertsBe + "backup: {}}",
		[]string{`stepgate.yaml:11:40: backup has no contact; write one of spool: NAME, sms: "+1..." or email: ADDRESS`},
	},
	{
		"backup at the clinic's own number", settingsFile, alertsTo, alertsBe + `backup: {sms: "+12125550100"}}`,
		[]string{"stepgate.yaml:11:54: this is a number that the clinic's texts come from; write the number of a person"},
	},
	{
		"backup on a channel not set up", settingsFile,
		baseSettings[alertsAt:emailAt],
		alertsBe + "backup: {sms: \"+12125550101\"}}\n",
		[]string{
			"enrollments.yaml:7:10: the enrollment is on sms, which is not set up; add sms: to stepgate.yaml, or use spool",
			"stepgate.yaml:11:54: the backup is told by sms, which is not set up; add sms: to stepgate.yaml, or use spool",
		},
	},
	{
		"backup is a patient", settingsFile, alertsTo, alertsBe + "backup: {spool: Ben}}",
		[]string{"enrollments.yaml:16:12: this is a contact that alerts go to at times; give the patient and the clinic's people contacts of their own"},
	},
	{"hours", settingsFile, alertsTo, alertsBe + `hours: {days: [mon-wed, Friday, sat - sun], from: 8:00, to: "16:30"}}`, nil},
	{"hours past the week's end", settingsFile, alertsTo, alertsBe + "hours: {days: sat-mon}}", nil},
	{
		"days in words", settingsFile, alertsTo, alertsBe + "hours: {days: workdays}}",
		[]string{`stepgate.yaml:11:54: days can't be read: "workdays"; write weekdays, like mon-fri, or a list like [mon, thu]`},
	},
	{
		"half a range", settingsFile, alertsTo, alertsBe + "hours: {days: [mon-]}}",
		[]string{`stepgate.yaml:11:55: days can't be read: "mon-"; write weekdays, like mon-fri, or a list like [mon, thu]`},
	},
	{
		"a day twice", settingsFile, alertsTo, alertsBe + "hours: {days: [mon-fri, thu]}}",
		[]string{"stepgate.yaml:11:64: days names Thursday twice; keep one of them"},
	},
	{
		"hours turned round", settingsFile, alertsTo, alertsBe + `hours: {from: "18:00"}}`,
		[]string{"stepgate.yaml:11:54: the alert hours begin at 18:00 and end at 17:00; write a from that is earlier than the to"},
	},
	{
		"hours without minutes", settingsFile, alertsTo, alertsBe + "hours: {from: 19, to: 18:00}}",
		[]string{`stepgate.yaml:11:54: from can't be read: "19"; write a time of day on the 24-hour clock, like 08:30 or 17:00`},
	},
	{
		"cover", settingsFile, alertsTo,
		alertsBe + "cover: [{from: 2027-01-03, to: 2027-01-03, spool: b}, {from: 2026-12-24, to: 2027-01-02, spool: a}]}", nil,
	},
	{
		"covers overlap on one day", settingsFile, alertsTo,
		alertsBe + "cover: [{from: 2027-01-02, to: 2027-01-03, spool: b}, {from: 2026-12-24, to: 2027-01-02, spool: a}]}",
		[]string{"stepgate.yaml:11:94: the dates of this cover overlap with those at stepgate.yaml:11:48; let one end before the other begins"},
	},
	{
		"a cover inside a longer one", settingsFile, alertsTo,
		alertsBe + "cover: [{from: 2026-12-01, to: 2026-12-31, spool: a}, {from: 2026-12-05, to: 2026-12-06, spool: b}, {from: 2026-12-10, to: 2026-12-11, spool: c}]}",
		[]string{
			"stepgate.yaml:11:94: the dates of this cover overlap with those at stepgate.yaml:11:48; let one end before the other begins",
			"stepgate.yaml:11:140: the dates of this cover overlap with those at stepgate.yaml:11:48; let one end before the other begins",
		},
	},
	{
		"cover turned round", settingsFile, alertsTo, alertsBe + "cover: [{from: 2026-12-24, to: 2026-01-02, spool: a}]}",
		[]string{"stepgate.yaml:11:55: the cover begins on 2026-12-24 and ends on 2026-01-02; write a from that is no later than the to"},
	},
	{
		"cover without dates or contact", settingsFile, alertsTo, alertsBe + "cover: [{}]}",
		[]string{
			"stepgate.yaml:11:48: from is missing; write the first date, like 2026-12-24",
			`stepgate.yaml:11:48: the cover has no contact; write one of spool: NAME, sms: "+1..." or email: ADDRESS`,
			"stepgate.yaml:11:48: to is missing; write the last date, like 2027-01-02",
		},
	},
	{
		"cover by the clinician", settingsFile, alertsTo,
		alertsBe + "cover: [{from: 2026-12-24, to: 2027-01-02, email: clinician@example.com}]}",
		[]string{"stepgate.yaml:11:48: the cover is the contact that alerts go to anyway; write another contact, or take the cover away"},
	},
	{
		"cover is a patient", settingsFile, alertsTo, alertsBe + `cover: [{from: 2026-12-24, to: 2027-01-02, sms: "+12125550123"}]}`,
		[]string{"enrollments.yaml:7:10: this is a contact that alerts go to at times; give the patient and the clinic's people contacts of their own"},
	},
	{"digest", settingsFile, "grace: 10m", "grace: 10m\ndigest: 30 2 1,15 jan-DEC mon", nil},
	{"no digest", settingsFile, "grace: 10m", "grace: 10m\ndigest: off", nil},
	{
		"digest in words", settingsFile, "grace: 10m", "grace: 10m\ndigest: mondays at 7",
		[]string{`stepgate.yaml:10:9: digest can't be read: it has 3 fields, and a cron line has 5; write minute, hour, day of the month, month and day of the week, like "0 7 * * mon", or off`},
	},
	{
		"digest on a day that never comes", settingsFile, "grace: 10m", "grace: 10m\ndigest: 0 0 30 2 *",
		[]string{"stepgate.yaml:10:9: digest can't be read: its day is in none of its months, so its time never comes; write a day that the month has"},
	},
	{
		"digest on Sunday as 7", settingsFile, "grace: 10m", "grace: 10m\ndigest: 0 7 * * 7",
		[]string{`stepgate.yaml:10:9: digest can't be read: the day of the week "7" is out of range; write 0 to 6 or sun to sat`},
	},
	{
		"digest every minute", settingsFile, "grace: 10m", `grace: 10m
digest: "* 7 * * mon"`,
		[]string{`stepgate.yaml:10:9: warning: digest goes out 60 times on its days; look whether the minute and the hour are right, like "0 7 * * mon"`},
	},
	{"pages on the listener of the texts", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: 127.0.0.1:8090, public: https://plans.example.org/}", nil},
	{"pages on a port of their own", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: 0.0.0.0:8091, public: http://localhost:8091}", nil},
	{
		"pages on the port of the texts", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: 0.0.0.0:8090, public: https://plans.example.org}",
		[]string{"stepgate.yaml:10:15: web and sms listen on the same port; write listen: 127.0.0.1:8090 for one listener, or another port for two"},
	},
	{
		"pages on the path of the texts", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: 127.0.0.1:8090, public: https://plans.example.org/sms}",
		[]string{"stepgate.yaml:10:39: web and sms share a listener, and their public addresses end in the same path; give the one of sms a path of its own, like /sms"},
	},
	{
		"pages not encrypted", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: 0.0.0.0:8091, public: http://plans.example.org}",
		[]string{"stepgate.yaml:10:37: public is not encrypted; write https://; http:// is only for this machine itself"},
	},
	{
		"pages by a query", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: 0.0.0.0:8091, public: \"https://plans.example.org/?a=b\"}",
		[]string{"stepgate.yaml:10:37: public has a ? in it; write the address without it"},
	},
	{
		"pages half set up", settingsFile, "grace: 10m", "grace: 10m\nweb: {listen: plans}",
		[]string{
			"stepgate.yaml:10:1: public is missing; write the web address under which people reach it: public: https://...",
			"stepgate.yaml:10:15: listen is no address to listen on; write host and port, like 127.0.0.1:8090",
		},
	},
}
