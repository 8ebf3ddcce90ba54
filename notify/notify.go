package notify

import (
	"context"
	"time"
)

// Message is one message to one person, rendered and ready.
type Message struct {
	Key     string // tells messages apart for ever; the same on every try
	To      string
	Subject string // mail only
	Text    string
	HTML    string    // mail only; may be empty
	At      time.Time // when it was made; the same on every try
	ReplyTo string    // mail only: Message-ID answered, if any
	// Unsubscribe, mail only, is the https address that ends the mails by one
	// POST, offered to the mail program. Empty: none.
	Unsubscribe string
	Until       time.Time // SMS only: the carrier need not keep trying after this; zero: no end given
	From        string    // SMS only: which of our numbers; empty or not ours any more: the first
}

// Status says how a hand-over ended.
type Status string

// The outcomes of a hand-over.
const (
	Sent     Status = "sent"     // the carrier took it
	Retry    Status = "retry"    // the carrier surely did not take it; try again
	Rejected Status = "rejected" // the carrier surely did not take it and never will
	Unknown  Status = "unknown"  // it may or may not have been taken
)

// Result is the outcome of a hand-over. Code is the carrier's own code or a
// short fixed word, safe to log; it never holds a contact or a body.
type Result struct {
	Status      Status
	ID          string        // the carrier's id, where it gave one; of a mail its Message-ID, without brackets
	Code        string        // such as "21610", "550", "timeout"
	BadContact  bool          // rejected because of the contact, not the message
	OptedOut    bool          // rejected because the contact opted out at the carrier
	Trouble     bool          // our own account or number is in trouble: nobody's message will be taken
	Busy        bool          // retry: the carrier wants fewer messages from us, whatever is in them
	Unreachable bool          // retry: the carrier could not be reached at all
	Refused     bool          // unknown: the carrier said no by a code that nobody here knows
	After       time.Duration // retry: not before this long from now; 0: the caller's choice
}

// Sender hands messages to a carrier.
type Sender interface {
	// Send hands over one message. It never returns before it knows what it
	// can know, and never takes longer than its configured timeout.
	Send(ctx context.Context, m Message) Result
	// Settle finds out what became of a message whose hand-over was cut off
	// (a process that died, a connection that was lost). Unknown stays
	// Unknown where the channel can't tell.
	Settle(ctx context.Context, m Message) Result
}

// Incoming is one message from a person, as the channel gave it.
type Incoming struct {
	ID   string // the carrier's id, or one that a second reading gives again
	From string // contact
	To   string // our sender, where the channel has several
	Text string
	At   time.Time // when the channel says it came in

	Subject   string   // mail only, decoded; see BareSubject
	MessageID string   // mail only, without brackets; empty: it has none
	Answers   []string // mail only: Message-IDs it answers, the likeliest first, without brackets
}

// Take commits an incoming message. Only after it returned nil may the
// message be acknowledged. It may be called again with the same ID.
type Take func(ctx context.Context, in Incoming) error

// Receiver reads incoming messages.
type Receiver interface {
	// Collect reads every message that is waiting and gives each to take.
	// It returns nil only if everything waiting was read and committed.
	Collect(ctx context.Context, take Take) error
}
