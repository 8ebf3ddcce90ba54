//go:build proof

package main

import (
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"stepgate/daemon/journal"
	"stepgate/notify/carriertest"
)

// reckoning is what the journal says became of everything, to be held against
// the carrier's record.
type reckoning struct {
	intended map[string]journal.Out     // messages by key
	history  map[string][]journal.Event // what was written of each, by key
	rows     map[string]*journal.Row
	heard    map[string]int // replies by the carrier's id
}

// reckon reads the journal, which nobody holds.
func (x *morning) reckon() reckoning {
	x.t.Helper()
	j, err := journal.Open(filepath.Join(x.dir, "data", "journal.db"), journal.Options{})
	if err != nil {
		x.t.Fatal(err)
	}
	defer j.Close()
	if _, err := j.Verify(); err != nil {
		x.t.Fatalf("the journal does not verify: %v", err)
	}
	r := reckoning{map[string]journal.Out{}, map[string][]journal.Event{}, map[string]*journal.Row{}, map[string]int{}}
	err = j.View(func(tx *journal.Tx) error {
		err := tx.All(func(e journal.Event) error {
			switch {
			case e.Kind == journal.Intended:
				r.intended[e.Out.Key] = *e.Out
			case e.In != nil:
				r.heard[e.In.ID]++
			case e.Key != "":
				r.history[e.Key] = append(r.history[e.Key], e)
			}
			return nil
		})
		for key := range r.intended {
			if err == nil {
				r.rows[key], err = tx.Row(key)
			}
		}
		return err
	})
	if err != nil {
		x.t.Fatal(err)
	}
	return r
}

// open is what is not settled yet, in words, or empty.
func (x *morning) open() string {
	r := x.reckon()
	for key, row := range r.rows {
		if row.Status == journal.Pending || row.Status == journal.Handed || row.Status == journal.Unknown && !row.NotBefore.IsZero() {
			return fmt.Sprintf("%s (%s %s)", key, row.Status, row.Code)
		}
	}
	for _, m := range x.carrier.Received() {
		if r.heard[m.SID] == 0 {
			return "a reply nobody has heard, " + m.SID
		}
	}
	return ""
}

func (x *morning) check(kills int) {
	x.t.Helper()
	r := x.reckon()
	owner := x.ownTexts(r)
	x.dailies()
	x.replies(r)
	for _, m := range x.carrier.Messages() {
		if owner[m.SID] == "" {
			x.t.Errorf("the carrier has a text to %s that no message of the journal owns: %.60q", m.To, m.Body)
		}
	}
	x.summary(kills, r)
}

// ownTexts checks every message of the journal: it was sent, and the carrier
// has it under the id written down. It returns whose each id is.
func (x *morning) ownTexts(r reckoning) map[string]string {
	x.t.Helper()
	owner := map[string]string{}
	for key, row := range r.rows {
		out := r.intended[key]
		if row.Status != journal.Sent {
			x.t.Errorf("%s ended as %s (%s)", key, row.Status, row.Code)
			continue
		}
		if row.Channel != "sms" {
			continue
		}
		m, ok := x.carrier.Message(row.CarrierID)
		if !ok || m.To != out.To || m.Body != out.Text || m.Direction != carriertest.Outbound {
			x.t.Errorf("%s was sent as %s, which the carrier has as %s %.60q", key, row.CarrierID, m.Direction, m.Body)
		}
		if other := owner[row.CarrierID]; other != "" {
			x.t.Errorf("%s and %s both own %s", key, other, row.CarrierID)
		}
		owner[row.CarrierID] = key
	}
	return owner
}

// dateIn finds the local date in a daily text.
var dateIn = regexp.MustCompile(`\b(?:Sun|Mon|Tue|Wed|Thu|Fri|Sat) [A-Z][a-z]{2} [0-9]{1,2}\b`)

// dailies checks the carrier's record of texts to patients: one with a date
// each, and one answer at most.
func (x *morning) dailies() {
	x.t.Helper()
	daily, others := map[string]int{}, map[string]int{}
	for _, m := range x.carrier.Messages() {
		if date := dateIn.FindString(m.Body); date != "" {
			daily[m.To+" "+date]++
			daily[m.To]++
		} else {
			others[m.To]++
		}
	}
	for _, number := range x.numbers {
		if daily[number] != 1 {
			x.t.Errorf("%s has %d daily texts, want 1", number, daily[number])
		}
		if want := x.wantAnswers(number); others[number] != want {
			x.t.Errorf("%s said %q and has %d answers, want %d", number, x.said[number], others[number], want)
		}
	}
}

// replies checks that each text of a patient was taken once and has its answer.
func (x *morning) replies(r reckoning) {
	x.t.Helper()
	received := x.carrier.Received()
	if len(received) != len(x.numbers) || len(r.heard) != len(received) {
		x.t.Errorf("%d patients said %d texts, the journal has heard %d", len(x.numbers), len(received), len(r.heard))
	}
	for _, m := range received {
		if r.heard[m.SID] != 1 {
			x.t.Errorf("%s said %q: the journal has it %d times", m.From, m.Body, r.heard[m.SID])
		}
		if row := r.rows["answer/sms/"+m.SID]; (row != nil) != (x.wantAnswers(m.From) == 1) {
			x.t.Errorf("%s said %q: an answer was intended: %v", m.From, m.Body, row != nil)
		}
	}
}

// summary prints what the run did, and fails one that shows nothing.
func (x *morning) summary(kills int, r reckoning) {
	x.t.Helper()
	unknown, adopted, resent, handed, tries := 0, 0, 0, 0, 0
	for key, row := range r.rows {
		if row.Channel != "sms" {
			continue
		}
		looked, was := false, ""
		for _, e := range r.history[key] {
			switch {
			case e.Kind == journal.HandedOut:
				tries++
				was = "handed"
			case e.Kind != journal.Settled:
			case e.Result.Status == "unknown":
				if was == "handed" {
					unknown++
				}
				was = "unknown"
			case e.Result.Status == "retry" && e.Result.Code == "not taken":
				resent++
			case e.Result.Status == "sent":
				looked = was == "unknown"
			}
		}
		if row.Status == journal.Unknown {
			handed++
		}
		if row.Status == journal.Sent && (looked || !x.whole[row.CarrierID]) {
			adopted++
		}
	}
	twice := 0
	for sid, n := range x.hooked {
		if n > 0 && r.heard[sid] == 1 { // the list shows it as well
			twice++
		}
	}
	fmt.Printf("texts proof: %d kills (%s), %d patients, %d ambiguous sends, %d adopted, %d resent, %d handed over to a person, "+
		"%d replies, %d seen twice and taken once (%d by the web hook again), %d posts for %d hand-overs, %d listings, %d faults, %.0f s\n",
		kills, x.kills(), len(x.numbers), unknown, adopted, resent, handed, len(r.heard), twice,
		strings.Count(x.log.String(), "msg=in.duplicate"), x.carrier.Posts(), tries, x.carrier.Gets(), x.faults, time.Since(x.begun).Seconds())
	if kills >= 20 && (unknown == 0 || adopted == 0 || resent == 0 || twice == 0) {
		x.t.Error("nothing was cut off, adopted, sent again or heard twice, so nothing was shown")
	}
}
