package daemon

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"stepgate/notify"
)

// carrier is a carrier that does as it is told. Told nothing, it takes every
// message, and has nothing to hand in.
type carrier struct {
	mu      sync.Mutex
	script  []says                             // what the coming sends meet
	settle  func(notify.Message) notify.Result // nil: the list shows what arrived
	failing error                              // incoming messages can't be read
	inside  func(context.Context, notify.Message)
	tries   int
	looked  int
	arrived []notify.Message
	reports []notify.News // what the list says of deliveries
	asked   int
}

// ourNumber is the clinic's.
const ourNumber = "+12125550100"

// confirms is what the carrier itself answers.
func (k *carrier) confirms(text string) bool {
	return slices.Contains([]string{"STOP", "START", "UNSTOP"}, strings.ToUpper(text))
}

// ids are the carrier's, one a message.
func (k *carrier) id() string { return fmt.Sprintf("OK%d", len(k.arrived)+1) }

func (k *carrier) news(ctx context.Context, _ time.Time, tell notify.Tell) error {
	k.mu.Lock()
	k.asked++
	reports := slices.Clone(k.reports)
	k.mu.Unlock()
	for _, n := range reports {
		if err := tell(ctx, n); err != nil {
			return err
		}
	}
	return nil
}

// says is how one send goes.
type says struct {
	res   notify.Result
	taken bool // the message arrives whatever the carrier says
}

var (
	busy     = says{res: notify.Result{Status: notify.Retry, Code: "429"}}
	refuses  = says{res: notify.Result{Status: notify.Rejected, Code: "30007"}}
	noSuch   = says{res: notify.Result{Status: notify.Rejected, Code: "21211", BadContact: true}}
	optedOff = says{res: notify.Result{Status: notify.Rejected, Code: "21610", OptedOut: true}}
	cutOff   = says{res: notify.Result{Status: notify.Unknown, Code: "timeout"}}
	cutAfter = says{res: notify.Result{Status: notify.Unknown, Code: "timeout"}, taken: true}
)

func (k *carrier) next(answers ...says) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.script = append(k.script, answers...)
}

func (k *carrier) Send(ctx context.Context, m notify.Message) notify.Result {
	k.mu.Lock()
	k.tries++
	answer := says{res: notify.Result{Status: notify.Sent, ID: k.id()}, taken: true}
	if len(k.script) > 0 {
		answer, k.script = k.script[0], k.script[1:]
	}
	inside := k.inside
	k.mu.Unlock()
	if inside != nil {
		inside(ctx, m)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if answer.taken {
		k.arrived = append(k.arrived, m)
	}
	return answer.res
}

func (k *carrier) Settle(_ context.Context, m notify.Message) notify.Result {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.looked++
	if k.settle != nil {
		return k.settle(m)
	}
	for _, a := range k.arrived {
		if a.Key == m.Key {
			return notify.Result{Status: notify.Sent, ID: "FOUND " + a.Key}
		}
	}
	return notify.Result{Status: notify.Unknown, Code: "absent"}
}

func (k *carrier) Collect(context.Context, notify.Take) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.failing
}

// forget has the carrier take everything from now on.
func (k *carrier) forget() {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.script = nil
}

// mailsTo are the mails to an address, with their subjects.
func (k *carrier) mailsTo(to string) []string {
	var out []string
	for _, m := range k.all() {
		if m.To == to {
			out = append(out, "Subject: "+m.Subject+"\n\n"+m.Text)
		}
	}
	return out
}

func (k *carrier) subjects(to string) []string {
	var out []string
	for _, m := range k.all() {
		if m.To == to {
			out = append(out, m.Subject)
		}
	}
	return out
}

// all is everything that arrived.
func (k *carrier) all() []notify.Message {
	k.mu.Lock()
	defer k.mu.Unlock()
	return slices.Clone(k.arrived)
}

func (k *carrier) textsTo(to string) []string {
	k.mu.Lock()
	defer k.mu.Unlock()
	var out []string
	for _, m := range k.arrived {
		if m.To == to {
			out = append(out, m.Text)
		}
	}
	return out
}
