package daemon

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"math"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/notify"
	"stepgate/rules"
	"stepgate/templates"
)

// The ranks of messages, for lanes that are slower than a morning is big.
const (
	rankUrgent = 0 // answers and alerts: somebody waits for them, or is in danger
	rankFirst  = 1 // a first text, to be tried before the patient leaves, and doses held back
	rankUsual  = 2
)

// address is where a patient's messages go: the contact in the files, or the
// fallback while nothing arrives there.
func (w *work) address(e *config.Enrollment, p *journal.Person) config.Address {
	if e.Fallback.To != "" && w.dead(e, p) {
		return e.Fallback
	}
	return e.Address
}

// dead tells whether what is sent to the contact in the files does not arrive.
// Another contact in the files is another matter.
func (w *work) dead(e *config.Enrollment, p *journal.Person) bool {
	return p != nil && len(p.Dead) > 0 && bytes.Equal(p.Dead, w.tx.ContactHash(e.Address.To))
}

// optedOut tells whether a patient wants no messages, on any channel.
func (w *work) optedOut(e *config.Enrollment) bool { return w.tx.AnyOptedOut(e.Contacts()) }

// heard tells whether everything was read that a patient can have answered by.
func (w *work) heard(e *config.Enrollment, p *journal.Person, since time.Time) bool {
	return w.s.heardSince(e.Address.Channel, since) &&
		(!w.dead(e, p) || e.Fallback.To == "" || w.s.heardSince(e.Fallback.Channel, since))
}

// number is the one of ours that a patient's texts come from: what the files
// say, or that of the text before, so that all stand in one conversation; for a
// new patient one by lot, by how fast each is.
func (w *work) number(e *config.Enrollment, p *journal.Person) string {
	numbers := w.s.o.Channels["sms"].Numbers
	was := ""
	if p != nil {
		was = p.From
	}
	best, most := "", -1.0
	for _, n := range numbers {
		if n.Number == e.Sender || e.Sender == "" && n.Number == was {
			return n.Number
		}
		if score := lot(e.ID, n); score > most {
			best, most = n.Number, score
		}
	}
	return best
}

// lot is a number's draw for a patient: of numbers drawn so, each wins as often
// as its rate's share of all rates (weighted rendezvous hashing), and one added
// later takes patients only to itself.
func lot(id string, n config.SMSNumber) float64 {
	sum := sha256.Sum256([]byte(id + "\x00" + n.Number))
	u := (float64(binary.BigEndian.Uint64(sum[:])>>11) + 0.5) / (1 << 53) // in (0, 1)
	return -n.Rate / math.Log(u)
}

// out makes an outgoing message to an address. from is the number of ours it
// comes from, for texts.
func (w *work) out(to config.Address, from string, msg templates.Message) journal.Out {
	o := journal.Out{Channel: to.Channel, To: to.To, Subject: msg.Subject, Text: notify.Plain(msg.Text), HTML: msg.HTML, Made: w.now}
	if numbers := w.s.o.Channels[to.Channel].Numbers; len(numbers) > 0 {
		if o.From = from; from == "" {
			o.From = numbers[0].Number
		}
		o.Segments = notify.Segments(o.Text).Segments
	}
	return o
}

// ours is number, if it is one of ours on the channel, or "".
func (w *work) ours(channel, number string) string {
	for _, n := range w.s.o.Channels[channel].Numbers {
		if n.Number == number {
			return number
		}
	}
	return ""
}

// rankOf is how a daily message queues up.
func rankOf(was rules.State, dec rules.Decision) int {
	if was.Decided == 0 {
		return rankFirst
	}
	switch dec.State {
	case rules.InHeld, rules.InEased, rules.InPaused:
		return rankFirst
	}
	return rankUsual
}
