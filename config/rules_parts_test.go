package config

import "testing"

func TestPartRules(t *testing.T) { badIn(t, rich, partRules) }

// partRules: what a dose says beyond its numbers, and forms.
var partRules = []badCase{
	{
		"form the exercise lacks", steadyFile,
		"form: toes-in, reps",
		"form: toes-on, reps",
		[]string{
			`programs/steady.yaml:24:24: the exercise "calf" has no form "toes-on"; did you mean "toes-in"?`,
		},
	},
	{
		"form of an exercise without forms", steadyFile,
		"load: 12RM",
		"form: on a step",
		[]string{
			`programs/steady.yaml:23:78: the exercise "raise" has no form "on a step"; write its forms first, below the exercise`,
		},
	},
	{
		"forms is a list", steadyFile,
		`forms: {toes-in: "Turn the toes in, then lean.", toes-out: {en: Turn the toes out.}}`,
		"forms: [toes-in, toes-out]",
		[]string{
			"programs/steady.yaml:20:12: forms should have keys of its own; write one a line, each with a colon after it",
			`programs/steady.yaml:24:24: the exercise "calf" has no form "toes-in"; write its forms first, below the exercise: forms: {toes-in: WORDS}`,
			`programs/steady.yaml:25:24: the exercise "calf" has no form "toes-out"; write its forms first, below the exercise: forms: {toes-out: WORDS}`,
		},
	},
	{
		"a comma in a form", steadyFile,
		`"Turn the toes in, then lean."`,
		"Turn the toes in, then lean.",
		[]string{
			`programs/steady.yaml:20:40: a comma inside {...} ended the text of forms here; put the whole text in quotes, like {en: "Stand up, then sit."}`,
		},
	},
	{
		"form with a bad id", steadyFile,
		`{toes-in: "Turn`,
		`{toes in!: "Turn`,
		[]string{
			"programs/steady.yaml:20:23: the form's id has letters in it that can't be used; write letters, digits, - and _ only, at most 40 of them",
			`programs/steady.yaml:24:24: the exercise "calf" has no form "toes-in"; did you mean "toes in!"?`,
		},
	},
	{
		"overlapping forms", steadyFile,
		"form: toes-out, reps",
		"form: toes-in, reps",
		[]string{
			`programs/steady.yaml:25:7: week 1 asks for "calf" in the form "toes-in" twice on the same day, first at programs/steady.yaml:24:7; write one dose with more sets or sessions, or different days`,
		},
	},
	{
		"overlap on some days", steadyFile,
		"form: toes-out, reps: 3, hold: 20s, on: [mon, thu]",
		"form: toes-in, reps: 3, on: [tue, thu]",
		[]string{
			`programs/steady.yaml:25:7: week 1 asks for "calf" in the form "toes-in" twice on the same day, first at programs/steady.yaml:24:7; write one dose with more sets or sessions, or different days`,
		},
	},
	{
		"overlap in maintenance", steadyFile,
		"    - {do: calf, reps: 3, sessions: 2}\n",
		"    - {do: calf, reps: 3, sessions: 2}\n    - {do: calf, reps: 5}\n",
		[]string{
			`programs/steady.yaml:39:7: maintenance asks for "calf" twice on the same day, first at programs/steady.yaml:38:7; write one dose with more sets or sessions, or different days`,
		},
	},
	{
		"the affected side twice", steadyFile,
		"form: toes-out, reps: 3,",
		"form: toes-in, side: affected, reps: 3,",
		[]string{
			`programs/steady.yaml:25:7: warning: week 1 asks the affected side for "calf" a second time on the same day, first at programs/steady.yaml:24:7; look whether this is meant; write different days if it is not`,
		},
	},
	{
		"rest without unit", steadyFile,
		"rest: 2 min",
		"rest: 2",
		[]string{
			`programs/steady.yaml:23:65: rest can't be read: "2"; write a number with its unit, like 2 min`,
		},
	},
	{
		"rest too long", steadyFile,
		"rest: 2 min",
		"rest: 31 min",
		[]string{
			`programs/steady.yaml:23:65: rest is out of range: "31 min"; write from 1 second to 30 minutes`,
		},
	},
	{
		"rest of one set", steadyFile,
		"sets: 3, reps: 12",
		"reps: 12",
		[]string{
			"programs/steady.yaml:23:56: warning: rest is the time between sets, and this dose has one set; write more sets, or take rest away",
		},
	},
	{
		"RM of nothing", steadyFile,
		"load: 12RM",
		"load: 0RM",
		[]string{
			`programs/steady.yaml:23:78: load is out of range: "0RM"; write from 1RM to 50RM`,
		},
	},
	{
		"RM too high", steadyFile,
		"load: 12RM",
		"load: 51RM",
		[]string{
			`programs/steady.yaml:23:78: load is out of range: "51RM"; write from 1RM to 50RM`,
		},
	},
	{
		"RM among words", steadyFile,
		"load: {en: a light band}",
		"load: {en: about 12 RM}",
		[]string{
			"programs/steady.yaml:27:44: load has an RM among its words, which patients can't read; write load: 12RM alone, or words alone",
		},
	},
	{
		"RM in plain words", steadyFile,
		"load: 12RM",
		"load: 12RM or so",
		[]string{
			"programs/steady.yaml:23:78: load has an RM among its words, which patients can't read; write load: 12RM alone, or words alone",
		},
	},
	{
		"load too long", steadyFile,
		"a light band",
		"a band that is light enough to be pulled all the way ten times over",
		[]string{
			"programs/steady.yaml:27:44: load is too long for a text; write at most 60 letters",
		},
	},
	{
		"load is a list", steadyFile,
		"load: 12RM",
		"load: [12RM]",
		[]string{
			`programs/steady.yaml:23:78: load should be one value; write it on the same line, after "load:"`,
		},
	},
	{
		"a comma in a load", steadyFile,
		"{en: a light band}",
		"{en: a light band, doubled}",
		[]string{
			`programs/steady.yaml:27:63: a comma inside {...} ended the text of load here; put the whole text in quotes, like {en: "Stand up, then sit."}`,
		},
	},
	{
		"tempo of two parts", steadyFile,
		"tempo: 3/2/3",
		"tempo: 3/3",
		[]string{
			`programs/steady.yaml:23:91: tempo can't be read: "3/3"; write the seconds up, held and down, like 3/2/3`,
		},
	},
	{
		"tempo in words", steadyFile,
		"tempo: 3/2/3",
		"tempo: slow",
		[]string{
			`programs/steady.yaml:23:91: tempo can't be read: "slow"; write the seconds up, held and down, like 3/2/3`,
		},
	},
	{
		"tempo too slow", steadyFile,
		"tempo: 3/2/3",
		"tempo: 3/61/3",
		[]string{
			`programs/steady.yaml:23:91: tempo is out of range: "3/61/3"; write up to 60 seconds for each part, and some for one of them`,
		},
	},
	{
		"tempo of nothing", steadyFile,
		"tempo: 3/2/3",
		"tempo: 0/0/0",
		[]string{
			`programs/steady.yaml:23:91: tempo is out of range: "0/0/0"; write up to 60 seconds for each part, and some for one of them`,
		},
	},
	{
		"tempo against hold", steadyFile,
		"tempo: 3/2/3",
		"hold: 5s, tempo: 3/2/3",
		[]string{
			"programs/steady.yaml:23:101: the tempo holds for 2 seconds, but hold says 5 seconds; take hold away; the tempo has it in the middle",
		},
	},
	{
		"hold longer than a day", steadyFile,
		"form: toes-in, reps: 3, hold: 20s",
		"form: toes-in, reps: 3, hold: 25 hours",
		[]string{
			`programs/steady.yaml:24:48: hold is out of range: "25 hours"; write from 1 second to 10 minutes`,
		},
	},
	{
		"wear during a hold", steadyFile,
		"during hold: goes on",
		"during hold: go on",
		[]string{
			`programs/steady.yaml:28:70: during hold can't be "go on"; did you mean "goes on"?`,
		},
	},
}
