package daemon

import (
	"stepgate/config"
	"stepgate/daemon/journal"
)

// optOut notes that a contact wants no more messages, or wants them again. why
// is how a stop was confirmed.
func (w *work) optOut(contact string, out bool, why string) error {
	hash := w.tx.ContactHash(contact)
	if w.tx.OptedOut(hash) == out {
		return nil
	}
	_, err := w.tx.Append(journal.Event{Kind: journal.Opted, At: w.now, Contact: hash, OptOut: out, Why: why})
	return err
}

// confirmedHere says that a stop was confirmed from here, because the carrier
// does not know the word: then it does not know of the stop either, and will not
// answer the start.
const confirmedHere = "confirmed here"

// stoppedHere tells whether a patient's opt-out was confirmed from here.
func (w *work) stoppedHere(e *config.Enrollment) (bool, error) {
	for _, contact := range e.Contacts() {
		ev, err := w.tx.OptOutOf(w.tx.ContactHash(contact))
		if err != nil || ev != nil && ev.Why == confirmedHere {
			return ev != nil, err
		}
	}
	return false, nil
}
