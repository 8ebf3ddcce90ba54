package config

import "testing"

func TestAfterRules(t *testing.T) { badIn(t, rich, afterRules) }

// afterRules: first step, reviews and maintenance.
var afterRules = []badCase{
	{
		"first step in an unknown word", steadyFile,
		"first step: {every: 14 days, rise: 3}",
		"first step: daily",
		[]string{
			`programs/steady.yaml:31:13: first step can't be read: "daily"; write weekly, off, or {every: 7 days, rise: 2}`,
		},
	},
	{
		"first step empty", steadyFile,
		"first step: {every: 14 days, rise: 3}",
		"first step:",
		[]string{
			"programs/steady.yaml:31:12: first step is empty; write its value, or take the line away",
		},
	},
	{
		"first step is a list", steadyFile,
		"first step: {every: 14 days, rise: 3}",
		"first step: [weekly]",
		[]string{
			"programs/steady.yaml:31:13: first step should have keys of its own; write them below it, one a line: every, rise",
		},
	},
	{
		"first step with an unknown key", steadyFile,
		"rise: 3}",
		"raise: 3}",
		[]string{
			`programs/steady.yaml:31:30: unknown key "raise"; did you mean "rise"?`,
		},
	},
	{
		"first step with the walker's own key", steadyFile,
		"rise: 3}",
		`"=": 3}`,
		[]string{
			`programs/steady.yaml:31:30: unknown key "="; the keys here are every, rise`,
		},
	},
	{
		"first step too rarely", steadyFile,
		"every: 14 days",
		"every: 29 days",
		[]string{
			`programs/steady.yaml:31:21: every is out of range: "29 days"; write from 1 day to 28 days`,
		},
	},
	{
		"first step without unit", steadyFile,
		"every: 14 days",
		"every: 14",
		[]string{
			`programs/steady.yaml:31:21: every can't be read: "14"; write a number of days or weeks, like 7 days`,
		},
	},
	{
		"first step rises by nothing", steadyFile,
		"rise: 3",
		"rise: 0",
		[]string{
			`programs/steady.yaml:31:36: rise is out of range: "0"; write a whole number from 1 to 10`,
		},
	},
	{
		"first step leaves no scores", steadyFile,
		"every: 14 days",
		"every: 1 day",
		[]string{
			"programs/steady.yaml:31:21: warning: first-step pain is asked instead of the daily score, so 7 days can't bring the 3 scores that advance asks for; ask it less often, or make advance: scores smaller",
		},
	},
	{
		"first step leaves too few scores by default", steadyFile,
		"advance: {done: 80%, of last: 1 week, scores: 3}\nfirst step: {every: 14 days, rise: 3}\n",
		"advance: {scores: 7}\n",
		[]string{
			"programs/steady.yaml:30:1: warning: first-step pain is asked instead of the daily score, so 7 days can't bring the 7 scores that advance asks for; ask it less often, or make advance: scores smaller",
		},
	},
	{
		"review before the first week", steadyFile,
		"[3, 6]",
		"[1, 6]",
		[]string{
			`programs/steady.yaml:32:22: review before week is out of range: "1"; write a week from 2 to 12`,
		},
	},
	{
		"review after the end", steadyFile,
		"[3, 6]",
		"[3, 13]",
		[]string{
			`programs/steady.yaml:32:25: review before week is out of range: "13"; write a week from 2 to 12`,
		},
	},
	{
		"review backwards", steadyFile,
		"[3, 6]",
		"[6, 3]",
		[]string{
			"programs/steady.yaml:32:25: review before week has week 3 after week 6; write the weeks in order",
		},
	},
	{
		"review twice", steadyFile,
		"[3, 6]",
		"[3, 3]",
		[]string{
			"programs/steady.yaml:32:25: review before week names week 3 twice; keep one of them",
		},
	},
	{
		"review in words", steadyFile,
		"[3, 6]",
		"week six",
		[]string{
			`programs/steady.yaml:32:21: review before week can't be read: "week six"; write the number of a week, or a list of them like [6, 12]`,
		},
	},
	{
		"no months", steadyFile,
		"for: 6 months",
		"for: 0 months",
		[]string{
			`programs/steady.yaml:34:8: for is out of range: "0 months"; write from 1 month to 24 months`,
		},
	},
	{
		"too many months", steadyFile,
		"for: 6 months",
		"for: 25 months",
		[]string{
			`programs/steady.yaml:34:8: for is out of range: "25 months"; write from 1 month to 24 months`,
		},
	},
	{
		"months in weeks", steadyFile,
		"for: 6 months",
		"for: 26 weeks",
		[]string{
			`programs/steady.yaml:34:8: for can't be read: "26 weeks"; write a number of months, like 6 months`,
		},
	},
	{
		"no end", steadyFile,
		"  for: 6 months\n",
		"",
		[]string{
			"programs/steady.yaml:33:1: for is missing; write how long it goes on, like 6 months",
		},
	},
	{
		"messages without a week", steadyFile,
		"messages: 2 a week",
		"messages: 2",
		[]string{
			`programs/steady.yaml:35:13: messages can't be read: "2"; write how many a week from 1 to 7, like 2 a week`,
		},
	},
	{
		"messages too many", steadyFile,
		"messages: 2 a week",
		"messages: 8 a week",
		[]string{
			`programs/steady.yaml:35:13: messages can't be read: "8 a week"; write how many a week from 1 to 7, like 2 a week`,
		},
	},
	{
		"no messages", steadyFile,
		"  messages: 2 a week\n",
		"",
		[]string{
			"programs/steady.yaml:33:1: messages is missing; write how many messages go out, like 2 a week",
		},
	},
	{
		"no doses", steadyFile,
		"  doses:\n    - {do: raise, sets: 2, reps: 10, load: body weight}\n    - {do: calf, reps: 3, sessions: 2}\n",
		"",
		[]string{
			"programs/steady.yaml:33:1: doses is missing; write its doses as a list, like those of a week",
		},
	},
	{
		"empty doses", steadyFile,
		"  doses:\n    - {do: raise, sets: 2, reps: 10, load: body weight}\n    - {do: calf, reps: 3, sessions: 2}\n",
		"  doses: []\n",
		[]string{
			"programs/steady.yaml:33:1: maintenance has no doses; write what should go on, or take maintenance away",
		},
	},
	{
		"unknown exercise", steadyFile,
		"{do: calf, reps: 3, sessions: 2}",
		"{do: calves, reps: 3}",
		[]string{
			`programs/steady.yaml:38:12: there is no exercise "calves"; choose one of calf, raise`,
		},
	},
	{
		"maintenance without length", steadyFile,
		"length: 12 weeks\n",
		"",
		[]string{
			"programs/steady.yaml:32:1: maintenance follows the end of the table, and the program has no length; write length:, like length: 12 weeks",
		},
	},
	{
		"maintenance is one word", steadyFile,
		"maintenance:\n  for: 6 months\n  messages: 2 a week\n  doses:\n    - {do: raise, sets: 2, reps: 10, load: body weight}\n    - {do: calf, reps: 3, sessions: 2}\n",
		"maintenance: yes\n",
		[]string{
			"programs/steady.yaml:33:14: maintenance should have keys of its own; write them below it, one a line: doses, for, messages",
		},
	},
}
