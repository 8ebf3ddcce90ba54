// Package notify gets a message to a person and hears back. It knows
// messages, not patients: what a text means, who may get one and when is
// decided elsewhere.
//
// What lives here: the channels (spool, SMS, email), what a carrier's answer
// means, the reading of a mailbox, and the counting of SMS segments. twilio-go,
// go-mail and go-imap are used here and nowhere else.
package notify
