package config

import "testing"

func TestProgramRules(t *testing.T) { badOnce(t, programRules) }

var programRules = []badCase{
	{
		"another name than its file", steadyFile,
		"program: steady",
		"program: steddy",
		[]string{
			`programs/steady.yaml:1:10: the program is called "steddy" but its file "steady.yaml"; give both the same name`,
		},
	},
	{
		"no title", steadyFile,
		"title: {en: Settling into your inserts}\n",
		"",
		[]string{
			"programs/steady.yaml:1:1: title is missing; write what the patient may read as the program's title",
		},
	},
	{
		"title in a language that does not ship", steadyFile,
		"title: {en: Settling into your inserts}",
		"title: {en: Settling in, xx: Foo}",
		[]string{
			`programs/steady.yaml:2:26: warning: no messages ship in the language "xx", so this text is never used; choose one of en, es`,
		},
	},
	{
		"not approved, on sms", steadyFile,
		"approved: {by: J. Marlowe DPM, on: 2026-10-01}\n",
		"",
		[]string{
			`programs/steady.yaml:1:1: the program is not approved, but 1 enrollment is not on the spool ("ada-1" at enrollments.yaml:2:5); have a clinician add approved: {by: NAME, on: DATE}, or move them to the spool`,
		},
	},
	{
		"approved by nobody", steadyFile,
		"{by: J. Marlowe DPM, on: 2026-10-01}",
		"{on: 2026-10-01}",
		[]string{
			"programs/steady.yaml:3:1: by is missing; write the name of the clinician who approved the program",
		},
	},
	{
		"approved on no date", steadyFile,
		"on: 2026-10-01}",
		"on: 2026-02-30}",
		[]string{
			`programs/steady.yaml:3:36: on is no date: "2026-02-30"; write a date that exists, like 2026-10-05`,
		},
	},
	{
		"length without unit", steadyFile,
		"6 weeks",
		"6",
		[]string{
			`programs/steady.yaml:4:9: length can't be read: "6"; write a number of weeks, like 12 weeks`,
		},
	},
	{
		"length in odd days", steadyFile,
		"6 weeks",
		"40 days",
		[]string{
			`programs/steady.yaml:4:9: length can't be read: "40 days"; write a number of weeks, like 12 weeks`,
		},
	},
	{
		"length too long", steadyFile,
		"6 weeks",
		"200 weeks",
		[]string{
			`programs/steady.yaml:4:9: length is out of range: "200 weeks"; write from 1 week to 104 weeks`,
		},
	},
	{
		"asks for nothing", steadyFile,
		"exercises:\n  calf:\n    kind: stretch\n    name: Wall calf stretch\n    side: each\n    needs: [wall]\n    how: Lean in.\n  band:\n    kind: strength\n    name: {en: Turn out}\n    how: Turn the foot out.\nweeks:\n  1:\n    - {do: calf, reps: 3, hold: 10s, sessions: 2}\n  3:\n    - {do: calf, sets: 2, reps: 3, hold: 20 s}\n    - {do: band, reps: 10, on: every other day, side: affected}\nwear: {first: 1h, add: 30 min, every: 2 days, full: 8h}\n",
		"",
		[]string{
			"enrollments.yaml:23:9: the cap is at step 2, but the program has 0 steps; count the rows of its table from 1",
			"programs/steady.yaml:1:1: the program asks for nothing; write weeks: with the doses, or wear: with the wear-in schedule",
		},
	},
	{
		"unknown kind", steadyFile,
		"kind: stretch",
		"kind: stretching",
		[]string{
			`programs/steady.yaml:7:11: kind can't be "stretching"; choose one of balance, mobility, other, strength, stretch`,
		},
	},
	{
		"no kind", steadyFile,
		"    kind: stretch\n",
		"",
		[]string{
			"programs/steady.yaml:6:3: kind is missing; write stretch, strength, balance, mobility or other",
		},
	},
	{
		"no name", steadyFile,
		"    name: Wall calf stretch\n",
		"",
		[]string{
			"programs/steady.yaml:6:3: name is missing; write what the patient should read as its name",
		},
	},
	{
		"no how", steadyFile,
		"    how: Lean in.\n",
		"",
		[]string{
			`programs/steady.yaml:6:3: warning: the exercise "calf" says nothing on how it is done; write how: with a sentence or two, for the patient who asks`,
		},
	},
	{
		"unknown side", steadyFile,
		"side: each",
		"side: both",
		[]string{
			`programs/steady.yaml:9:11: side can't be "both"; choose one of affected, alternate, each, together`,
		},
	},
	{
		"bad exercise id", steadyFile,
		"  calf:\n",
		"  calf raise!:\n",
		[]string{
			`programs/steady.yaml:6:3: warning: the exercise "calf raise!" is never used; add a dose that does it, or take it away`,
			"programs/steady.yaml:6:3: the exercise's id has letters in it that can't be used; write letters, digits, - and _ only, at most 40 of them",
			`programs/steady.yaml:18:12: there is no exercise "calf"; choose one of band, calf raise!`,
			`programs/steady.yaml:20:12: there is no exercise "calf"; choose one of band, calf raise!`,
		},
	},
	{
		"exercise twice", steadyFile,
		"  band:\n    kind",
		"  calf:\n    kind",
		[]string{
			`programs/steady.yaml:12:3: the key "calf" stands here again, first on line 6; keep one of them`,
			`programs/steady.yaml:21:12: there is no exercise "band"; write calf`,
		},
	},
	{
		"unknown key in an exercise", steadyFile,
		"    needs: [wall]",
		"    tools: [wall]",
		[]string{
			`programs/steady.yaml:10:5: unknown key "tools"; the keys here are care, easier, forms, how, kind, name, needs, side, why`,
		},
	},
	{
		"empty needs", steadyFile,
		"needs: [wall]",
		"needs: []",
		[]string{
			"programs/steady.yaml:10:12: needs is an empty list; write what belongs in it, or take the line away",
		},
	},
	{
		"exercise never used", steadyFile,
		"    - {do: band, reps: 10, on: every other day, side: affected}\n",
		"",
		[]string{
			`programs/steady.yaml:12:3: warning: the exercise "band" is never used; add a dose that does it, or take it away`,
		},
	},
}

