package daemon

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"reflect"
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
		if slices.Equal(last, refs) {
			return w.takeAgain()
		}
		gone, strays, err := mayAccept(w.tx, r, w.now, s.o.Made)
		if err != nil {
			return err
		}
		if err := w.keepFiles(refs); err != nil {
			return err
		}
		for i, e := range c.Enrollments {
			if taken != nil && taken[i] {
				continue
			}
			if err := w.takeEnrollment(e); err != nil {
				return fmt.Errorf("enrollment %s: %w", e.ID, err)
			}
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
	s.o.Log.InfoContext(ctx, "files.accepted", "files", len(c.Files), "enrollments", len(c.Enrollments))
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
// there may be very many patients. Who is in them was taken in with them, and the
// ticks see to who is due; a date that came while nobody ran matters only to
// those with entries.
func (w *work) takeAgain() error {
	if !w.s.o.Made {
		if err := approvalsHold(w.tx, w.r, w.now); err != nil {
			return err
		}
	}
	for _, e := range w.r.clinic.Enrollments {
		if len(e.Entries) == 0 && w.tx.PersonRow(e.ID) != nil {
			continue
		}
		if err := w.takeEnrollment(e); err != nil {
			return fmt.Errorf("enrollment %s: %w", e.ID, err)
		}
	}
	return nil
}

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
		if _, err := w.tx.PutFile(f.Data); err != nil {
			return err
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

// Reload reads the clinic folder again. If it is bad, the clinic in force
// stays, and the log, the health page and the clinician are told.
func (s *Service) Reload(ctx context.Context, load func() (*config.Clinic, config.Problems)) error {
	s.rereading.Lock()
	defer s.rereading.Unlock()
	defer s.manager.reloading(s)()
	c, problems := load()
	for _, p := range problems {
		s.logProblem(ctx, p)
	}
	var err error = problems.Errors()
	if c != nil {
		s.noteSettings(ctx, c)
		err = s.Accept(ctx, c)
		var refused RefusedError
		if errors.As(err, &refused) {
			problems = config.Problems{refused.Problem}
			s.logProblem(ctx, refused.Problem)
		}
	}
	if err == nil {
		s.setBad(nil)
		return s.commit(ctx, s.roster.Load(), (*work).filesGood)
	}
	s.setBad(problems.Errors())
	s.o.Log.ErrorContext(ctx, "files.refused", "problems", len(problems.Errors()), "in_force", s.Clinic() != nil)
	if s.Clinic() != nil {
		s.tellBad(ctx, problems.Errors())
	}
	return err
}

func (s *Service) logProblem(ctx context.Context, p config.Problem) {
	s.o.Log.WarnContext(ctx, "files.problem", "at", p.At.String(), "what", p.What, "do", p.Do, "warning", p.Warning)
}

// refused are the problems of the files that are not in force.
func (s *Service) refused() config.Problems {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.bad
}

func (s *Service) setBad(p config.Problems) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.bad = p
}

// tellBad alerts once about one set of problems.
func (s *Service) tellBad(ctx context.Context, p config.Problems) {
	sum := sha256.Sum256([]byte(p.Error()))
	err := s.commit(ctx, s.roster.Load(), func(w *work) error {
		return w.alert(alert{
			notice: rules.Notice{Kind: rules.NoticeBadFiles},
			// The same errors on another date are news: they may have been mended between.
			cause: hex.EncodeToString(sum[:6]) + " " + rules.DateOf(w.now).String(), detail: p.Error()})
	})
	if err != nil {
		s.o.Log.ErrorContext(ctx, "journal.failed", "doing", "alert of bad files")
	}
	s.kick()
}

// noteSettings says when an edit touched what only a restart can change.
func (s *Service) noteSettings(ctx context.Context, c *config.Clinic) {
	was := s.Clinic()
	if was == nil {
		return
	}
	if was.Data != c.Data || was.Spool != c.Spool || !sameSMS(was.SMS, c.SMS) || !sameEmail(was.Email, c.Email) ||
		was.Metrics != c.Metrics || was.Reports != c.Reports || !sameWeb(was.Web, c.Web) {
		s.o.Log.WarnContext(ctx, "files.restart_needed")
	}
}

func sameWeb(a, b *config.Web) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Listen == b.Listen && a.CertificateFile == b.CertificateFile && a.KeyFile == b.KeyFile
}

// sameSMS compares settings by value, wherever in the file they stand.
func sameSMS(a, b *config.SMS) bool {
	if a == nil || b == nil {
		return a == b
	}
	x, y := *a, *b
	x.At, y.At, x.Token, y.Token = rules.Pos{}, rules.Pos{}, config.Secret{}, config.Secret{}
	x.Numbers, y.Numbers = nil, nil
	same := func(m, n config.SMSNumber) bool { m.At, n.At = rules.Pos{}, rules.Pos{}; return m == n }
	return reflect.DeepEqual(x, y) && slices.EqualFunc(a.Numbers, b.Numbers, same) && a.Token.Reveal() == b.Token.Reveal()
}

func sameEmail(a, b *config.Email) bool {
	if a == nil || b == nil {
		return a == b
	}
	x, y := *a, *b
	for _, e := range []*config.Email{&x, &y} {
		e.At = rules.Pos{}
		if e.IMAP != nil {
			m := *e.IMAP
			m.At, e.IMAP = rules.Pos{}, &m
		}
		if e.DKIM != nil {
			d := *e.DKIM
			d.At, e.DKIM = rules.Pos{}, &d
		}
	}
	return reflect.DeepEqual(x, y) // secrets too: they are compared by value
}
