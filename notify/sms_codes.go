package notify

import (
	"net/http"
	"strconv"
	"strings"
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

// laterWait is ours, no one else's figure: long enough for a queue or a daily
// cap to move, short enough to still matter on the same day.
const laterWait = time.Hour

// meaning is what one of the carrier's error codes says, for us and for people.
type meaning struct {
	class class
	words string
}

// carrierCodes sorts the carrier's error codes. The meaning of each is the
// carrier's published error and warning list; a code that is not here is
// unclear.
var carrierCodes = map[int]meaning{
	20429: {again, "too many requests, none was processed"},
	21611: {again, "the clinic number's queue holds over ten hours"},

	30001: {later, "the carrier's queue is full"},
	30003: {later, "the phone is off or out of reach"},
	30008: {later, "an error the carrier does not know"},
	30017: {later, "the network is congested"},
	30022: {later, "too many texts a second for the network"},
	30023: {later, "the day's texts are used up"},
	30027: {later, "the day's texts are used up until midnight Pacific time"},
	30450: {later, "another message of the same kind is in the way"},
	14107: {later, "too many answers in too short a time"},

	21610: {optedOut, "the person sent STOP"},

	21211: {contact, "this is no phone number"},
	21614: {contact, "this is no mobile number"},
	30005: {contact, "nobody has this number"},
	30006: {contact, "a landline, or a network that can't be reached"},
	21612: {contact, "there is no way from the clinic's number to this one"},

	30004: {content, "the message was blocked"},
	30007: {content, "the message was filtered out as unwanted"},
	21617: {content, "the text is over 1,600 characters"},
	21602: {content, "the text is empty"},

	20003: {sender, "the account or its token is wrong"},
	30002: {sender, "the account is suspended"},
	21408: {sender, "texts to this country are not enabled in the account"},
	21606: {sender, "the clinic's number can't send texts"},
	21212: {sender, "the clinic's number is no phone number"},
	30032: {sender, "the toll-free number is not verified"},
	30034: {sender, "the number is not registered for texting (10DLC)"},
	30035: {sender, "the number's registration is not finished"},
	21703: {sender, "the messaging service has no number"},

	20500: {unclear, "an error inside the carrier"},
	20503: {unclear, "the carrier was not available"},
	30410: {unclear, "a network timed out"},
}

// refused says what an answer that is no success means. status is that of
// HTTP, code the carrier's or 0, after what Retry-After asked for.
//
// A 5xx is never a definite no, whatever code it carries: the carrier may
// have taken the message before it failed.
func refused(status, code int, after time.Duration) Result {
	known := carrierCodes[code].words != ""
	c, word := carrierCodes[code].class, codeWord(status, code)
	switch {
	case status < 400 || status >= 500:
		return Result{Status: Unknown, Code: word}
	case !known && status == http.StatusTooManyRequests:
		c = again
	case !known && (status == http.StatusUnauthorized || status == http.StatusForbidden || status == http.StatusNotFound):
		c = sender // not let in, or at the wrong address: so is everybody's
	}
	switch c {
	case again:
		return Result{Status: Retry, Code: word, After: after, Busy: true}
	case later:
		return Result{Status: Retry, Code: word, After: max(after, laterWait)}
	case sender:
		return Result{Status: Retry, Code: word, After: after, Trouble: true}
	case contact:
		return Result{Status: Rejected, Code: word, BadContact: true}
	case optedOut:
		return Result{Status: Rejected, Code: word, OptedOut: true}
	case content:
		return Result{Status: Rejected, Code: word}
	}
	// A no by a code that is not listed is a no, but whether the text is on record
	// is worth a look.
	return Result{Status: Unknown, Code: word, Refused: !known && status >= 400}
}

// codeWord is the carrier's code, or the HTTP status where it gave none.
func codeWord(status, code int) string {
	if published(code) {
		return strconv.Itoa(code)
	}
	return "http-" + strconv.Itoa(status)
}

// published tells whether a number can be one of the carrier's codes. They
// have five digits; a longer number in that place is none of them and may be
// anything, even a phone number.
func published(code int) bool { return code >= 10000 && code <= 99999 }

// fate is what a status says of a message of ours.
type fate int

const (
	open    fate = iota // its end is not known
	arrived             // it was delivered
	lost                // it surely was not, and the carrier tries no more
)

// carrierStatuses are the statuses that the carrier's published API
// description lists. One that is not here leaves the end open.
var carrierStatuses = map[string]fate{
	"accepted":  open,
	"scheduled": open,
	"queued":    open,
	"sending":   open,
	"sent":      open, // to the next carrier, which may not say more

	"delivered": arrived,
	"read":      arrived,

	"undelivered": lost,
	"failed":      lost,
	"canceled":    lost,

	// Neither arrived whole nor surely lost, so neither is said.
	"partially_delivered": open,

	// Statuses of what came in.
	"receiving": open,
	"received":  open,
}

// news is what a status and the carrier's code with it (or 0) say of a
// message, and whether that is final.
func news(id, status string, code int) (News, bool) {
	n := News{ID: id, Code: status}
	switch carrierStatuses[status] {
	case open:
		return News{}, false
	case arrived:
		n.Delivered = true
		return n, true
	}
	if published(code) {
		n.Code = strconv.Itoa(code)
	}
	c := carrierCodes[code].class
	n.BadContact, n.OptedOut, n.Trouble = c == contact, c == optedOut, c == sender
	return n, true
}

// carrierWords are the words that the carrier answers itself, and acts on,
// where the account changed nothing: its page on opt-out keywords. A word
// counts if it is the whole text, in either case.
var carrierWords = map[string]bool{
	"STOP": true, "STOPALL": true, "UNSUBSCRIBE": true, "CANCEL": true,
	"END": true, "QUIT": true, "REVOKE": true, "OPTOUT": true,
	"START": true, "YES": true, "UNSTOP": true,
}

// Confirms tells whether the carrier itself answers exactly this text, so that
// a confirmation of ours would be the second. Blanks around it are left out of
// account (from memory).
func (s *SMS) Confirms(text string) bool {
	return carrierWords[strings.ToUpper(strings.TrimSpace(text))]
}

// Explain says what a Result's or News' Code means, in words for a clinic: the
// code alone where it is no published one of the carrier's.
func Explain(code string) string {
	n, err := strconv.Atoi(code)
	if m := carrierCodes[n]; err == nil && m.words != "" {
		return "Carrier code " + code + ": " + m.words + "."
	}
	if words, ok := plainWords[code]; ok {
		return words
	}
	if published(n) {
		return "Carrier code " + code + "."
	}
	return "Code " + code + "." // a mail server's, or a word of ours
}

// plainWords are the codes of our own that reach a person.
var plainWords = map[string]string{
	"refused": "The carrier cannot be reached: no connection.",
	"dns":     "The carrier cannot be reached: its name is not found.",
	"timeout": "The carrier cannot be reached: no answer in time.",
	"tls":     "The carrier cannot be reached: the connection is not secure.",
	"lost":    "The carrier cannot be reached: the connection was lost.",
	"setup":   "The mail server does not take our login or settings.",
}
