package daemon

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stepgate/config"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
	"stepgate/notify"
)

// Erased is what became of a patient's data.
type Erased struct {
	ID       string   `json:"id"`
	Events   int      `json:"events"`      // whose content is gone
	Spool    []string `json:"spool"`       // folders that were removed
	Compact  bool     `json:"compact_due"` // freed pages still hold old bytes: stop the service and compact
	Found    []string `json:"found"`       // files in which a word of theirs was still found
	Mentions int      `json:"mentions"`    // events of the clinic's own that name one of those words
	Copies   []Held   `json:"backups"`     // that were made before, and still hold them
	Quick    string   `json:"quick_time"`  // folder of quick time's data, which stay as they are; empty: none
}

// Held is a backup that holds somebody who was erased since.
type Held struct {
	File string `json:"file"`
	Goes string `json:"goes"` // when the keep rule takes it away
}

// EnrolledError says that a patient is still in the clinic's files.
type EnrolledError struct{ ID string }

func (e EnrolledError) Error() string {
	return e.ID + " is still in the enrollment files; take the entry out first, or it would be enrolled anew"
}

// Erase destroys what the journal holds of a patient who is in the files no
// more: the key and the content of their events, everything derived, the older
// versions of the files that named them, their folder on the spool. Through the
// service that runs, or in the file where none does; then the file is compacted
// and searched for their words as well.
func Erase(ctx context.Context, dir, id, by string, getenv func(string) string) (*Erased, error) {
	c, problems := config.Load(dir, getenv)
	if c == nil {
		return nil, problems.Errors()
	}
	if _, in := c.Enrollments.Find(id); in {
		return nil, EnrolledError{id}
	}
	path := filepath.Join(c.Data, "journal.db")
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoJournal
	}
	j, err := journal.Open(path, journal.Options{})
	if errors.Is(err, journal.ErrLocked) {
		return eraseThrough(ctx, c.Data, id, by)
	}
	if err != nil {
		return nil, err
	}
	out, words, err := eraseHere(ctx, j, c, dir, id, by, getenv)
	if err := errors.Join(err, j.Close()); err != nil {
		return nil, err
	}
	if _, _, err := journal.Compact(path); err != nil {
		return nil, fmt.Errorf("erase %s: compact: %w", id, err)
	}
	out.Compact = false
	boxes := boxesOf(c)
	if quick := filepath.Join(c.Data, "quick"); exists(quick) {
		boxes[quick], out.Quick = true, quick
	}
	out.Found, err = findWords(c.Data, words, boxes)
	return out, err
}

// boxesOf are the folders on the spool of those who are enrolled. Each holds one
// patient's own messages, whose lines are often the same as another's.
func boxesOf(c *config.Clinic) map[string]bool {
	boxes := map[string]bool{}
	for e := range c.Enrollments.All() {
		if e.Address.Channel == "spool" {
			boxes[filepath.Join(c.Spool.Dir, e.Address.To)] = true
		}
	}
	return boxes
}

// eraseThrough has the service that runs do it. Its file can't be compacted
// while it has it open.
func eraseThrough(ctx context.Context, data, id, by string) (*Erased, error) {
	out := &Erased{}
	q := url.Values{"id": {id}, "by": {by}}
	if err := control.Post(ctx, data, "/v1/erase?"+q.Encode(), out); err != nil {
		return nil, err
	}
	if quick := filepath.Join(data, "quick"); exists(quick) {
		out.Quick = quick
	}
	return out, nil
}

// eraseIn erases somebody in an open journal. It returns the words that were
// theirs, for a search.
func eraseIn(ctx context.Context, j *journal.Journal, c *config.Clinic, id, by string, now time.Time) (*Erased, []string, error) {
	out := &Erased{ID: id, Spool: []string{}, Found: []string{}, Copies: []Held{}, Compact: true}
	var words, boxes []string
	err := j.Update(ctx, func(tx *journal.Tx) error {
		out.Events, words, boxes = 0, []string{id}, nil
		err := tx.Events(id, func(e journal.Event) error {
			out.Events++
			if e.Out != nil {
				words = append(words, e.Out.To)
				words = append(words, lines(e.Out.Text)...)
				if e.Out.Channel == "spool" && !slices.Contains(boxes, e.Out.To) {
					boxes = append(boxes, e.Out.To)
				}
			}
			if e.In != nil {
				words = append(append(words, e.In.From), lines(e.In.Text)...)
			}
			return nil
		})
		if err != nil {
			return err
		}
		if err := tx.Erase(id, now, by, "asked for"); err != nil {
			return err
		}
		_, err = tx.PruneFiles(now, isEnrollmentFile)
		if err != nil {
			return err
		}
		mentions, err := tx.Mentions(words)
		out.Mentions = len(mentions)
		return err
	})
	if err != nil {
		return nil, nil, fmt.Errorf("erase: %w", err)
	}
	if err := config.Forget(c.Data, c.Files); err != nil {
		return nil, nil, fmt.Errorf("erase: %w", err)
	}
	for _, box := range boxes {
		// The clinic's own people may have a box of that name.
		if !notify.SafeContact(box) || c.Alerts.To == box || c.Admin.To == box {
			continue
		}
		folder := filepath.Join(c.Spool.Dir, box)
		if _, err := os.Stat(folder); err == nil {
			if err := os.RemoveAll(folder); err != nil {
				return nil, nil, fmt.Errorf("erase: spool: %w", err)
			}
			out.Spool = append(out.Spool, folder)
		}
	}
	if out.Copies, err = heldBy(c.Backups); err != nil {
		return nil, nil, fmt.Errorf("erase: %w", err)
	}
	return out, words, nil
}

