package journal

import (
	"slices"
	"time"

	"stepgate/rules"
)

// Kind names what happened. Kinds are part of the file format: never renamed,
// only added.
type Kind string

// The kinds of event, with the fields of Event that each uses.
const (
	Accepted  Kind = "accepted"  // Files: a clinic folder was accepted
	Enrolled  Kind = "enrolled"  // State, Due: an enrollment was first seen
	Revised   Kind = "revised"   // State, Due: the enrollment's files changed, or an entry was read (Entry)
	Removed   Kind = "removed"   // the enrollment is gone from the files: not due any more
	Decided   Kind = "decided"   // Decision, State, Due: a date was decided and nothing is to be sent
	Skipped   Kind = "skipped"   // Due: a date was slept through, not decided
	Intended  Kind = "intended"  // Out (with Decision and Next for a daily message)
	HandedOut Kind = "handed"    // Key: about to hand over; a daily message's Next becomes the state
	Withdrawn Kind = "withdrawn" // Key, Why: taken back before hand-over
	Settled   Kind = "settled"   // Key, Result; State where the outcome changes it
	Heard     Kind = "heard"     // In, State: an incoming message was taken
	Opted     Kind = "opted"     // Contact, Out/In by Opt: opt-out or opt-in of a contact
	Delivery  Kind = "delivery"  // Key, Result; State where it changes it: what became of a message the carrier took
	Rerouted  Kind = "rerouted"  // Contact: what is sent there does not arrive; none: it does again
	Polled    Kind = "polled"    // Channel, Point: all that came in before was read
	Alerted   Kind = "alerted"   // Alert: something the clinician, or the admin, is to be told
	Acked     Kind = "acked"     // Alerts, Why, By: somebody has seen alerts, or acted on them
	Noted     Kind = "noted"     // Note: anything else an admin should find later
	Erased    Kind = "erased"    // Erasure, By, Why: an enrollment was destroyed; see Tx.Erase
	Pruned    Kind = "pruned"    // Sets, Files: older accepted sets were destroyed; see Tx.PruneFiles
)

// kinds gives every kind its number in a record. Part of the file format: new
// ones are added at the end.
var kinds = []Kind{"", Accepted, Enrolled, Revised, Removed, Decided, Skipped, Intended, HandedOut, Withdrawn, Settled, Heard,
	Opted, Delivery, Rerouted, Polled, Alerted, Acked, Noted, Erased, Pruned}

// numberOf is the number of a kind, 0 if it is none.
func numberOf(k Kind) byte { return byte(max(slices.Index(kinds, k), 0)) }

// kindOf is the kind of a number. One that is not known is none.
func kindOf(n byte) Kind {
	if int(n) >= len(kinds) {
		return ""
	}
	return kinds[n]
}

func (k Kind) known() bool { return numberOf(k) > 0 }

// Event is one thing that happened. Seq and At are given by the journal and
// the caller; the rest depends on the kind.
type Event struct {
	Seq  uint64    `json:"-"`
	Kind Kind      `json:"-"`
	ID   string    `json:"-"` // enrollment id; empty: the clinic itself
	At   time.Time `json:"-"`
	// Engine is the version of the rules that was at work; the journal gives it.
	Engine string `json:"-"`

	Files    []FileRef       `json:"files,omitempty"`
	State    *rules.State    `json:"state,omitempty"`
	Due      *time.Time      `json:"due,omitempty"` // next due instant; zero time: not due
	Entry    *rules.Entry    `json:"entry,omitempty"`
	Decision *rules.Decision `json:"decision,omitempty"`
	Out      *Out            `json:"out,omitempty"`
	Key      string          `json:"key,omitempty"`
	Why      string          `json:"why,omitempty"`
	Result   *Result         `json:"result,omitempty"`
	In       *In             `json:"in,omitempty"`
	Contact  []byte          `json:"contact,omitempty"` // keyed hash of a contact
	OptOut   bool            `json:"opt_out,omitempty"`
	Note     string          `json:"note,omitempty"`
	Channel  string          `json:"channel,omitempty"`
	Point    time.Time       `json:"point,omitzero"`
	Alert    *Alert          `json:"alert,omitempty"`
	Alerts   []uint64        `json:"alerts,omitempty"` // numbers of Alerted events
	By       string          `json:"by,omitempty"`
	Erasure  *Erasure        `json:"erasure,omitempty"`
	Sets     []uint64        `json:"sets,omitempty"` // numbers of Accepted events

	ahead *encoded // by Encode
}

