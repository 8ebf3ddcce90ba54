package config

import "testing"

func TestRecordRules(t *testing.T) { badIn(t, rich, recordRules) }

// recordRules: entries on a patient's record.
var recordRules = []badCase{
	{
		"as before on a hold", enrollmentsFile,
		"why: swollen",
		"as before: true, why: swollen",
		[]string{
			"enrollments.yaml:31:59: only a release can be as before; take it away",
		},
	},
	{
		"as before in other words", enrollmentsFile,
		"as before: true",
		"as before: step 2",
		[]string{
			`enrollments.yaml:32:62: as before can't be "step 2"; choose one of false, true`,
		},
	},
	{
		"strike without why", enrollmentsFile,
		", why: meant 3",
		"",
		[]string{
			"enrollments.yaml:37:9: why is missing; write why the patient's report was wrong; it is kept with the record",
		},
	},
	{
		"strike without date", enrollmentsFile,
		"{strike: 2026-10-14, on: 2026-10-15,",
		"{strike: 2026-10-14,",
		[]string{
			"enrollments.yaml:37:9: on is missing; write the date of the strike, like 2026-10-20",
		},
	},
	{
		"strike of no date", enrollmentsFile,
		"{strike: 2026-10-14",
		"{strike: yesterday",
		[]string{
			`enrollments.yaml:37:18: strike is no date: "yesterday"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"strike before the report", enrollmentsFile,
		"{strike: 2026-10-14",
		"{strike: 2026-10-17",
		[]string{
			"enrollments.yaml:37:9: the entry is dated before the report it changes; look whether both dates are right",
		},
	},
	{
		"strike of a time before", enrollmentsFile,
		"{strike: 2026-10-14",
		"{strike: 2026-10-01",
		[]string{
			"enrollments.yaml:37:9: the report is dated before the enrollment begins; write the day the patient was asked about",
		},
	},
	{
		"strike with a score", enrollmentsFile,
		"{strike: 2026-10-14,",
		"{strike: 2026-10-14, score: 3,",
		[]string{
			"enrollments.yaml:37:37: only a replace has a score; write replace: with the day of the report, or take the score away",
		},
	},
	{
		"replace without a score", enrollmentsFile,
		"score: 3, ",
		"",
		[]string{
			"enrollments.yaml:38:9: score is missing; write the score that counts instead, from 0 to 10",
		},
	},
	{
		"replace with too high a score", enrollmentsFile,
		"score: 3",
		"score: 33",
		[]string{
			`enrollments.yaml:38:38: score is out of range: "33"; write a whole number from 0 to 10`,
		},
	},
	{
		"replace without why", enrollmentsFile,
		", why: typed 33",
		"",
		[]string{
			"enrollments.yaml:38:9: why is missing; write why the patient's report was wrong; it is kept with the record",
		},
	},
	{
		"replace by nobody", enrollmentsFile,
		"score: 3, on: 2026-10-15, by: J. Marlowe DPM",
		"score: 3, on: 2026-10-15",
		[]string{
			"enrollments.yaml:38:9: by is missing; write the clinician's name",
		},
	},
	{
		"release wear with on", enrollmentsFile,
		"{release wear: 2026-10-16,",
		"{release wear: 2026-10-16, on: 2026-10-16,",
		[]string{
			`enrollments.yaml:35:40: a release wear has its date after "release wear:", and no on; write the date there`,
		},
	},
	{
		"review on no date", enrollmentsFile,
		"{review done: 2026-11-20",
		"{review done: yes",
		[]string{
			`enrollments.yaml:36:23: review done is no date: "yes"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"release of what", enrollmentsFile,
		"{release wear: 2026-10-16, by",
		"{release wear: 2026-10-16, release: 2026-10-16, by",
		[]string{
			"enrollments.yaml:35:9: the entry does several things: release, release wear; write an entry for each",
		},
	},
}
