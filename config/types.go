package config

import (
	"fmt"
	"strings"
	"time"

	"stepgate/rules"
)

// Clinic is a folder that was read and found good.
type Clinic struct {
	Dir        string         // the folder, absolute
	Name       string         // as the texts say it
	Zone       *time.Location // the clinic's own, and the default for patients
	Language   string         // default for patients, such as "en"
	Phone      string         // as people read it
	Hours      string         // opening hours, as people read them
	AfterHours string         // number for the time outside them
	Emergency  string         // emergency number of the place, such as 911
	Texting    Hours          // no proactive message outside these local hours
	Grace      time.Duration  // how long a decision waits for incoming messages to be read
	Data       string         // folder of the journal, absolute
	Alerts     Address        // where the clinician is told
	Backup     Address        // where alerts go once more if nobody acknowledged them; zero: nowhere
	AlertWeek  Week           // when alerts that can wait go out, local to the clinic
	Cover      []Cover        // contacts that take the place of Alerts on some dates, rising and apart
	Digest     string         // cron spec of five fields in the clinic's zone; "": none
	Admin      Address        // who keeps the machine and the accounts; zero: as Alerts
	Spool      Spool
	SMS        *SMS   // nil: not set up
	Email      *Email // nil: not set up
	Web        *Web   // nil: no pages

	Backups        *Backups // nil: nothing is said about them
	KeepDischarged int      // days after which a discharged patient is erased; 0: never
	Metrics        string   // loopback address of the figures for monitoring, such as 127.0.0.1:9464; "": none
	Reports        string   // loopback address of the caseload and the reports for a browser, such as 127.0.0.1:8091; "": none

	Programs    map[string]*rules.Program
	Enrollments Roll
	Files       []File // every file read, in order of path
}

// Address is where a message goes: a channel and a contact on it.
type Address struct {
	Channel string // "spool", "sms" or "email"
	To      string // phone number in E.164, mail address, or a name on the spool
}

// Enrollment is one patient, with what the rules need not know.
type Enrollment struct {
	rules.Enrollment
	Name     string // to greet by; first name only
	Proxy    *Proxy // who gets the texts instead; nil: the patient
	Address  Address
	Fallback Address // where messages go once texts do not arrive; zero: nowhere
	Sender   string  // number of the clinic's that texts come from; "": any
	Language string
	Zone     *time.Location
	Time     Clock // when the daily message is due, local
	Consent  Consent
	LinesBy  string       // who set the patient's own pain lines, if there are any
	LinesOn  rules.Date   // and when
	Visits   []rules.Date // review visits, rising
}

// Contacts are all contacts of the patient, on whatever channel. An opt-out of
// one covers them all.
func (e *Enrollment) Contacts() []string {
	if e.Fallback.To == "" {
		return []string{e.Address.To}
	}
	return []string{e.Address.To, e.Fallback.To}
}

// Proxy is a parent or carer who gets the texts and answers them. The texts
// are about the patient, whose name they go on to say.
type Proxy struct {
	Name     string // first name
	Relation string // to the patient, such as mother
}

// Consent records who took the patient's consent, when and how.
type Consent struct {
	On  rules.Date
	How string
	By  string

	Export bool // the record may be handed on, coded and without a name
	Texts  bool // and the words of the messages with it
}

// Clock is a time of day in minutes after midnight, 0 to 1439.
type Clock int

// String writes the time like 08:30.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", c/60, c%60) }

// Hours is a part of the day, from From up to To.
type Hours struct{ From, To Clock }

// Week is the same part of some days of the week.
type Week struct {
	Days [7]bool // by time.Weekday
	Hours
}

// Cover is who gets the alerts on the dates From to To, both included.
type Cover struct {
	From, To rules.Date
	Address
}

// Web is where the pages are that links in mails lead to.
type Web struct {
	Listen string // address of the listener, such as 127.0.0.1:8090; SMS.Listen may be the same one
	Public string // web address under which people reach it, without a slash at its end

	// The listener's own certificate and private key, PEM, absolute paths. Both
	// are empty behind a reverse proxy. They were readable when the folder was
	// read; what is in them was not looked at.
	CertificateFile string
	KeyFile         string
	At              rules.Pos
}

// Backups says where copies of the journal go, and when.
type Backups struct {
	Dir       string // absolute
	At        string // cron spec of five fields in the clinic's zone; "": only when told to
	Keep      int    // how many of the newest are kept, 1 to 1000
	EncryptTo string // public age key (recipient); "": not encrypted
	Pos       rules.Pos
}

