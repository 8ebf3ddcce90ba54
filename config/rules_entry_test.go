package config

import "testing"

func TestEntryRules(t *testing.T) { badOnce(t, entryRules) }

var entryRules = []badCase{
	{
		"does nothing", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{by: J. Marlowe DPM}",
		[]string{
			"enrollments.yaml:22:9: the entry doesn't say what it does; write one of hold, release, cap, discharge, confirm contact, release wear, review done, strike, replace or report, with its date",
		},
	},
	{
		"does two things", enrollmentsFile,
		"{release: 2026-10-22, by",
		"{release: 2026-10-22, hold: 2026-10-23, by",
		[]string{
			"enrollments.yaml:22:9: the entry does several things: hold, release; write an entry for each",
		},
	},
	{
		"unknown kind", enrollmentsFile,
		"{release: 2026",
		"{realease: 2026",
		[]string{
			"enrollments.yaml:22:9: the entry doesn't say what it does; write one of hold, release, cap, discharge, confirm contact, release wear, review done, strike, replace or report, with its date",
			`enrollments.yaml:22:10: unknown key "realease"; did you mean "release"?`,
		},
	},
	{
		"a report of nothing", enrollmentsFile,
		"{release: 2026-10-22, by",
		"{report: 2026-10-22, by",
		[]string{
			"enrollments.yaml:22:9: said is missing; write what the patient said, as a text would have it, like said: D P2",
		},
	},
	{
		"a report that is a bare number", enrollmentsFile,
		"{release: 2026-10-22, by",
		"{report: 2026-10-22, said: \"8\", by",
		[]string{
			"enrollments.yaml:22:36: said is a bare number, which answers no question here; write it with its letter, as a text would have it: for pain that is a P in English, like P8",
		},
	},
	{
		"said by nobody's report", enrollmentsFile,
		"{release: 2026-10-22, by",
		"{release: 2026-10-22, said: D P2, by",
		[]string{
			"enrollments.yaml:22:37: only a report has said; write report: with the date, or take said away",
		},
	},
	{
		"by nobody", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{release: 2026-10-22}",
		[]string{
			"enrollments.yaml:22:9: by is missing; write the clinician's name",
		},
	},
	{
		"no date", enrollmentsFile,
		"{release: 2026-10-22, by",
		"{release: , by",
		[]string{
			"enrollments.yaml:22:19: release is empty; write its value, or take the line away",
		},
	},
	{
		"date that does not exist", enrollmentsFile,
		"{release: 2026-10-22",
		"{release: 2026-10-32",
		[]string{
			`enrollments.yaml:22:19: release is no date: "2026-10-32"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"two dates", enrollmentsFile,
		"{release: 2026-10-22,",
		"{release: 2026-10-22, on: 2026-10-22,",
		[]string{
			`enrollments.yaml:22:35: a release has its date after "release:", and no on; write the date there`,
		},
	},
	{
		"cap without date", enrollmentsFile,
		"cap: 2, on: 2026-10-22,",
		"cap: 2,",
		[]string{
			"enrollments.yaml:23:9: on is missing; write the date of the cap, like 2026-10-20",
		},
	},
	{
		"cap at no step", enrollmentsFile,
		"cap: 2,",
		"cap: second,",
		[]string{
			`enrollments.yaml:23:15: cap can't be read: "second"; write the number of the highest step, from 1, or none to lift the cap`,
		},
	},
	{
		"cap over the last step", enrollmentsFile,
		"cap: 2,",
		"cap: 3,",
		[]string{
			"enrollments.yaml:23:9: the cap is at step 3, but the program has 2 steps; count the rows of its table from 1",
		},
	},
	{
		"the same twice", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{hold: 2026-10-20, by: J. Marlowe DPM, why: swollen}",
		[]string{
			"enrollments.yaml:22:9: warning: this entry is word for word the one at enrollments.yaml:21:9 and counts only once; take one of them away, or change its date",
		},
	},
	{
		"discharged before the beginning", enrollmentsFile,
		"{release: 2026-10-22, by",
		"{discharge: 2026-10-02, by",
		[]string{
			"enrollments.yaml:22:21: the discharge is dated before the enrollment begins; look whether both dates are right",
		},
	},
	{
		"discharged twice", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{discharge: 2026-11-22, by: J. Marlowe DPM}\n      - {discharge: 2026-11-23, by: J. Marlowe DPM}",
		[]string{
			"enrollments.yaml:23:9: the patient is discharged a second time, first at enrollments.yaml:22:9; keep one of them",
		},
	},
	{
		"of a hold, and no release", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{hold: 2026-10-22, of hold: 2026-10-20, by: J. Marlowe DPM}",
		[]string{"enrollments.yaml:22:37: only a release can be of a hold; take it away"},
	},
	{
		"of a hold after it", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{release: 2026-10-22, of hold: 2026-10-23, by: J. Marlowe DPM}",
		[]string{"enrollments.yaml:22:40: the hold would begin after its release; write the date of the hold"},
	},
	{
		"of a hold and as before", enrollmentsFile,
		"{release: 2026-10-22, by: J. Marlowe DPM}",
		"{release: 2026-10-22, of hold: 2026-10-20, as before: true, by: J. Marlowe DPM}",
		[]string{"enrollments.yaml:22:40: as before is about a pause, which a release of a hold leaves; take one of them away"},
	},
}