// erase is eraseIn in a service that runs. No files come into force, and nothing
// of them is kept, until it is done.
func (s *Service) erase(ctx context.Context, id, by string) (*Erased, error) {
	s.rereading.Lock()
	defer s.rereading.Unlock()
	r := s.roster.Load()
	if r.enrolled(id) != nil {
		return nil, EnrolledError{id}
	}
	out, _, err := eraseIn(ctx, s.o.Journal, r.clinic, id, by, s.o.Clock.Now())
	return out, err
}

// isEnrollmentFile tells which kept files hold people.
func isEnrollmentFile(path string) bool { return strings.HasPrefix(path, "enrollments") }

// lines are the lines of a text that are long enough to be told from others.
func lines(text string) (list []string) {
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); len(line) >= 12 {
			list = append(list, line)
		}
	}
	return list
}

// heldBy are the backups that are there now.
func heldBy(b *config.Backups) ([]Held, error) {
	held := []Held{}
	if b == nil {
		return held, nil
	}
	names, err := copies(b.Dir)
	for i, name := range names {
		n := b.Keep - i
		goes := fmt.Sprintf("after %d more backups", n)
		if n == 1 {
			goes = "with the next backup"
		}
		held = append(held, Held{filepath.Join(b.Dir, name), goes})
	}
	return held, err
}

// findWords looks for words in every file of the data folder, byte by byte. Ids
// of a few letters are in many words; they are looked for between quotes. Some
// folders are left out.
func findWords(data string, words []string, but map[string]bool) ([]string, error) {
	found := []string{}
	var forms [][]byte
	for _, w := range words {
		switch {
		case len(w) >= 8:
			forms = append(forms, []byte(w))
		case w != "":
			forms = append(forms, []byte(`"`+w+`"`), []byte("/"+w+"/"))
		}
	}
	err := filepath.WalkDir(data, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() && but[path] {
			return fs.SkipDir
		}
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		has, err := hasAny(path, forms)
		if has {
			found = append(found, path)
		}
		return err
	})
	return found, err
}

// hasAny tells whether a file holds one of the forms.
func hasAny(path string, forms [][]byte) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer func() { _ = f.Close() }() // read only
	const block, over = 1 << 20, 4 << 10
	r, buf := bufio.NewReaderSize(f, block), make([]byte, 0, block+over)
	for {
		n, err := io.ReadFull(r, buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		for _, form := range forms {
			if bytes.Contains(buf, form) {
				return true, nil
			}
		}
		if err != nil {
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				err = nil
			}
			return false, err
		}
		keep := min(len(buf), over)
		buf = append(buf[:0], buf[len(buf)-keep:]...)
	}
}

// retain erases whom the clinic keeps no longer: those who were discharged so
// long ago and are in the files no more. It looks once a date.
func (s *Service) retain(ctx context.Context) {
	r := s.roster.Load()
	if r.clinic == nil || r.clinic.KeepDischarged == 0 || s.o.Made {
		return
	}
	now := s.o.Clock.Now()
	s.mu.Lock()
	early := now.Sub(s.retained) < 12*time.Hour
	if !early {
		s.retained = now
	}
	s.mu.Unlock()
	if early {
		return
	}
	over := now.AddDate(0, 0, -r.clinic.KeepDischarged)
	var ids []string
	err := s.o.Journal.View(func(tx *journal.Tx) error {
		return tx.People(func(id string, p *journal.Person) error {
			if !p.Gone || !p.State.Discharged {
				return nil
			}
			last := time.Time{}
			err := tx.Events(id, func(e journal.Event) error { last = e.At; return nil })
			if err == nil && last.Before(over) {
				ids = append(ids, id)
			}
			return err
		})
	})
	for _, id := range ids {
		if err == nil {
			_, err = s.erase(ctx, id, "retention")
		}
		if err == nil {
			s.o.Log.InfoContext(ctx, "retention.erased", "id", id)
		}
	}
	if err != nil && ctx.Err() == nil {
		s.o.Log.ErrorContext(ctx, "retention.failed", "error", safeError(err))
	}
}