// Spool is the embedded channel: folders of files.
type Spool struct {
	Dir string // absolute
}

// SMS is a carrier account.
type SMS struct {
	Account string      // the account's SID
	Token   Secret      // the account's auth token; signs web hooks too
	Numbers []SMSNumber // the numbers texts come from, at least one; the first is the default
	API     string      // base address of the API; empty: the carrier's own
	Listen  string      // address of the web hook's listener, such as 127.0.0.1:8090; empty: none
	Public  string      // public address of the web hook, as the carrier signs it

	// Poll is how often the carrier's list of messages is read, 1 s to 5 min.
	Poll time.Duration
	// LookAgain is how long after a clean listing without a message the second
	// one is made that lets it be sent again, 1 s to 10 min.
	LookAgain time.Duration
	// Retain asks the carrier in so many words to keep the text and the number
	// of every message, which looking one up needs.
	Retain bool
	// Confirms says that the carrier itself answers STOP and START.
	Confirms bool
	// Accents keeps those that GSM 7 bit lacks, at 70 characters a text.
	Accents bool
	// Undelivered is after how many dates running without a delivered text the
	// contact counts as dead, 1 to 14.
	Undelivered int
	At          rules.Pos
}

// SMSNumber is one of the clinic's numbers.
type SMSNumber struct {
	Number   string  // E.164
	Rate     float64 // segments a second, 0.01 to 1000
	DailyCap int     // segments a day of the clinic's; 0: none
	At       rules.Pos
}

// Email is a mail submission server.
type Email struct {
	Host     string
	Port     int
	From     string // address the mails come from
	User     string
	Password Secret
	TLS      string // "starttls" (default), "tls", or "none" (loopback hosts only)
	IMAP     *IMAP  // nil: answers by mail are not collected
	DKIM     *DKIM  // nil: mails are not signed here

	// Poll is how often the mailbox is read, 1 s to 5 min.
	Poll time.Duration
	At   rules.Pos
}

// IMAP is the mailbox that answers by mail arrive in.
type IMAP struct {
	Host     string
	Port     int
	User     string
	Password Secret
	TLS      string // "tls" (default), "starttls", or "none" (loopback hosts only)
	Folder   string
	At       rules.Pos
}

// DKIM is the signature on every mail.
type DKIM struct {
	Domain   string
	Selector string
	Key      Secret // PEM of an RSA or Ed25519 private key
	At       rules.Pos
}

// Secret is a value that must not be printed. Reveal gives it out. It is kept
// behind a pointer because fmt skips every method of a value, and prints its
// fields, when a verb does not suit what surrounds it (%s of a struct).
type Secret struct{ value *string }

// NewSecret wraps a value.
func NewSecret(v string) Secret { return Secret{&v} }

// Reveal returns the value itself, for handing to the peer it belongs to.
func (s Secret) Reveal() string {
	if s.value == nil {
		return ""
	}
	return *s.value
}

// String prints stars, whatever the value.
func (s Secret) String() string { return "*****" }

// GoString prints stars too.
func (s Secret) GoString() string { return "*****" }

// MarshalText prints stars too.
func (s Secret) MarshalText() ([]byte, error) { return []byte("*****"), nil }

// Format prints stars for every verb.
func (s Secret) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte("*****")) }

// File is one file as it was read.
type File struct {
	Path string // relative to the folder, with slashes
	Hash string // hex SHA-256 of what is in it
	Data []byte // nil where it was left on the disk, see [File.Read]
	at   string // where it lies, if it was left there
}

// Problem is one thing wrong in the clinic's files.
type Problem struct {
	At      rules.Pos
	What    string // what is wrong
	Do      string // what to do
	Warning bool   // worth a look; does not stop the folder from being used
}

// String writes the problem as file:line:column: what is wrong; what to do.
func (p Problem) String() string {
	s := p.What + "; " + p.Do
	if p.Warning {
		s = "warning: " + s
	}
	if at := p.At.String(); at != "" {
		s = at + ": " + s
	}
	return s
}

// Problems are all the problems of one reading, in order of place.
type Problems []Problem

// Errors are those that stop the folder from being used.
func (ps Problems) Errors() Problems {
	var errs Problems
	for _, p := range ps {
		if !p.Warning {
			errs = append(errs, p)
		}
	}
	return errs
}

// Error writes one problem a line.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.String()
	}
	return strings.Join(lines, "\n")
}
