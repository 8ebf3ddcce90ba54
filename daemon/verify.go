package daemon

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"stepgate/config"
	"stepgate/daemon/control"
	"stepgate/daemon/journal"
)

// Verified is what was found in a journal that is whole.
type Verified struct {
	journal.Report
	Decided Redecided `json:"decided"`
}

// VerifyJournal checks a clinic's journal whole, and decides its dates again:
// through the service that runs, or in the file where none does. quick is that of
// quick time.
func VerifyJournal(ctx context.Context, dir string, quick bool) (*Verified, error) {
	path := journalPath(dir, quick)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNoJournal
	}
	rep, err := journal.VerifyFile(path)
	if errors.Is(err, journal.ErrLocked) {
		v := &Verified{}
		return v, control.Get(ctx, filepath.Dir(path), "/v1/verify", v)
	}
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(path, journal.Options{})
	if err != nil {
		return nil, err
	}
	defer func() { _ = j.Close() }()
	return decidedAgain(j, rep, dir, quick)
}

func decidedAgain(j *journal.Journal, rep journal.Report, dir string, made bool) (*Verified, error) {
	v := &Verified{Report: rep}
	err := j.View(func(tx *journal.Tx) error {
		r, err := redecide(tx, dir, made)
		if err == nil {
			v.Decided = *r
		}
		return err
	})
	return v, err
}

// CompactJournal writes a clinic's journal anew, without what was freed. Nobody
// may hold it. It returns the sizes before and after.
func CompactJournal(dir string, quick bool) (before, after int64, err error) {
	path := journalPath(dir, quick)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return 0, 0, ErrNoJournal
	}
	before, after, err = journal.Compact(path)
	if errors.Is(err, journal.ErrLocked) {
		err = HeldError{Data: filepath.Dir(path)}
	}
	return before, after, err
}

func journalPath(dir string, quick bool) string {
	data := config.DataDir(dir)
	if quick {
		data = filepath.Join(data, "quick")
	}
	return filepath.Join(data, "journal.db")
}
