package daemon

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"slices"
	"time"

	"stepgate/config"
	"stepgate/daemon/journal"
	"stepgate/rules"
)

// Accept puts a clinic in force: its files are kept by hash, new patients are
// enrolled, changed ones revised, and those gone from the files get nothing
// more on the service's own account. It is all or nothing, but that very many new
// patients are enrolled beforehand, several commits of them: until the files are
// in force nobody decides for them, and the next try goes on from there.
func (s *Service) Accept(ctx context.Context, c *config.Clinic) error {
	r := newRoster(c, s.o.Clock.Now())
	refs := r.refs()
	taken, err := s.enrollAhead(ctx, r, refs)
	if err != nil {
		return fmt.Errorf("accept clinic: %w", err)
	}
	err = s.commit(ctx, r, func(w *work) error {
		last, _, err := w.tx.LastAccepted()
		if err != nil {
			return err
		}
		as, err := asBefore(w.tx, last, refs)
		if err != nil {
			return err
		}
		if slices.Equal(last, refs) {
			return w.takeAgain(as)
		}
		gone, strays, err := mayAccept(w.tx, r, w.now, s.o.Made)
		if err != nil {
			return err
		}
		if err := w.keepFiles(refs); err != nil {
			return err
		}
		if err := w.takeAll(taken, as); err != nil {
			return err
		}
		for _, id := range strays {
			if _, err := w.tx.Append(journal.Event{Kind: journal.Removed, ID: id, At: w.now}); err != nil {
				return err
			}
		}
		for _, id := range gone {
			if _, err := w.tx.Append(journal.Event{Kind: journal.Removed, ID: id, At: w.now}); err != nil {
				return err
			}
			if err := w.alert(alert{id: id, notice: rules.Notice{Kind: rules.NoticeGone}, cause: rules.DateOf(w.now).String()}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("accept clinic: %w", err)
	}
	s.roster.Store(r)
	s.o.Log.InfoContext(ctx, "files.accepted", "files", len(c.Files), "enrollments", c.Enrollments.Len())
	s.kick()
	return nil
}

// approval is an approval as the journal keeps it beside a file.
func approval(p *rules.Program) string {
	if p.Approved == nil {
		return ""
	}
	return p.Approved.On.String() + " " + p.Approved.By
}

// takeAgain puts the files in force that were accepted last: at a start, where
// there may be very many patients.
func (w *work) takeAgain(asBefore func(*config.Enrollment) bool) error {
	if !w.s.o.Made {
		if err := approvalsHold(w.tx, w.r, w.now); err != nil {
			return err
		}
	}
	return w.takeAll(nil, asBefore)
}

// takeAll takes everybody in the files in, but for those who were taken ahead (nil:
// nobody) and those who are as before.
func (w *work) takeAll(taken []bool, asBefore func(*config.Enrollment) bool) error {
	for i := range w.r.clinic.Enrollments.Len() {
		if taken != nil && taken[i] {
			continue
		}
		e := w.r.clinic.Enrollments.At(i)
		if asBefore(e) {
			continue
		}
		if err := w.takeEnrollment(e); err != nil {
			return fmt.Errorf("enrollment %s: %w", e.ID, err)
		}
	}
	return nil
}

// asBefore tells whom nobody need look at: who is in a file that is in force
// already, under the same settings. Those were taken in with it, and the ticks see
// to who is due; a date that came while nobody ran matters only to those with
// entries. Somebody may have been erased since from a journal that was restored,
// whose files are back as well, and is then taken in anew; only where somebody was
// erased are their rows in the journal looked for.
func asBefore(tx *journal.Tx, last, refs []journal.FileRef) (func(*config.Enrollment) bool, error) {
	erased, err := tx.Erasures()
	if err != nil {
		return nil, err
	}
	was, same := map[string]string{}, map[string]bool{}
	for _, f := range last {
		was[f.Path] = f.Hash
	}
	for _, f := range refs {
		same[f.Path] = was[f.Path] == f.Hash
	}
	return func(e *config.Enrollment) bool {
		return same[settingsFile] && same[e.At.File] && len(e.Entries) == 0 && (len(erased) == 0 || tx.PersonRow(e.ID) != nil)
	}, nil
}

// settingsFile is the path of the clinic's own settings among its files.
const settingsFile = "stepgate.yaml"

// refs names the files as the journal does.
func (r *roster) refs() []journal.FileRef {
	byFile := map[string]*rules.Program{}
	for _, p := range r.clinic.Programs {
		byFile[p.Where["program"].File] = p
	}
	refs := make([]journal.FileRef, 0, len(r.clinic.Files))
	for _, f := range r.clinic.Files {
		ref := journal.FileRef{Path: f.Path, Hash: f.Hash}
		if p := byFile[f.Path]; p != nil {
			ref.Approved = approval(p)
		}
		refs = append(refs, ref)
	}
	return refs
}

// keepFiles keeps the files by hash, and that they were accepted.
func (w *work) keepFiles(refs []journal.FileRef) error {
	for _, f := range w.r.clinic.Files {
		if f.Data == nil { // left on the disk, see [config.Reader]
			if _, err := w.tx.File(f.Hash); !errors.Is(err, fs.ErrNotExist) {
				if err != nil {
					return err
				}
				continue
			}
		}
		data, err := f.Read()
		if err == nil {
			_, err = w.tx.PutFile(data)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", f.Path, err)
		}
	}
	if _, err := w.tx.Append(journal.Event{Kind: journal.Accepted, At: w.now, Files: refs}); err != nil {
		return err
	}
	// Older versions of the files go as well where somebody was erased since: a
	// restored journal has them again.
	erased, err := w.tx.Erasures()
	if err != nil || len(erased) == 0 {
		return err
	}
	_, err = w.tx.PruneFiles(w.now, isEnrollmentFile)
	return err
}

// takeEnrollment enrolls a new patient, or reads what changed for a known one.
func (w *work) takeEnrollment(e *config.Enrollment) error {
	p, err := w.tx.Person(e.ID)
	if err != nil {
		return err
	}
	if p == nil || p.Gone {
		st := rules.State{Rev: 1}
		if p != nil {
			st = p.State
		}
		due := w.nextDue(e, st)
		if _, err := w.tx.Append(journal.Event{Kind: journal.Enrolled, ID: e.ID, At: w.now, State: &st, Due: &due}); err != nil {
			return err
		}
		if p, err = w.tx.Person(e.ID); err != nil {
			return err
		}
	}
	st, err := w.readEntries(e, p.State)
	if err != nil {
		return err
	}
	if due := w.nextDue(e, st); !due.Equal(p.Due) && !w.inOutbox(e) {
		w.slept(e, st, p.Due, due)
		_, err = w.tx.Append(journal.Event{Kind: journal.Revised, ID: e.ID, At: w.now, Due: &due})
	}
	return err
}

// readEntries takes the clinician's entries whose date has come.
func (w *work) readEntries(e *config.Enrollment, st rules.State) (rules.State, error) {
	for _, n := range rules.Pending(&e.Enrollment, st, today(w.now, e)) {
		if n.Kind == rules.EntryReport {
			var err error
			if st, err = w.phoned(e, st, n); err != nil {
				return st, err
			}
			continue
		}
		st = rules.Enter(st, n, today(w.now, e))
		state := st
		if _, err := w.tx.Append(journal.Event{Kind: journal.Revised, ID: e.ID, At: w.now, Entry: &n, State: &state}); err != nil {
			return st, err
		}
		if n.Kind == rules.EntryConfirm { // by the usual contact again
			if err := w.revive(e.ID); err != nil {
				return st, err
			}
		}
		if n.OfHold == 0 { // what was written ahead answers for nothing that came after
			if err := w.ackAlerts(e.ID, string(n.Kind), n.By); err != nil {
				return st, err
			}
		}
		w.log(slog.LevelInfo, "entry.read", "id", e.ID, "entry", string(n.Kind), "on", n.On.String(), "at", n.At.String())
	}
	return st, nil
}

// revive lets messages go to the contact in the files again.
func (w *work) revive(id string) error {
	p, err := w.tx.Person(id)
	if err != nil || p == nil || len(p.Dead) == 0 {
		return err
	}
	_, err = w.tx.Append(journal.Event{Kind: journal.Rerouted, ID: id, At: w.now, Why: "contact confirmed"})
	return err
}

// inOutbox tells whether today's message is decided already and waits to be
// handed over, or was; the next due time is then set.
func (w *work) inOutbox(e *config.Enrollment) bool {
	row, err := w.tx.Progress(dailyKey(e.ID, today(w.now, e)))
	return err == nil && row != nil && row.Status != journal.TakenBack
}

// nextDue is the message time of the next date that may be decided: today's
// while the texting hours last and its message is not in the outbox, or else a
// later one. Zero: none.
func (w *work) nextDue(e *config.Enrollment, st rules.State) time.Time {
	d := max(today(w.now, e), st.Decided+1, e.First())
	if !rules.Decidable(&e.Enrollment, st, d) {
		return time.Time{} // nor will any later date be: discharged, or finished
	}
	late := !w.now.Before(localInstant(d, w.r.clinic.Texting.To, e.Zone))
	if d == today(w.now, e) && (late || w.inOutbox(e)) {
		d++
	}
	return localInstant(d, e.Time, e.Zone)
}

// lastAccepted reads the last clinic that was accepted, from the files the
// journal kept. It is nil where there is none.
func lastAccepted(j *journal.Journal, dir string, getenv func(string) string) (*config.Clinic, error) {
	var files []config.File
	err := j.View(func(tx *journal.Tx) error {
		refs, _, err := tx.LastAccepted()
		if err != nil {
			return err
		}
		for _, ref := range refs {
			data, err := tx.File(ref.Hash)
			if err != nil {
				return err
			}
			files = append(files, config.File{Path: ref.Path, Hash: ref.Hash, Data: data})
		}
		return nil
	})
	if err != nil || files == nil {
		return nil, err
	}
	c, problems := config.LoadFiles(dir, files, getenv)
	if c == nil {
		return nil, problems.Errors()
	}
	return c, nil
}
