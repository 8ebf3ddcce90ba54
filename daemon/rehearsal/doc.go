// Package rehearsal plays a program forward on a made-up calendar with
// scripted replies, before any patient gets it. It decides nothing itself: a
// rehearsal is the service with its journal, rules, reader and words, on a
// clock that is set and a channel that is a list in memory.
//
// What lives here:
//
//	plan.go     who is rehearsed, from when, how long
//	run.go      the service living the days
//	channel.go  the channel in memory
//	day.go      what came of each date; the JSON contract
//	print.go    the conversation
//	chart.go    step, pain and wear time by day
//	cases.go    rule cases: what was expected, what came
//	light.go    the same days by the rules alone, fast, for crowds
//	model.go    how the people of a crowd answer
//	crowd.go    a crowd lived, and what came of it
//	table.go    a crowd printed
//	cost*.go    the longest texts of each program, and their segments
package rehearsal
