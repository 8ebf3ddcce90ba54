package notify

import (
	"net/http"
	"strconv"
	"time"
)

// class is what a carrier's refusal means for the message.
type class int

const (
	unclear  class = iota // may have been taken: look it up, never try blindly
	again                 // not taken; trying again is always safe
	later                 // not taken; try again after a while
	contact               // the number can't get texts
	optedOut              // the person sent STOP to the carrier
	content               // this text will never be taken
	sender                // our own account or number is in trouble
)

// Waits of ours, no one else's figure: long enough for a queue or a daily cap
// to move or a person to put an account right, short enough to still matter
// on the same day.
const (
	laterWait  = time.Hour
	senderWait = time.Hour
)

// carrierCodes sorts the carrier's error codes. The meaning of each is the
// carrier's published error and warning list; a code that is not here is
// unclear.
var carrierCodes = map[int]class{
	20429: again, // too many requests: never processed
	21611: again, // our number's queue holds over 10 hours

	30001: later, // queue overflow
	30003: later, // handset unreachable
	30008: later, // unknown error
	30017: later, // carrier congested
	30022: later, // carrier's rate limit
	30023: later, // daily cap
	30027: later, // daily cap, until midnight Pacific time
	30450: later, // message in the way of another
	14107: later, // rate limit on answers

	21610: optedOut,

	21211: contact, // not a phone number
	21614: contact, // not a mobile number
	30005: contact, // unknown handset
	30006: contact, // landline or unreachable carrier
	21612: contact, // no route from our number to this one

	30004: content, // blocked
	30007: content, // filtered
	21617: content, // over 1,600 characters
	21602: content, // no body

	20003: sender, // credentials
	30002: sender, // account suspended
	21408: sender, // region not enabled
	21606: sender, // our number can't text
	21212: sender, // our number is not one
	30032: sender, // toll-free number not verified
	30034: sender, // number not registered for 10DLC
	30035: sender, // number's registration not finished
	21703: sender, // messaging service has no number

	20500: unclear, // internal error
	20503: unclear, // service unavailable
	30410: unclear, // provider timed out; "not retried to avoid duplicate"
}

// refused says what an answer that is no success means. status is that of
// HTTP, code the carrier's or 0, after what Retry-After asked for.
//
// A 5xx is never a definite no, whatever code it carries: the carrier may
// have taken the message before it failed.
func refused(status, code int, after time.Duration) Result {
	c, known := carrierCodes[code]
	word := codeWord(status, code)
	switch {
	case status < 400 || status >= 500:
		return Result{Status: Unknown, Code: word}
	case !known && status == http.StatusTooManyRequests:
		c = again
	}
	switch c {
	case again:
		return Result{Status: Retry, Code: word, After: after}
	case later:
		return Result{Status: Retry, Code: word, After: max(after, laterWait)}
	case sender:
		return Result{Status: Retry, Code: word, After: max(after, senderWait)}
	case contact:
		return Result{Status: Rejected, Code: word, BadContact: true}
	case optedOut:
		return Result{Status: Rejected, Code: word, OptedOut: true}
	case content:
		return Result{Status: Rejected, Code: word}
	}
	return Result{Status: Unknown, Code: word}
}

// codeWord is the carrier's code, or the HTTP status where it gave none. The
// carrier's codes have five digits; a longer number in that place is none of
// them and may be anything, even a phone number.
func codeWord(status, code int) string {
	if code >= 10000 && code <= 99999 {
		return strconv.Itoa(code)
	}
	return "http-" + strconv.Itoa(status)
}
