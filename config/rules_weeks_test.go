package config

import "testing"

func TestWeekRules(t *testing.T) { badOnce(t, weekRules) }

var weekRules = []badCase{
	{
		"not from week 1", steadyFile,
		"  1:\n",
		"  2:\n",
		[]string{
			"programs/steady.yaml:17:3: the first row begins at week 2; begin the table at week 1; there is no dose before it otherwise",
		},
	},
	{
		"backwards", steadyFile,
		"  3:\n    - {do: calf, sets",
		"  2:\n    - {do: band, reps: 9}\n  5:\n    - {do: band, reps: 9}\n  3:\n    - {do: calf, sets",
		[]string{
			"programs/steady.yaml:23:3: week 3 stands after week 5: the table goes backwards; put the rows in order of their weeks",
		},
	},
	{
		"week twice", steadyFile,
		"  3:\n",
		"  1:\n",
		[]string{
			"enrollments.yaml:23:9: the cap is at step 2, but the program has 1 step; count the rows of its table from 1",
			`programs/steady.yaml:12:3: warning: the exercise "band" is never used; add a dose that does it, or take it away`,
			`programs/steady.yaml:19:3: the key "1" stands here again, first on line 17; keep one of them`,
		},
	},
	{
		"no number", steadyFile,
		"  3:\n",
		"  third:\n",
		[]string{
			`programs/steady.yaml:19:3: weeks has no week "third"; write the number of the week a row begins with, from 1 to 104`,
		},
	},
	{
		"leading nought", steadyFile,
		"  3:\n",
		"  03:\n",
		[]string{
			`programs/steady.yaml:19:3: weeks has no week "03"; write the number of the week a row begins with, from 1 to 104`,
		},
	},
	{
		"past the length", steadyFile,
		"  3:\n",
		"  7:\n",
		[]string{
			"programs/steady.yaml:19:3: week 7 lies past the program's length of 6 weeks; make the program longer, or take the row away",
		},
	},
	{
		"empty row", steadyFile,
		"  1:\n    - {do: calf, reps: 3, hold: 10s, sessions: 2}\n",
		"  1: []\n",
		[]string{
			`programs/steady.yaml:17:3: warning: week "1" has no doses, so nothing is done until the next row; write its doses, or take the row away`,
		},
	},
	{
		"too many doses", steadyFile,
		"    - {do: band",
		"    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: calf, reps: 9, on: mon}\n    - {do: band",
		[]string{
			"programs/steady.yaml:19:3: week 3 has more than 20 doses; leave some out; nobody does as many",
		},
	},
	{
		"row is no list", steadyFile,
		"    - {do: calf, reps: 3, hold: 10s, sessions: 2}\n",
		"    do: calf\n",
		[]string{
			`programs/steady.yaml:18:5: weeks "1" should be a list; begin each item on a line of its own with a dash and a space`,
		},
	},
	{
		"unknown exercise", steadyFile,
		"{do: calf, reps: 3",
		"{do: clf, reps: 3",
		[]string{
			`programs/steady.yaml:18:12: there is no exercise "clf"; did you mean "calf"?`,
		},
	},
	{
		"no exercise", steadyFile,
		"{do: calf, reps: 3",
		"{reps: 3",
		[]string{
			"programs/steady.yaml:18:7: do is missing; write the id of the exercise",
		},
	},
	{
		"no reps", steadyFile,
		"{do: calf, reps: 3, ",
		"{do: calf, ",
		[]string{
			"programs/steady.yaml:18:7: reps is missing; write how many times the exercise is done in a set",
		},
	},
	{
		"sets out of range", steadyFile,
		"sets: 2,",
		"sets: 21,",
		[]string{
			`programs/steady.yaml:20:24: sets is out of range: "21"; write a whole number from 1 to 20`,
		},
	},
	{
		"no sets at all", steadyFile,
		"sets: 2,",
		"sets: 0,",
		[]string{
			`programs/steady.yaml:20:24: sets is out of range: "0"; write a whole number from 1 to 20`,
		},
	},
	{
		"reps out of range", steadyFile,
		"reps: 10",
		"reps: 201",
		[]string{
			`programs/steady.yaml:21:24: reps is out of range: "201"; write a whole number from 1 to 200`,
		},
	},
	{
		"reps as a fraction", steadyFile,
		"reps: 10",
		"reps: 1.5",
		[]string{
			`programs/steady.yaml:21:24: reps can't be read: "1.5"; write a whole number from 1 to 200`,
		},
	},
	{
		"sessions out of range", steadyFile,
		"sessions: 2",
		"sessions: 11",
		[]string{
			`programs/steady.yaml:18:48: sessions is out of range: "11"; write a whole number from 1 to 10`,
		},
	},
	{
		"hold without unit", steadyFile,
		"hold: 10s",
		"hold: 10",
		[]string{
			`programs/steady.yaml:18:33: hold can't be read: "10"; write a number with its unit, like 10s`,
		},
	},
	{
		"hold too long", steadyFile,
		"hold: 10s",
		"hold: 11 min",
		[]string{
			`programs/steady.yaml:18:33: hold is out of range: "11 min"; write from 1 second to 10 minutes`,
		},
	},
	{
		"hold of nothing", steadyFile,
		"hold: 10s",
		"hold: 0s",
		[]string{
			`programs/steady.yaml:18:33: hold is out of range: "0s"; write from 1 second to 10 minutes`,
		},
	},
	{
		"unknown days", steadyFile,
		"on: every other day",
		"on: sometimes",
		[]string{
			`programs/steady.yaml:21:32: on can't be read: "sometimes"; write every day, every other day, 3 days a week, or a list of weekdays like [mon, thu]`,
		},
	},
	{
		"a day twice", steadyFile,
		"on: every other day",
		"on: [mon, thu, Monday]",
		[]string{
			`programs/steady.yaml:21:43: on names "Monday" twice; keep one of them`,
		},
	},
	{
		"eight days a week", steadyFile,
		"on: every other day",
		"on: 8 days a week",
		[]string{
			`programs/steady.yaml:21:32: on can't be read: "8 days a week"; write every day, every other day, 3 days a week, or a list of weekdays like [mon, thu]`,
		},
	},
	{
		"twice on the same day", steadyFile,
		"    - {do: band",
		"    - {do: calf, reps: 9, on: [mon]}\n    - {do: band",
		[]string{
			`programs/steady.yaml:21:7: week 3 asks for "calf" twice on the same day, first at programs/steady.yaml:20:7; write one dose with more sets or sessions, or different days`,
		},
	},
	{
		"too rarely to get past", steadyFile,
		"hold: 10s, sessions: 2",
		"hold: 10s, on: 1 day a week",
		[]string{
			"programs/steady.yaml:17:3: warning: week 1 never has two due days within 7 days, so no patient can get past it; let its exercises come up more often, or make advance: of last longer",
		},
	},
	{
		"four exercises on one day", steadyFile,
		"weeks:\n  1:\n",
		"  a1: {kind: balance, name: A, how: B}\n  a2: {kind: other, name: C, how: D}\n  a3: {kind: mobility, name: E, how: F}\nweeks:\n  1:\n    - {do: a1, reps: 1}\n    - {do: a2, reps: 1}\n    - {do: a3, reps: 1}\n",
		[]string{
			"programs/steady.yaml:20:3: warning: week 1 asks for 4 exercises on one day; three are more likely to be done; spread them over the week or leave one out",
		},
	},
}
