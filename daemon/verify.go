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

// VerifyJournal checks a clinic's journal whole: through the service that
// runs, or the file where none does. quick is that of quick time.
func VerifyJournal(ctx context.Context, dir string, quick bool) (journal.Report, error) {
	path := journalPath(dir, quick)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return journal.Report{}, ErrNoJournal
	}
	rep, err := journal.VerifyFile(path)
	if errors.Is(err, journal.ErrLocked) {
		err = control.Get(ctx, filepath.Dir(path), "/v1/verify", &rep)
	}
	return rep, err
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
