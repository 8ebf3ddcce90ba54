package daemon

import (
	"slices"

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

// hashes are what opt-outs know a patient's contacts by. They take longer to
// work out than to look up.
type hashes [][]byte

func (w *work) hashes(e *config.Enrollment) hashes {
	contacts := e.Contacts()
	list := make(hashes, len(contacts))
	for i, contact := range contacts {
		list[i] = w.tx.ContactHash(contact)
	}
	return list
}

// anyOut tells whether one of the contacts has opted out: that covers all.
func (w *work) anyOut(list hashes) bool { return slices.ContainsFunc(list, w.tx.OptedOut) }

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