func TestLineRules(t *testing.T) { badOnce(t, lineRules) }

var lineRules = []badCase{
	{
		"pain lines out of order", steadyFile,
		"hold: 5, step back: 6",
		"hold: 7, step back: 6",
		[]string{
			"programs/steady.yaml:23:39: the pain lines are out of order: hold 7, step back 6; let them rise: steady under hold, hold up to step back, step back up to pause",
		},
	},
	{
		"steady at the hold line", steadyFile,
		"steady: 2, hold: 5",
		"steady: 5, hold: 5",
		[]string{
			"programs/steady.yaml:23:25: the pain lines are out of order: steady 5, hold 5; let them rise: steady under hold, hold up to step back, step back up to pause",
		},
	},
	{
		"out of order with a default", steadyFile,
		"{steady: 2, hold: 5, step back: 6, pause: 9, clear days: 3}",
		"{hold: 7}",
		[]string{
			"programs/steady.yaml:23:14: the pain lines are out of order: hold 7, step back 6; let them rise: steady under hold, hold up to step back, step back up to pause",
		},
	},
	{
		"pain line out of range", steadyFile,
		"pause: 9",
		"pause: 11",
		[]string{
			`programs/steady.yaml:23:49: pause is out of range: "11"; write a whole number from 0 to 10`,
		},
	},
	{
		"clear days out of range", steadyFile,
		"clear days: 3",
		"clear days: 15",
		[]string{
			`programs/steady.yaml:23:64: clear days is out of range: "15"; write a whole number from 1 to 14`,
		},
	},
	{
		"no clear days", steadyFile,
		"clear days: 3",
		"clear days: 0",
		[]string{
			`programs/steady.yaml:23:64: clear days is out of range: "0"; write a whole number from 1 to 14`,
		},
	},
	{
		"done without percent", steadyFile,
		"done: 80%",
		"done: 80",
		[]string{
			`programs/steady.yaml:24:17: done can't be read: "80"; write a share from 0% to 100%, like 70%`,
		},
	},
	{
		"done over all", steadyFile,
		"done: 80%",
		"done: 101%",
		[]string{
			`programs/steady.yaml:24:17: done can't be read: "101%"; write a share from 0% to 100%, like 70%`,
		},
	},
	{
		"window too long", steadyFile,
		"of last: 1 week",
		"of last: 29 days",
		[]string{
			`programs/steady.yaml:24:31: of last is out of range: "29 days"; write from 1 day to 28 days`,
		},
	},
	{
		"window without unit", steadyFile,
		"of last: 1 week",
		"of last: 7",
		[]string{
			`programs/steady.yaml:24:31: of last can't be read: "7"; write a number of days or weeks, like 7 days`,
		},
	},
	{
		"more scores than days", steadyFile,
		"scores: 3",
		"scores: 8",
		[]string{
			"programs/steady.yaml:24:47: advance asks for 8 scores in 7 days; ask for at most one score a day",
		},
	},
	{
		"wear begins over full", steadyFile,
		"first: 1h",
		"first: 9h",
		[]string{
			"programs/steady.yaml:22:15: the wear-in begins with 9 hours, over its full time of 8 hours; write a first that is at most the full",
		},
	},
	{
		"wear over a day", steadyFile,
		"full: 8h",
		"full: 25h",
		[]string{
			`programs/steady.yaml:22:53: full is out of range: "25h"; write from 1 minute to 24 hours`,
		},
	},
	{
		"wear never grows", steadyFile,
		"add: 30 min, ",
		"",
		[]string{
			"programs/steady.yaml:22:1: add is missing; write how much longer they are worn each time, like 1h",
		},
	},
	{
		"wear grows by nothing", steadyFile,
		"add: 30 min",
		"add: 0m",
		[]string{
			`programs/steady.yaml:22:24: add is out of range: "0m"; write from 1 minute to 24 hours`,
		},
	},
	{
		"wear in seconds", steadyFile,
		"add: 30 min",
		"add: 90 seconds",
		[]string{
			"programs/steady.yaml:22:24: add is no number of whole minutes; write it in hours and minutes, like 1h 30m",
		},
	},
	{
		"wear every nought days", steadyFile,
		"every: 2 days",
		"every: 0 days",
		[]string{
			`programs/steady.yaml:22:39: every is out of range: "0 days"; write from 1 day to 28 days`,
		},
	},
	{
		"wear without full", steadyFile,
		", full: 8h",
		"",
		[]string{
			"programs/steady.yaml:22:1: full is missing; write the longest time to wear them, like 8h",
		},
	},
}
