package daemon

import (
	"crypto/sha256"
	"encoding/hex"
	"log/slog"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
	"stepgate/templates"
)

// phoneChannel is where reports come from that the clinic takes by phone and
// writes into the enrollment.
const phoneChannel = "phone"

// phoned hears a report taken by phone. It stands in the journal as one that
// came in now, with the entry beside it. Nothing is answered: whoever took it
// spoke with the patient. What it alerts of, somebody has yet to look at, so it
// acknowledges no alert.
func (w *work) phoned(e *config.Enrollment, st rules.State, n rules.Entry) (rules.State, error) {
	reading := w.s.reader(e.Language).Read(n.Said, rules.AskNothing)
	day := st.Decided
	st, hearing := rules.EnterReport(w.r.program(e), &e.Enrollment, st, n, reading, today(w.now, e), w.optedOut(e))
	in := journal.In{Channel: phoneChannel, ID: phonedID(e.ID, n), From: e.Contacts()[0], Text: n.Said, Came: w.now,
		Day: day, Reading: reading, Hearing: &hearing}
	for seen := true; seen; { // under the same id before it was erased
		if _, seen = w.tx.Seen(in.Channel, in.ID); seen {
			in.ID += "+"
		}
	}
	if _, err := w.tx.Append(journal.Event{Kind: journal.Heard, ID: e.ID, At: w.now, Entry: &n, In: &in, State: &st}); err != nil {
		return st, err
	}
	w.log(slog.LevelInfo, "in.taken", "id", e.ID, "channel", phoneChannel, "report", reading.Report(), "unread", reading.Unread)
	if hearing.OptOut {
		// The carrier does not know, so START has to be answered from here.
		if err := w.optOut(in.From, true, confirmedHere); err != nil {
			return st, err
		}
	}
	return st, w.tellHearing(e, st, hearing, alert{cause: in.Channel + " " + in.ID, quote: n.Said, detail: "Taken by phone by " + n.By + ".", mute: true})
}

// phonedID tells reports by phone apart, as entries are told apart.
func phonedID(id string, n rules.Entry) string {
	sum := sha256.Sum256([]byte(id + "\x00" + n.ID()))
	return hex.EncodeToString(sum[:12])
}

// readPhoned reads a report where no service runs that has the words at hand.
func readPhoned(language, said string) rules.Reading {
	words, err := templates.Vocabulary(language)
	if err != nil {
		return rules.Reading{Unread: true}
	}
	reader, err := words.Compile()
	if err != nil {
		return rules.Reading{Unread: true}
	}
	return reader.Read(said, rules.AskNothing)
}
