package daemon

import (
	"errors"
	"time"

	"stepgate/daemon/journal"
	"stepgate/rules"
)

// overFor is how far back alerts about the files are looked for: as long as one
// stays on the caseload.
const overFor = 30 * 24 * time.Hour

var errEarlier = errors.New("earlier than looked for")

// filesGood acknowledges what was alerted of bad files, since good ones are put
// in force. Whoever mended them need not say so.
func (w *work) filesGood() error {
	var seqs []uint64
	err := w.tx.Alerts(func(r *journal.AlertRow) error {
		switch {
		case w.now.Sub(r.At) > overFor:
			return errEarlier
		case r.Notice == string(rules.NoticeBadFiles) && r.Acked.IsZero():
			seqs = append(seqs, r.Seq)
		}
		return nil
	})
	if errors.Is(err, errEarlier) {
		err = nil
	}
	if err != nil || len(seqs) == 0 {
		return err
	}
	_, err = w.tx.Append(journal.Event{Kind: journal.Acked, At: w.now, Alerts: seqs, Why: "files accepted"})
	return err
}
