// Package templates holds every word a person reads: the messages to patients
// and to the clinician, by language, and the vocabulary replies are read with.
//
// A language is a folder with a words.yaml:
//
//	en/words.yaml      weekdays, months, units and their plurals
//	en/daily.tmpl      the daily text and the first text
//	en/answers.tmpl    one template for each part of an answer
//	en/clinician.tmpl  reasons and states
//	en/explain.tmpl    a decision told as a short story
//	en/alerts.tmpl     alerts to the clinician
//	en/inbox.tmpl      alerts with how to answer them, and the digest
//	en/mail.tmpl       the HTML around the same words
//	en/page.tmpl       pages behind the links of mails
//	en/handout.tmpl    the page a patient takes home
//	en/reply.yaml      the words and letters patients answer with
//
// optout.yaml holds the words that opt out and in, and ask for help, in every
// language's reader.
//
// [New] refuses a language that lacks a key, so a message can't fail for a
// missing word at half past eight in the morning. Nothing is decided here: what
// to say comes in from package rules, how to say it is in the folders, and the
// Go files only fit numbers, dates and parts together.
//
// Most texts of a morning say the same to many. What was rendered is kept, up to
// a bound, under all that its templates saw, with holes where names stand
// (memo.go, frame.go). So a template may depend on nothing but what it is given.
//
// A patient's text stays in the GSM-7 alphabet, because one character outside
// it more than halves what fits into an SMS segment. It never names a score,
// a set or a dose, and says that something waits because of pain only where
// that is the reason.
package templates
