package config

import (
	"fmt"
	"net"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"filippo.io/age"
)

const (
	usualKeep   = 14            // backups that are kept, two weeks of nightly ones; ours
	usualBackup = "30 2 * * *"  // an example: at night, between two days' messages
	mostKeep    = 1000          // beyond it a slip is likelier than intent
	mostBackups = 24            // a day before check warns: each is a whole copy; ours
	leastKept   = 30            // days between a discharge and the erasure: time to find that it was a slip
	mostKept    = 50 * yearDays // days
)

// machine reads what concerns the machine and the record on it.
func (l *loader) machine(s *settingsShape) {
	if s.Backup != nil {
		l.backups(s.Backup)
	}
	if days, ok := l.retention(s.Keep); ok {
		l.clinic.KeepDischarged = days
	}
	l.clinic.Metrics = l.local(s.Metrics, "127.0.0.1:9464")
	if l.clinic.Reports = l.local(s.Reports, "127.0.0.1:8091"); l.clinic.Reports != "" {
		l.warn(s.Reports.At, "reports asks nobody for a password: everybody with an account on this machine can read the patients' reports",
			"see that only the clinic's people have one, or take the line away")
	}
}

// backups reads where copies of the journal go, and when.
func (l *loader) backups(s *backupsShape) {
	if s.At.Bad {
		return
	}
	out := &Backups{Keep: usualKeep, Pos: s.At.Pos}
	if l.need(s.At, "dir", "write the folder of the copies, like dir: backups") {
		out.Dir = l.folder(s.Dir)
	}
	if out.Dir != "" && (out.Dir == l.clinic.Data || inside(out.Dir, l.clinic.Spool.Dir)) {
		l.wrong(s.Dir.At, "the backups lie in a folder that is the journal's or the spool's", "give them one of their own, like backups, best on another disk")
	}
	if s.Time.given() {
		var times int
		if out.At, times = l.cron(s.Time, quoted(usualBackup)); times > mostBackups {
			l.warn(s.Time.At, fmt.Sprintf("a backup is made %d times on its days", times), "look whether the minute and the hour are right, like "+quoted(usualBackup))
		}
	}
	if n, ok := l.whole(s.Keep, 1, mostKeep); ok {
		out.Keep = n
	}
	out.EncryptTo = l.publicKey(s.EncryptTo)
	l.clinic.Backups = out
}

// inside tells whether a folder is another one, or lies in it.
func inside(dir, other string) bool {
	return other != "" && (dir == other || strings.HasPrefix(dir, other+string(filepath.Separator)))
}

// publicKey reads an age recipient. Its private key is easily taken for it, so
// no complaint repeats what stands here.
func (l *loader) publicKey(v Value) string {
	if !v.given() {
		return ""
	}
	if strings.HasPrefix(strings.ToUpper(v.Text), "AGE-SECRET-KEY-") {
		l.wrong(v.At, v.Key+" is a private key, which opens the backups",
			"write the public key, which begins with age1; then make new keys, since this one was written down")
		return ""
	}
	if keys, err := age.ParseRecipients(strings.NewReader(v.Text)); err != nil || len(keys) != 1 {
		l.wrong(v.At, v.Key+" is no public age key", "write the whole key that begins with age1, as age-keygen prints it")
		return ""
	}
	return v.Text
}

// A year or a month is never shorter than the calendar's, so that nobody is
// erased early.
const (
	monthDays = 31
	yearDays  = 366
)

var keptForm = regexp.MustCompile(`^(\d{1,5}) ?(day|week|month|year)s?$`)

// retention reads in days how long a discharged patient is kept.
func (l *loader) retention(v Value) (int, bool) {
	if !v.given() {
		return 0, false
	}
	m := keptForm.FindStringSubmatch(v.Text)
	if m == nil {
		l.unreadable(v, "a number of days, weeks, months or years, like 2 years")
		return 0, false
	}
	n, _ := strconv.Atoi(m[1])
	n *= map[string]int{"day": 1, "week": 7, "month": monthDays, "year": yearDays}[m[2]]
	if n < leastKept || n > mostKept {
		l.outside(v, fmt.Sprintf("from %d days to %d years", leastKept, mostKept/yearDays))
		return 0, false
	}
	return n, true
}

// local reads an address that only programs on this machine may reach: nobody
// is asked for a password there. like is one that would do. It must be free of
// what else is served.
func (l *loader) local(v Value, like string) string {
	address := l.listen(v)
	if address == "" {
		return ""
	}
	host, _, _ := net.SplitHostPort(address)
	if !loopback(host) {
		l.wrong(v.At, v.Key+" could be read from other machines", "write an address of this machine itself, like "+like)
		return ""
	}
	for _, other := range l.listening() {
		if samePort(address, other.address) {
			l.wrong(v.At, v.Key+" and "+other.of+" listen on the same port", "give it another one, like "+like)
			return ""
		}
	}
	return address
}

// listener is an address that something else listens on.
type listener struct{ of, address string }

func (l *loader) listening() []listener {
	var out []listener
	if w := l.clinic.Web; w != nil && w.Listen != "" {
		out = append(out, listener{"web", w.Listen})
	}
	if s := l.clinic.SMS; s != nil && s.Listen != "" {
		out = append(out, listener{"sms", s.Listen})
	}
	if m := l.clinic.Metrics; m != "" {
		out = append(out, listener{"metrics", m})
	}
	return out
}
