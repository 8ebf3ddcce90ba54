package config

import "testing"

func TestPersonRules(t *testing.T) { badIn(t, rich, personRules) }

// personRules: what an enrollment says of the person.
var personRules = []badCase{
	{
		"starting day nought", enrollmentsFile,
		"starting day: 15",
		"starting day: 0",
		[]string{
			`enrollments.yaml:8:19: starting day is out of range: "0"; write a whole number from 1 to 728`,
		},
	},
	{
		"starting day past the end", enrollmentsFile,
		"starting day: 15",
		"starting day: 85",
		[]string{
			"enrollments.yaml:8:19: starting day 85 lies past the program's last day, 84; write a day of its table",
		},
	},
	{
		"starting day is a date", enrollmentsFile,
		"starting day: 15",
		"starting day: 2026-10-05",
		[]string{
			`enrollments.yaml:8:19: starting day can't be read: "2026-10-05"; write a whole number from 1 to 728`,
		},
	},
	{
		"unknown caution", enrollmentsFile,
		"balance, growing",
		"ballance, growing",
		[]string{
			`enrollments.yaml:10:45: cautions can't be "ballance"; did you mean "balance"?`,
		},
	},
	{
		"caution twice", enrollmentsFile,
		"balance, growing",
		"balance, Balance",
		[]string{
			`enrollments.yaml:10:54: cautions names "Balance" twice; keep one of them`,
		},
	},
	{
		"no cautions", enrollmentsFile,
		"[reduced sensation, diabetes, balance, growing]",
		"[]",
		[]string{
			"enrollments.yaml:10:15: cautions is an empty list; write what belongs in it, or take the line away",
		},
	},
	{
		"usual pain over ten", enrollmentsFile,
		"{pain: 2, first",
		"{pain: 11, first",
		[]string{
			`enrollments.yaml:11:19: pain is out of range: "11"; write a whole number from 0 to 10`,
		},
	},
	{
		"usual says nothing", enrollmentsFile,
		"{pain: 2, first step: 4}",
		"{}",
		[]string{
			"enrollments.yaml:11:5: usual says nothing; write pain: or first step: with a score from 0 to 10",
		},
	},
	{
		"usual pain at the patient's own hold line", enrollmentsFile,
		"{pain: 2, first",
		"{pain: 4, first",
		[]string{
			"enrollments.yaml:11:19: warning: the usual pain of 4 is at or over the hold line of 4, so the patient would be held for good; give the patient pain: lines of their own, or look whether the score is right",
		},
	},
	{
		"usual pain over steady", enrollmentsFile,
		"{pain: 2, first",
		"{pain: 3, first",
		[]string{
			"enrollments.yaml:11:19: warning: the usual pain of 3 is over steady, 2, so the patient would never reach the next step; give the patient pain: lines of their own, or look whether the score is right",
		},
	},
	{
		"usual pain at the program's hold line", enrollmentsFile,
		"{pain: 2, first step: 4}\n    usual words: [fell, numb]\n    pain: {hold: 4, clear days: 5, by: J. Marlowe DPM, on: 2026-10-05}\n",
		"{pain: 5, first step: 4}\n",
		[]string{
			"enrollments.yaml:11:19: warning: the usual pain of 5 is at or over the hold line of 5, so the patient would be held for good; give the patient pain: lines of their own, or look whether the score is right",
		},
	},
	{
		"usual word twice", enrollmentsFile,
		"[fell, numb]",
		"[fell, numb, Fell]",
		[]string{
			`enrollments.yaml:12:31: usual words names "Fell" twice; keep one of them`,
		},
	},
	{
		"usual word empty", enrollmentsFile,
		"[fell, numb]",
		`[fell, ""]`,
		[]string{
			"enrollments.yaml:12:25: usual words is empty; write its value, or take the line away",
		},
	},
	{
		"own lines out of order", enrollmentsFile,
		"{hold: 4, clear",
		"{hold: 4, steady: 5, clear",
		[]string{
			"enrollments.yaml:13:18: the pain lines are out of order: steady 5, hold 4; let them rise: steady under hold, hold up to step back, step back up to pause",
		},
	},
	{
		"own line against the program's", enrollmentsFile,
		"{hold: 4, clear",
		"{hold: 2, clear",
		[]string{
			"enrollments.yaml:13:18: the pain lines are out of order: steady 2 (the program's), hold 2; let them rise: steady under hold, hold up to step back, step back up to pause",
		},
	},
	{
		"own line over the program's", enrollmentsFile,
		"{hold: 4, clear",
		"{hold: 7, clear",
		[]string{
			"enrollments.yaml:13:18: the pain lines are out of order: hold 7, step back 6 (the program's); let them rise: steady under hold, hold up to step back, step back up to pause",
		},
	},
	{
		"own line out of range", enrollmentsFile,
		"{hold: 4, clear",
		"{hold: 11, clear",
		[]string{
			`enrollments.yaml:13:18: hold is out of range: "11"; write a whole number from 0 to 10`,
		},
	},
	{
		"own lines set nothing", enrollmentsFile,
		"{hold: 4, clear days: 5, by",
		"{by",
		[]string{
			"enrollments.yaml:13:5: pain sets no line of the patient's own; write steady, hold, step back, pause or clear days, or take pain away",
		},
	},
	{
		"own lines by nobody", enrollmentsFile,
		"clear days: 5, by: J. Marlowe DPM, on: 2026-10-05}",
		"clear days: 5, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:13:5: by is missing; write the name of the clinician who set these lines",
		},
	},
	{
		"own lines on no date", enrollmentsFile,
		"clear days: 5, by: J. Marlowe DPM, on: 2026-10-05}",
		"clear days: 5, by: J. Marlowe DPM}",
		[]string{
			"enrollments.yaml:13:5: on is missing; write the date they were set, like 2026-10-05",
		},
	},
	{
		"proxy without a name", enrollmentsFile,
		"{name: Grace, relation: mother}",
		"{relation: mother}",
		[]string{
			"enrollments.yaml:4:5: name is missing; write the first name of the parent or carer who gets the texts",
		},
	},
	{
		"proxy without a relation", enrollmentsFile,
		"{name: Grace, relation: mother}",
		"{name: Grace}",
		[]string{
			"enrollments.yaml:4:5: relation is missing; write what they are to the patient, like mother",
		},
	},
	{
		"proxy is one word", enrollmentsFile,
		"{name: Grace, relation: mother}",
		"Grace",
		[]string{
			"enrollments.yaml:4:12: proxy should have keys of its own; write them below it, one a line: name, relation",
		},
	},
	{
		"visit before the beginning", enrollmentsFile,
		"[2026-11-20, 2027",
		"[2026-09-20, 2027",
		[]string{
			"enrollments.yaml:29:21: the visit is dated before the enrollment begins; look whether both dates are right",
		},
	},
	{
		"visits backwards", enrollmentsFile,
		"[2026-11-20, 2027-01-15]",
		"[2026-11-20, 2026-11-13]",
		[]string{
			"enrollments.yaml:29:33: review visits has 2026-11-13 after 2026-11-20; write the dates in order",
		},
	},
	{
		"visit twice", enrollmentsFile,
		"[2026-11-20, 2027-01-15]",
		"[2026-11-20, 2026-11-20]",
		[]string{
			"enrollments.yaml:29:33: review visits names 2026-11-20 twice; keep one of them",
		},
	},
	{
		"visit in words", enrollmentsFile,
		"[2026-11-20, 2027-01-15]",
		"in six weeks",
		[]string{
			`enrollments.yaml:29:20: review visits is no date: "in six weeks"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"device before the dispense date", enrollmentsFile,
		"{dispensed: 2026-10-05}",
		"{adjusted: 2026-10-04}",
		[]string{
			"enrollments.yaml:18:20: this is dated before the devices were dispensed; look whether both dates are right",
		},
	},
	{
		"dispensed again", enrollmentsFile,
		"{adjusted: 2026-10-20}",
		"{dispensed: 2026-10-20}",
		[]string{
			"enrollments.yaml:19:21: the devices were dispensed on 2026-10-05 already; write remade: or second pair: for new ones",
		},
	},
	{
		"devices out of order", enrollmentsFile,
		"{adjusted: 2026-10-20}",
		"{adjusted: 2026-10-23}",
		[]string{
			"enrollments.yaml:20:15: devices has 2026-10-22 after 2026-10-23; write what happened in order of the dates",
			"enrollments.yaml:21:16: the devices come back, but were not out; write out: with its date before it",
		},
	},
	{
		"back without out", enrollmentsFile,
		"      - {out: 2026-10-22}\n",
		"",
		[]string{
			"enrollments.yaml:20:16: the devices come back, but were not out; write out: with its date before it",
		},
	},
	{
		"out twice", enrollmentsFile,
		"      - {back: 2026-10-29}\n",
		"      - {out: 2026-10-29}\n",
		[]string{
			"enrollments.yaml:21:15: the devices are out already; write back: with its date before it, or take this away",
		},
	},
	{
		"device does two things", enrollmentsFile,
		"{adjusted: 2026-10-20}",
		"{adjusted: 2026-10-20, out: 2026-10-20}",
		[]string{
			"enrollments.yaml:19:9: an item of devices says one thing with its date; write one of dispensed, adjusted, out, back, remade or second pair, like {adjusted: 2026-10-20}",
		},
	},
	{
		"device does nothing", enrollmentsFile,
		"{adjusted: 2026-10-20}",
		"{}",
		[]string{
			"enrollments.yaml:19:9: an item of devices says one thing with its date; write one of dispensed, adjusted, out, back, remade or second pair, like {adjusted: 2026-10-20}",
		},
	},
	{
		"device lost", enrollmentsFile,
		"{adjusted: 2026-10-20}",
		"{lost: 2026-10-20}",
		[]string{
			"enrollments.yaml:19:9: an item of devices says one thing with its date; write one of dispensed, adjusted, out, back, remade or second pair, like {adjusted: 2026-10-20}",
			`enrollments.yaml:19:10: unknown key "lost"; the keys here are adjusted, back, dispensed, out, remade, second pair`,
		},
	},
	{
		"device on no date", enrollmentsFile,
		"{adjusted: 2026-10-20}",
		"{adjusted: soon}",
		[]string{
			`enrollments.yaml:19:20: adjusted is no date: "soon"; write a date that exists, like 2026-10-05`,
		},
	},
}
