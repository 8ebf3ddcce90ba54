package config

import "testing"

func TestSettingsRules(t *testing.T) { badOnce(t, settingsRules) }

var settingsRules = []badCase{
	{
		"unknown key", settingsFile,
		"  phone: 212",
		"  fone: 212",
		[]string{
			"stepgate.yaml:1:1: phone is missing; write the number that patients call in opening hours",
			`stepgate.yaml:3:3: unknown key "fone"; did you mean "phone"?`,
		},
	},
	{
		"unknown key far from any", settingsFile,
		"grace: 10m",
		"retention: 10y",
		[]string{
			`stepgate.yaml:9:1: unknown key "retention"; the keys here are admin, alerts, backup, clinic, data, digest, email, grace, keep discharged, metrics, reports, sms, spool, texting, web`,
		},
	},
	{
		"capitals in a key", settingsFile,
		"grace: 10m",
		"Grace: 10m",
		[]string{
			`stepgate.yaml:9:1: unknown key "Grace"; did you mean "grace"?`,
		},
	},
	{
		"key twice", settingsFile,
		"grace: 10m",
		"grace: 10m\ngrace: 5m",
		[]string{
			`stepgate.yaml:10:1: the key "grace" stands here again, first on line 9; keep one of them`,
		},
	},
	{
		"no phone", settingsFile,
		"  phone: 212-555-0142\n",
		"",
		[]string{
			"stepgate.yaml:1:1: phone is missing; write the number that patients call in opening hours",
		},
	},
	{
		"no hours", settingsFile,
		"  hours: Mon-Fri 8:30-17:00\n",
		"",
		[]string{
			"stepgate.yaml:1:1: hours is missing; write the opening hours, like Mon-Fri 8:30-17:00",
		},
	},
	{
		"no after hours", settingsFile,
		"  after hours: 212-555-0199\n",
		"",
		[]string{
			"stepgate.yaml:1:1: after hours is missing; write the number that patients call when the clinic is closed",
		},
	},
	{
		"no emergency number", settingsFile,
		"  emergency: 911\n",
		"",
		[]string{
			"stepgate.yaml:1:1: emergency is missing; write the emergency number of the place, such as 911",
		},
	},
	{
		"emergency without a number", settingsFile,
		"emergency: 911",
		"emergency: see the door",
		[]string{
			"stepgate.yaml:6:14: emergency has no phone number in it; write the number that patients should call",
		},
	},
	{
		"empty value", settingsFile,
		"emergency: 911",
		"emergency:",
		[]string{
			"stepgate.yaml:6:13: emergency is empty; write its value, or take the line away",
		},
	},
	{
		"no name", settingsFile,
		"  name: Harbor Foot Clinic\n",
		"",
		[]string{
			"stepgate.yaml:1:1: name is missing; write the clinic's name as the texts should say it",
		},
	},
	{
		"no clinic zone", settingsFile,
		"  zone: America/New_York\n",
		"",
		[]string{
			"stepgate.yaml:1:1: zone is missing; write the clinic's time zone, like America/New_York",
		},
	},
	{
		"no clinic at all", settingsFile,
		"clinic:\n  name: Harbor Foot Clinic\n  phone: 212-555-0142\n  hours: Mon-Fri 8:30-17:00\n  after hours: 212-555-0199\n  emergency: 911\n  zone: America/New_York\n",
		"",
		[]string{
			"stepgate.yaml:1:1: clinic is missing; write clinic: with name, phone, hours, after hours, emergency and zone below it",
		},
	},
	{
		"clinic is a list", settingsFile,
		"clinic:\n  name: Harbor Foot Clinic\n  phone: 212-555-0142\n  hours: Mon-Fri 8:30-17:00\n  after hours: 212-555-0199\n  emergency: 911\n  zone: America/New_York\n",
		"clinic: [Harbor]\n",
		[]string{
			"stepgate.yaml:1:9: clinic should have keys of its own; write them below it, one a line: after hours, emergency, hours, language, name, phone, zone",
		},
	},
	{
		"unknown zone", settingsFile,
		"America/New_York",
		"America/Newyork",
		[]string{
			`stepgate.yaml:7:9: unknown time zone "America/Newyork"; write an IANA name, like America/New_York or Europe/London`,
		},
	},
	{
		"local zone", settingsFile,
		"America/New_York",
		"Local",
		[]string{
			`stepgate.yaml:7:9: unknown time zone "Local"; write an IANA name, like America/New_York or Europe/London`,
		},
	},
	{
		"unknown language", settingsFile,
		"  zone: America/New_York",
		"  zone: America/New_York\n  language: fr",
		[]string{
			`stepgate.yaml:8:13: language can't be "fr"; choose one of en, es`,
		},
	},
	{
		"texting backwards", settingsFile,
		`{from: "08:00", to: "20:00"}`,
		`{from: "20:00", to: "08:00"}`,
		[]string{
			"stepgate.yaml:8:17: texting begins at 20:00 and ends at 08:00; write a from that is earlier than the to",
		},
	},
	{
		"texting at night", settingsFile,
		`{from: "08:00", to: "20:00"}`,
		`{from: "07:30", to: "20:00"}`,
		[]string{
			"stepgate.yaml:8:17: warning: texting hours reach outside 08:00 to 21:00; keep inside them unless your patients agreed to more",
		},
	},
	{
		"no time of day", settingsFile,
		`from: "08:00"`,
		"from: 8am",
		[]string{
			`stepgate.yaml:8:17: from can't be read: "8am"; write a time of day on the 24-hour clock, like 08:30 or 17:00`,
		},
	},
	{
		"twenty-fifth hour", settingsFile,
		`from: "08:00"`,
		"from: 25:00",
		[]string{
			`stepgate.yaml:8:17: from can't be read: "25:00"; write a time of day on the 24-hour clock, like 08:30 or 17:00`,
		},
	},
	{
		"grace without unit", settingsFile,
		"grace: 10m",
		"grace: 10",
		[]string{
			`stepgate.yaml:9:8: grace can't be read: "10"; write a number with its unit, like 10m`,
		},
	},
	{
		"grace too long", settingsFile,
		"grace: 10m",
		"grace: 3 hours",
		[]string{
			`stepgate.yaml:9:8: grace is out of range: "3 hours"; write from 1 minute to 2 hours`,
		},
	},
	{
		"data in the programs", settingsFile,
		"data: data\n",
		"data: programs\n",
		[]string{
			"stepgate.yaml:10:7: data is a folder of the clinic's own files; name another one, like data",
		},
	},
	{
		"spool is data", settingsFile,
		"data/spool",
		"data",
		[]string{
			"stepgate.yaml:12:14: data and spool are the same folder; give the spool a folder of its own, like data/spool",
		},
	},
	{
		"no alerts", settingsFile,
		"alerts: {email: clinician@example.com}\n",
		"",
		[]string{
			"stepgate.yaml:1:1: alerts is missing; write alerts: {email: ADDRESS} for the clinician who must hear of pain",
		},
	},
	{
		"two alerts", settingsFile,
		"alerts: {email: clinician@example.com}",
		"alerts: {email: clinician@example.com, spool: clinician}",
		[]string{
			"stepgate.yaml:11:17: alerts has more than one contact: spool, email; keep one of them",
		},
	},
	{
		"empty alerts", settingsFile,
		"alerts: {email: clinician@example.com}",
		"alerts: {}",
		[]string{
			`stepgate.yaml:11:1: alerts has no contact; write one of spool: NAME, sms: "+1..." or email: ADDRESS`,
		},
	},
	{
		"alerts by a channel not set up", settingsFile,
		"email:\n  host: mail.example.com\n  from: clinic@example.com\n  user: clinic\n  password: {env: MAIL_PASSWORD}\n  tls: tls\n",
		"",
		[]string{
			"stepgate.yaml:11:17: alerts go by email, which is not set up; add email: to stepgate.yaml, or use spool",
		},
	},
	{
		"alerts to no address", settingsFile,
		"clinician@example.com",
		"Clinician <clinician@example.com>",
		[]string{
			"stepgate.yaml:11:17: email is no plain mail address; write it without a name or brackets, like pat@example.com",
		},
	},
	{
		"alias as value", settingsFile,
		"hours: Mon-Fri 8:30-17:00",
		"hours: &h Mon\n  language: *h",
		[]string{
			"stepgate.yaml:5:13: language uses a YAML alias (*) or tag (!); write the value itself; put quotes around a text that begins with one of these",
		},
	},
	{
		"tag", settingsFile,
		"grace: 10m",
		"grace: !!str 10m",
		[]string{
			"stepgate.yaml:9:8: grace uses a YAML alias (*) or tag (!); write the value itself; put quotes around a text that begins with one of these",
		},
	},
	{
		"control character", settingsFile,
		"Harbor Foot Clinic",
		`"Harbor \e Clinic"`,
		[]string{
			"stepgate.yaml:2:9: name has a control character in it; write plain text",
		},
	},
	{
		"two lines", settingsFile,
		"Harbor Foot Clinic",
		`"Harbor\nClinic"`,
		[]string{
			"stepgate.yaml:2:9: name runs over several lines; write it on one line",
		},
	},
	{
		"two documents", settingsFile,
		"grace: 10m",
		"grace: 10m\n---\nmore: 1",
		[]string{
			"stepgate.yaml:10:1: a second document begins after ---; keep one document in a file; take the --- away",
		},
	},
	{
		"bad indentation", settingsFile,
		"  phone: 212",
		" phone: 212",
		[]string{
			"stepgate.yaml:3:2: the file can't be read from here on: did not find expected key; look at this line and the one above for a missing quote, bracket or space after a colon, for a text with a comma, colon, # or ? that wants quotes, and for tabs: indent with spaces",
		},
	},
	{
		"open quote", settingsFile,
		"data: data\n",
		"data: \"data\n",
		[]string{
			"stepgate.yaml:10:1: the file can't be read from here on: mapping values are not allowed in this context; look at this line and the one above for a missing quote, bracket or space after a colon, for a text with a comma, colon, # or ? that wants quotes, and for tabs: indent with spaces",
		},
	},
}
