package config

import "testing"

func TestSMSRules(t *testing.T) { badOnce(t, smsRules) }

const oneNumber = "  from: \"+12125550100\"\n"

// smsRules: the numbers texts come from, and how the carrier is asked.
var smsRules = []badCase{
	{
		"no number", settingsFile,
		oneNumber,
		"",
		[]string{
			"stepgate.yaml:13:1: sms has no number that the texts come from; write from: and the number with its country code, or numbers: with several of them",
		},
	},
	{
		"one number and several", settingsFile,
		oneNumber,
		oneNumber + "  numbers: [{from: \"+12125550101\"}]\n",
		[]string{
			"stepgate.yaml:16:9: from and numbers stand together; keep from for one number, or numbers for several",
		},
	},
	{
		"both, and more wrong with each", settingsFile,
		oneNumber,
		oneNumber + "  daily cap: 0\n  numbers: [{rate: 3}]\n",
		[]string{
			"stepgate.yaml:16:9: from and numbers stand together; keep from for one number, or numbers for several",
			`stepgate.yaml:17:14: daily cap is out of range: "..."; write a whole number from 1 to 999999`,
			"stepgate.yaml:18:13: from is missing; write the number with its country code",
		},
	},
	{
		"no numbers in the list", settingsFile,
		oneNumber,
		"  numbers: []\n",
		[]string{
			`stepgate.yaml:13:1: numbers is an empty list; write the numbers below it, like - {from: "+1...", rate: 1}`,
		},
	},
	{
		"numbers is no list", settingsFile,
		oneNumber,
		"  numbers: {from: \"+12125550101\"}\n",
		[]string{
			"stepgate.yaml:16:12: numbers should be a list; begin each item on a line of its own with a dash and a space",
		},
	},
	{
		"numbers without keys", settingsFile,
		oneNumber,
		"  numbers: [\"+12125550101\"]\n",
		[]string{
			"stepgate.yaml:16:13: an item of numbers should have keys of its own; write them below it, one a line: daily cap, from, rate",
		},
	},
	{
		"a number without from", settingsFile,
		oneNumber,
		"  numbers: [{rate: 3}]\n",
		[]string{
			"stepgate.yaml:16:13: from is missing; write the number with its country code",
		},
	},
	{
		"one of several is no number", settingsFile,
		oneNumber,
		"  numbers: [{from: 2125550100}, {from: \"+12125550101\"}]\n",
		[]string{
			`stepgate.yaml:16:20: from is no phone number that can be texted; write it with + and the country code, without letters or extension, like "+12125550123"`,
		},
	},
	{
		"a number twice", settingsFile,
		oneNumber,
		"  numbers: [{from: \"+12125550100\"}, {from: +1 212-555-0100}]\n",
		[]string{
			"stepgate.yaml:16:44: this number stands here twice, first at stepgate.yaml:16:20; keep one of them",
		},
	},
	{
		"daily cap beside several", settingsFile,
		oneNumber,
		"  numbers: [{from: \"+12125550100\"}]\n  daily cap: 2000\n",
		[]string{
			`stepgate.yaml:17:14: daily cap stands beside numbers, so it does not say whose it is; write it with each number, like {from: "+1...", daily cap: 2000}`,
		},
	},
	{
		"rate nought", settingsFile,
		oneNumber,
		"  numbers: [{from: \"+12125550100\", rate: 0}]\n",
		[]string{
			`stepgate.yaml:16:42: rate is out of range: "0"; write a plain number from 0.01 to 1000`,
		},
	},
	{
		"rate too small", settingsFile,
		oneNumber,
		oneNumber + "  rate: 0.009\n",
		[]string{
			`stepgate.yaml:17:9: rate is out of range: "..."; write a plain number from 0.01 to 1000`,
		},
	},
	{
		"rate too big", settingsFile,
		oneNumber,
		oneNumber + "  rate: 1000.1\n",
		[]string{
			`stepgate.yaml:17:9: rate is out of range: "..."; write a plain number from 0.01 to 1000`,
		},
	},
	{
		"rate in words", settingsFile,
		oneNumber,
		"  numbers: [{from: \"+12125550100\", rate: 1 a second}]\n",
		[]string{
			`stepgate.yaml:16:42: rate can't be read: "1 a second"; write a plain number from 0.01 to 1000`,
		},
	},
	{
		"daily cap nought", settingsFile,
		oneNumber,
		oneNumber + "  daily cap: 0\n",
		[]string{
			`stepgate.yaml:17:14: daily cap is out of range: "..."; write a whole number from 1 to 999999`,
		},
	},
	{
		"daily cap for the one patient", settingsFile,
		oneNumber,
		oneNumber + "  daily cap: 1\n",
		nil,
	},
	{
		"poll too seldom", settingsFile,
		oneNumber,
		oneNumber + "  poll: 6 min\n",
		[]string{
			`stepgate.yaml:17:9: poll is out of range: "..."; write from 1 second to 5 minutes`,
		},
	},
	{
		"poll without unit", settingsFile,
		oneNumber,
		oneNumber + "  poll: 60\n",
		[]string{
			`stepgate.yaml:17:9: poll can't be read: "..."; write a number with its unit, like 1m`,
		},
	},
	{
		"looking again at once", settingsFile,
		oneNumber,
		oneNumber + "  look again: 0s\n",
		[]string{
			`stepgate.yaml:17:15: look again is out of range: "..."; write from 1 second to 10 minutes`,
		},
	},
	{
		"undelivered for long", settingsFile,
		oneNumber,
		oneNumber + "  undelivered: 15 days\n",
		[]string{
			`stepgate.yaml:17:16: undelivered is out of range: "..."; write from 1 day to 14 days`,
		},
	},
	{
		"undelivered without unit", settingsFile,
		oneNumber,
		oneNumber + "  undelivered: 2\n",
		[]string{
			`stepgate.yaml:17:16: undelivered can't be read: "..."; write a number of days or weeks, like 7 days`,
		},
	},
	{
		"texts not kept", settingsFile,
		oneNumber,
		oneNumber + "  content: discard\n",
		[]string{
			"stepgate.yaml:17:12: content can't be discard: a text whose hand-over was cut off could not be found again in the carrier's list; write retain, or take the line away",
		},
	},
	{
		"numbers not kept", settingsFile,
		oneNumber,
		oneNumber + "  addresses: obfuscate\n",
		[]string{
			"stepgate.yaml:17:14: addresses can't be obfuscate: a text whose hand-over was cut off could not be found again in the carrier's list; write retain, or take the line away",
		},
	},
	{
		"content is something else", settingsFile,
		oneNumber,
		oneNumber + "  content: keep\n",
		[]string{
			`stepgate.yaml:17:12: content can't be "..."; write retain`,
		},
	},
	{
		"some accents", settingsFile,
		oneNumber,
		oneNumber + "  accents: some\n",
		[]string{
			`stepgate.yaml:17:12: accents can't be "..."; choose one of drop, keep`,
		},
	},
	{
		"nobody answers STOP", settingsFile,
		oneNumber,
		oneNumber + "  stop reply: nobody\n",
		[]string{
			`stepgate.yaml:17:15: stop reply can't be "..."; choose one of carrier, clinic`,
		},
	},
	{
		"no web hook", settingsFile,
		"  listen: 127.0.0.1:8090\n  public: https://clinic.example.com/sms\n",
		"",
		nil,
	},
	{
		"admin by two ways", settingsFile,
		"spool: {dir",
		"admin: {email: admin@example.org, spool: admin}\nspool: {dir",
		[]string{
			"stepgate.yaml:12:16: admin has more than one contact: spool, email; keep one of them",
		},
	},
	{
		"admin by a channel not set up", settingsFile,
		"spool: {dir: data/spool}\n" + baseSettings[smsAt:emailAt],
		"admin: {sms: \"+12125550144\"}\n",
		[]string{
			"enrollments.yaml:7:10: the enrollment is on sms, which is not set up; add sms: to stepgate.yaml, or use spool",
			"stepgate.yaml:12:14: the admin is told by sms, which is not set up; add sms: to stepgate.yaml, or use spool",
		},
	},
	{
		"admin at the clinic's own number", settingsFile,
		"spool: {dir",
		"admin: {sms: \"+12125550100\"}\nspool: {dir",
		[]string{
			"stepgate.yaml:12:14: this is a number that the clinic's texts come from; write the number of a person",
		},
	},
}
