package daemon

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"reflect"
	"slices"

	"stepgate/config"
	"stepgate/rules"
)

// Reload reads the clinic folder again. If it is bad, the clinic in force
// stays, and the log, the health page and the clinician are told.
func (s *Service) Reload(ctx context.Context, load func() (*config.Clinic, config.Problems)) error {
	s.rereading.Lock()
	defer s.rereading.Unlock()
	defer s.manager.reloading(s)()
	defer func() {
		if c := s.Clinic(); c != nil && c.Enrollments.Len() >= manyPatients {
			BoundMemory(c.Enrollments.Len())
		}
	}()
	problems, err := s.takeUp(ctx, load)
	for tries := 1; errors.Is(err, config.ErrChanged) && tries < 5; tries++ { // somebody saved meanwhile
		problems, err = s.takeUp(ctx, load)
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

// takeUp reads the files and accepts them.
func (s *Service) takeUp(ctx context.Context, load func() (*config.Clinic, config.Problems)) (config.Problems, error) {
	c, problems := load()
	for _, p := range problems {
		s.logProblem(ctx, p)
	}
	if c == nil {
		return problems, problems.Errors()
	}
	s.noteSettings(ctx, c)
	err := s.Accept(ctx, c)
	var refused RefusedError
	if errors.As(err, &refused) {
		problems = config.Problems{refused.Problem}
		s.logProblem(ctx, refused.Problem)
	}
	if err == nil && s.o.Accepted != nil {
		s.o.Accepted(ctx, c)
	}
	return problems, err
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
