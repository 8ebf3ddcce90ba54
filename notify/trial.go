package notify

import (
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"net/http/httptrace"
	"sync"
	"time"
)

// TrialStep is one step of a trial, once it is over. A trial uses a channel as
// it is used every day, and says what each step came to.
type TrialStep struct {
	// Name is fixed: mail. or mailbox. with name, connect, encryption,
	// greeting, login; mail.sender, mail.recipient, mail.taken; mailbox.folder;
	// sms.account, sms.text, sms.delivery.
	Name string
	OK   bool
	// Words are for the clinic: what came of it and, where it failed, what to
	// do. They may hold what the person who tries has given, and what a server
	// said; never a password or a token.
	Words string
	Took  time.Duration
}

// trialLimit is the longest time one step of a trial takes, ours: somebody is
// waiting. A mail or a text of a patient's gets its full time.
const trialLimit = time.Minute

// trial tells the steps of one conversation as they go by.
type trial struct {
	road string
	tell func(TrialStep)
	late *time.Timer // hangs up on a step that takes too long

	mu      sync.Mutex
	doing   string // the step under way
	since   time.Time
	quiet   bool // a step took too long
	version uint16
}

// newTrial begins with the first step. hangUp ends a conversation in which one
// step takes longer than limit.
func newTrial(road, first string, limit time.Duration, hangUp func(), tell func(TrialStep)) *trial {
	t := &trial{road: road, tell: tell, doing: first, since: time.Now()}
	t.late = time.AfterFunc(limit, func() {
		t.mu.Lock()
		t.quiet = true
		t.mu.Unlock()
		hangUp()
	})
	return t
}

// did tells that the step under way went well, and begins the next.
func (t *trial) did(words, next string, limit time.Duration) {
	t.over(true, words)
	t.late.Reset(limit)
	t.mu.Lock()
	t.doing = next
	t.mu.Unlock()
}

// failed tells that the step under way did not.
func (t *trial) failed(words string) { t.over(false, words) }

func (t *trial) over(ok bool, words string) {
	t.late.Stop()
	t.mu.Lock()
	now := time.Now()
	step := TrialStep{t.road + "." + t.doing, ok, words, now.Sub(t.since)}
	t.since = now
	t.mu.Unlock()
	t.tell(step)
}

func (t *trial) at() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.doing
}

// word names a failure of the network, as netWord does.
func (t *trial) word(ctx context.Context, err error) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.quiet && ctx.Err() == nil {
		return "timeout"
	}
	return netWord(ctx, err)
}

// firstStep is that of a connection: an address needs no looking up.
func firstStep(host string) string {
	if net.ParseIP(host) != nil {
		return "connect"
	}
	return "name"
}

// dial connects, with TLS at once if there is a secure, and tells each step.
func (t *trial) dial(ctx context.Context, d *dialer, secure *tls.Config, address string, limit time.Duration) (net.Conn, error) {
	traced := httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{DNSDone: func(i httptrace.DNSDoneInfo) {
		if i.Err == nil && len(i.Addrs) > 0 && t.at() == "name" {
			t.did("name found: "+i.Addrs[0].String(), "connect", limit)
		}
	}})
	conn, err := d.dial(traced, "tcp", address)
	if err != nil {
		return nil, err
	}
	if t.at() == "name" { // found without asking
		t.did("name found", "connect", limit)
	}
	words := "connected to " + conn.RemoteAddr().String()
	if secure == nil {
		t.did(words, "greeting", limit)
		return conn, nil
	}
	t.did(words, "encryption", limit)
	over := tls.Client(conn, secure)
	if err := over.HandshakeContext(ctx); err != nil {
		return nil, err
	}
	t.did(t.agreed(), "greeting", limit)
	return over, nil
}

// watched has the trial know the version that is agreed on. It is asked only
// after the certificate was found good.
func (t *trial) watched(cfg *tls.Config) *tls.Config {
	cfg.VerifyConnection = func(s tls.ConnectionState) error {
		t.mu.Lock()
		defer t.mu.Unlock()
		t.version = s.Version
		return nil
	}
	return cfg
}

func (t *trial) agreed() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return fmt.Sprintf("encryption agreed: %s", tls.VersionName(t.version))
}
