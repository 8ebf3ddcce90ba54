package journal

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"

	bolt "go.etcd.io/bbolt"
)

// compactBatch is how many bytes a compaction holds in memory before it commits.
const compactBatch = 8 << 20

// Compact writes a journal that nobody has open anew, without the pages that
// were freed: what was erased is in the file no more. The new file is verified
// before it takes the old one's place; until then the old one is as it was.
// [ErrLocked]: a process has it open. It returns the sizes before and after.
//
// The blocks of the old file go back to the disk as they are; whether bytes
// stay there is the disk's affair.
func Compact(path string) (before, after int64, err error) {
	before, after, err = compact(path)
	if err != nil {
		return 0, 0, fmt.Errorf("compact journal %s: %w", filepath.Base(path), err)
	}
	return before, after, nil
}

func compact(path string) (before, after int64, err error) {
	if path, err = filepath.EvalSymlinks(path); err != nil { // a rename would replace the link
		return 0, 0, err
	}
	info, err := os.Stat(path)
	if err != nil {
		return 0, 0, err
	}
	if info.Size() == 0 {
		return 0, 0, fmt.Errorf("%w: the file is empty", ErrFormat)
	}
	defer caught(&err)()
	// Open for writing, because that lock keeps readers out as well.
	src, file, err := openBolt(path, &bolt.Options{Timeout: time.Second, FreelistType: bolt.FreelistMapType, OpenFile: notNew})
	if err != nil {
		return 0, 0, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	if err := errors.Join(readPages(file), src.View(checkFormat)); err != nil {
		return 0, 0, err
	}
	aside := path + ".compact"
	defer func() { _ = os.Remove(aside) }() // there only if something failed
	if err := copyCompact(aside, src, info); err != nil {
		return 0, 0, err
	}
	if _, err := VerifyFile(aside); err != nil {
		return 0, 0, fmt.Errorf("the new file is not good, the old one stays: %w", err)
	}
	smaller, err := os.Stat(aside)
	if err != nil {
		return 0, 0, err
	}
	if err := os.Rename(aside, path); err != nil {
		return 0, 0, err
	}
	return info.Size(), smaller.Size(), syncDir(filepath.Dir(path))
}

// notNew opens a file that must be there.
func notNew(name string, flag int, mode os.FileMode) (*os.File, error) {
	return os.OpenFile(name, flag&^os.O_CREATE, mode)
}

// copyCompact writes the used pages of src to a new file of the same owner, on
// disk when it returns.
func copyCompact(aside string, src *bolt.DB, info fs.FileInfo) (err error) {
	if err := os.Remove(aside); err != nil && !errors.Is(err, fs.ErrNotExist) { // of a compaction that was killed
		return err
	}
	dst, err := bolt.Open(aside, 0o600, &bolt.Options{Timeout: time.Second, NoSync: true, FreelistType: bolt.FreelistMapType})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, dst.Close()) }()
	if st, ok := info.Sys().(*syscall.Stat_t); ok && os.Geteuid() == 0 {
		// root may compact what the service's own user must open.
		if err := os.Chown(aside, int(st.Uid), int(st.Gid)); err != nil {
			return err
		}
	}
	if err := bolt.Compact(dst, src, compactBatch); err != nil {
		return err
	}
	// A chain that verifies could still end early: the heads must be the same.
	was, err1 := headBytes(src)
	is, err2 := headBytes(dst)
	if err := errors.Join(err1, err2); err != nil {
		return err
	}
	if !bytes.Equal(was, is) {
		return fmt.Errorf("%w: the new file has another head", ErrDamaged)
	}
	// bbolt makes files longer than they need to be.
	if err := dst.View(func(btx *bolt.Tx) error { return os.Truncate(aside, btx.Size()) }); err != nil {
		return err
	}
	return dst.Sync()
}

func headBytes(db *bolt.DB) (b []byte, err error) {
	err = db.View(func(btx *bolt.Tx) error {
		b = bytes.Clone(btx.Bucket(bucketNames[inMeta]).Get(keyHead))
		return nil
	})
	return b, err
}
