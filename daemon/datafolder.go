package daemon

import (
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
)

// ownData makes the data folder (0700), and takes it and the files in it away
// from other users where they could get at them: by a umask, a copy, or a
// backup played back. What can't be mended is logged and served all the same,
// because patients wait. Folders in it, such as the spool, may be shared with a
// mail gateway on purpose; nobody gets to them past this one.
func ownData(data string, log *slog.Logger) error {
	if err := os.MkdirAll(data, 0o700); err != nil {
		return fmt.Errorf("open data folder: %w", err)
	}
	info, err := os.Stat(data)
	if err != nil {
		return fmt.Errorf("open data folder: %w", err)
	}
	closeToOthers(data, "folder", info, log)
	entries, err := os.ReadDir(data)
	if err != nil {
		return fmt.Errorf("open data folder: %w", err)
	}
	for _, e := range entries {
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() {
			closeToOthers(filepath.Join(data, e.Name()), e.Name(), info, log)
		}
	}
	return nil
}

func closeToOthers(path, what string, info fs.FileInfo, log *slog.Logger) {
	mode := info.Mode().Perm()
	if mode&0o077 == 0 {
		return
	}
	err := os.Chmod(path, mode&^0o077)
	log.Warn("data.open_to_others", "what", what, "mode", fmt.Sprintf("%#o", mode), "mended", err == nil)
}
