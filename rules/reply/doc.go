// Package reply reads a patient's text: what was done, how much it hurt,
// whether a danger word stands in it, whether it opts out. It knows no
// language itself. A [Vocabulary] brings the words and letters of one
// language as plain data; [Vocabulary.Compile] checks it and gives a
// [Reader].
//
// A text goes through these steps, a file or two each:
//
//	read.go       the steps in order
//	normalize.go  one form for widths, quotes, accents, digits of any script
//	token.go      words, numbers, marks, emojis
//	lexnum.go     a number as it is written: 3, 3.5, 3/10, 7:30, 1o
//	spell.go      known words behind misspellings and endings
//	phrase.go     words to meanings, the longest phrase first
//	letter.go     which single letters are code letters
//	combine.go    numbers that belong together: 4-5, 4 out of 10, 3 and a half
//	score.go      what each number counts: pain, first steps, hours, days, a time
//	facts.go      numbers taken into the reading, and what stays unread
//	day.go        done, skin and skin checks, how-to, call, no pain
//	danger.go     danger words, and whether they are plainly denied
//	strong.go     strong pain told in words, and what light words and endings say
//	keyword.go    texts that are a keyword and nothing else; the wrong person
//	optout.go     the wish to opt out inside a longer text
//	echo.go       a phone's reaction that quotes our own text
//
// vocabulary.go is the shape of a vocabulary, compile.go and compilewords.go
// check it. Nothing here may name a word of any language.
//
// Two errors are worse than all others: a pain read lower than written, and a
// danger word missed. So of two readings the one with more pain counts, a
// danger word not plainly denied counts, and where neither helps the text is
// marked unread, so that the patient is asked. A score that isn't a whole
// number from 0 to 10 is never bent into one; a decimal counts as the next
// whole number up. A skin check without findings counts only in a text that
// was understood in full.
package reply