// Alert is one thing somebody is to be told. It lies under the key of the
// patient it is about, and goes out in a mail that names it by its number.
type Alert struct {
	Key    string        `json:"key"` // one alert a cause
	Notice rules.Notice  `json:"notice"`
	On     rules.Date    `json:"on"` // local date
	Quote  string        `json:"quote,omitempty"`
	Detail string        `json:"detail,omitempty"`
	Why    *rules.Reason `json:"why,omitempty"`
	Mute   bool          `json:"mute,omitempty"`
	Rank   int           `json:"rank,omitempty"` // 0 is the most urgent
	To     string        `json:"to"`             // clinician or admin
	Due    time.Time     `json:"due"`            // when it is to go out
}

// FileRef names a file of an accepted folder.
type FileRef struct {
	Path string `json:"path"`
	Hash string `json:"hash"` // hex SHA-256; the content lies in the files bucket
	// Approved is the approval (date and name) that a program file carried.
	Approved string `json:"approved,omitempty"`
}

// Out is a message to be sent.
type Out struct {
	Key      string          `json:"key"`
	Kind     string          `json:"kind"` // daily, answer or alert
	Channel  string          `json:"channel"`
	From     string          `json:"from,omitempty"` // the number of ours that a text comes from
	To       string          `json:"to"`
	Subject  string          `json:"subject,omitempty"`
	Text     string          `json:"text"`
	HTML     string          `json:"html,omitempty"`
	ReplyTo  string          `json:"reply_to,omitempty"`
	Made     time.Time       `json:"made"`
	Until    time.Time       `json:"until,omitzero"` // not handed over after this; zero: no end
	Rev      int             `json:"rev,omitempty"`  // daily: the state's revision it was decided from
	Decision *rules.Decision `json:"decision,omitempty"`
	Next     *rules.State    `json:"next,omitempty"` // daily: the state once handed over
	NextDue  time.Time       `json:"next_due,omitzero"`
	Rank     int             `json:"rank,omitempty"`     // 0 to 255; where messages queue up the lower goes first
	Segments int             `json:"segments,omitempty"` // of a text; 0: not counted
	// Alerts are the alerts a mail tells of, by number: its words are made when it
	// is handed over, so that they lie nowhere but under their patients' keys. Again
	// is when those that nobody acknowledged by then go out once more; zero: never.
	Alerts []uint64  `json:"alerts,omitempty"`
	Again  time.Time `json:"again,omitzero"`
}

// Result is how one hand-over ended.
type Result struct {
	Status string    `json:"status"` // sent, retry, rejected, unknown or expired
	ID     string    `json:"id,omitempty"`
	Code   string    `json:"code,omitempty"`
	Retry  time.Time `json:"retry,omitzero"` // retry: not before; unknown: when to look it up again, if ever
}

// What a Delivery's Result can say. Later news replaces earlier only if it
// stands further down this list, so that reordered and repeated news come to
// the same.
const (
	NoNews      = "no news"     // the carrier said nothing in the time it was watched
	Undelivered = "undelivered" // it did not reach the phone
	Delivered   = "delivered"   // it did
)

// In is an incoming message and what it was read as.
type In struct {
	Channel string         `json:"channel"`
	ID      string         `json:"id"` // the channel's own
	From    string         `json:"from"`
	Text    string         `json:"text"`
	Came    time.Time      `json:"came"`
	Day     rules.Date     `json:"day"` // the decided date it belongs to; none before the first
	Reading rules.Reading  `json:"reading"`
	Hearing *rules.Hearing `json:"hearing,omitempty"`
}
