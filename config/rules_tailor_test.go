package config

import "testing"

func TestTailorRules(t *testing.T) { badIn(t, rich, tailorRules) }

// tailorRules: what is changed for one patient.
var tailorRules = []badCase{
	{
		"unknown exercise", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: calves, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:16:21: the program "steady" has no exercise "calves"; choose one of calf, raise`,
		},
	},
	{
		"unknown exercise to change", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: rise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:15:20: the program "steady" has no exercise "rise"; did you mean "raise"?`,
		},
	},
	{
		"no exercise", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:15:9: this names no exercise; write leave out: with an exercise, or exercise: with what is changed",
		},
	},
	{
		"both", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: raise, exercise: raise, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:15:9: this both leaves an exercise out and changes one; write an item for each",
		},
	},
	{
		"leave out with sets", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: calf, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:16:33: sets does not go with leave out; take it away, or write exercise: instead of leave out:",
		},
	},
	{
		"changes nothing", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: raise, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:15:9: nothing is changed in the exercise; write form: or sets: beside it, or leave out: in place of exercise:",
		},
	},
	{
		"side without form", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: raise, side: left, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:15:33: side says on which side the form is done, and there is no form; write form: beside it, or take side away",
		},
	},
	{
		"unknown side", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: calf, form: toes-in, side: both, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:16:47: side can't be "both"; choose one of left, right`,
		},
	},
	{
		"unknown form", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: raise, form: toes-in, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:15:33: the exercise "raise" has no form "toes-in"; write its forms first, below the exercise: forms: {toes-in: WORDS}`,
		},
	},
	{
		"sets not fewer", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: raise, sets: 4, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:15:33: the program asks for 4 sets of "raise" at the most, so this leaves nothing out; write fewer, or take sets away`,
		},
	},
	{
		"no sets", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: raise, sets: 0, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:15:33: sets is out of range: "0"; write a whole number from 1 to 20`,
		},
	},
	{
		"by nobody", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: calf, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:16:9: by is missing; write the name of the clinician who changed this",
		},
	},
	{
		"on no date", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: calf, by: J. Marlowe DPM}",
		[]string{
			"enrollments.yaml:16:9: on is missing; write the date of the change, like 2026-10-05",
		},
	},
	{
		"left out twice", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:16:9: this leaves out "calf", as does the one at enrollments.yaml:15:9; keep one of them`,
		},
	},
	{
		"left out and changed", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: calf, form: toes-in, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:15:32: week 1 asks for "calf" in several forms on one day, and this would make them one form done twice; write the patient a program of their own, or take the form away`,
			`enrollments.yaml:16:9: this changes or leaves out "calf", as does the one at enrollments.yaml:15:9; keep one of them`,
		},
	},
	{
		"sets twice", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: raise, sets: 1, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:16:9: this sets the sets of "raise", as does the one at enrollments.yaml:15:9; keep one of them`,
		},
	},
	{
		"forms that meet on a day", enrollmentsFile,
		"{leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"{exercise: calf, form: toes-in, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			`enrollments.yaml:16:32: week 1 asks for "calf" in several forms on one day, and this would make them one form done twice; write the patient a program of their own, or take the form away`,
		},
	},
	{
		"everything left out", enrollmentsFile,
		"{exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		"{leave out: raise, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:15:9: warning: maintenance has nothing left to do for this patient; leave one of its exercises in",
			"enrollments.yaml:15:9: warning: week 1 has nothing left to do for this patient, and the program day waits at its end; leave one of its exercises in, or cap the patient at the step before",
			"enrollments.yaml:15:9: warning: week 3 has nothing left to do for this patient, and the program day waits at its end; leave one of its exercises in, or cap the patient at the step before",
		},
	},
	{
		"tailor is no list", enrollmentsFile,
		"    tailor:\n      - {exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}\n      - {leave out: calf, by: J. Marlowe DPM, on: 2026-10-05}",
		"    tailor: {exercise: raise, sets: 2, by: J. Marlowe DPM, on: 2026-10-05}",
		[]string{
			"enrollments.yaml:14:13: tailor should be a list; begin each item on a line of its own with a dash and a space",
		},
	},
}
