package journal

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"syscall"
	"time"

	bolt "go.etcd.io/bbolt"
)

// VerifyFile does what [Journal.Verify] does with a file that nobody has open,
// and looks at how its pages hang together first. It changes nothing in the file. One of an
// older version stays as it is: its events are checked and replayed, while what
// it has derived is not compared, as opening makes that anew. [ErrLocked]: a
// process has the file open for writing. The folder must be writable, for the
// replay.
func VerifyFile(path string) (rep Report, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("verify journal %s: %w", filepath.Base(path), err)
		}
	}()
	err = onClosed(path, func(btx *bolt.Tx) error {
		return newCore(btx).verify(&rep, filepath.Dir(path))
	})
	return rep, err
}

// ErasuresIn returns the erasures of a journal that nobody has open, without
// changing it: what a restore over that file must apply again.
func ErasuresIn(path string) (list []Erasure, err error) {
	err = onClosed(path, func(btx *bolt.Tx) (err error) {
		if btx.Bucket(bucketNames[inErased]) == nil {
			return nil // version 1 knew no erasing
		}
		list, err = (&Tx{c: newCore(btx)}).Erasures()
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("read erasures: %w", err)
	}
	return list, nil
}

// onClosed runs fn over a journal file that is opened for reading only. A
// spoiled file is [ErrDamaged], whatever bbolt or the mapping make of it.
func onClosed(path string, fn func(*bolt.Tx) error) (err error) {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	if info.Size() == 0 {
		return fmt.Errorf("%w: the file is empty", ErrFormat)
	}
	defer caught(&err)()
	db, file, err := openBolt(path, &bolt.Options{Timeout: time.Second, ReadOnly: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := readPages(file); err != nil {
		return err
	}
	return db.View(func(btx *bolt.Tx) error {
		if err := checkFormat(btx); err != nil {
			return err
		}
		return fn(btx)
	})
}

// caught is to be deferred and called at once. It turns panics and faults of
// this goroutine into ErrDamaged: bbolt panics over some kinds of spoiled pages,
// and a page that is not in the file, or that the disk cannot read, is a fault.
func caught(err *error) func() {
	before := debug.SetPanicOnFault(true)
	return func() {
		debug.SetPanicOnFault(before)
		if r := recover(); r != nil {
			*err = fmt.Errorf("%w: %v", ErrDamaged, r)
		}
	}
}

// notCut refuses a file that is shorter than it says; it grows before it says so.
func notCut(db *bolt.DB, size int64) error {
	return db.View(func(btx *bolt.Tx) error {
		if btx.Size() > size {
			return fmt.Errorf("%w: the file is cut short: %d bytes of %d", ErrDamaged, size, btx.Size())
		}
		return nil
	})
}

// openBolt opens the database at path and returns its file as well. It makes
// sure that it holds the lock of the very file that has that name: a compaction
// may have put another in its place while the lock was waited for.
func openBolt(path string, o *bolt.Options) (db *bolt.DB, file *os.File, err error) {
	openFile := o.OpenFile
	if openFile == nil {
		openFile = os.OpenFile
	}
	o.OpenFile = func(name string, flag int, mode os.FileMode) (f *os.File, err error) {
		f, err = openFile(name, flag, mode)
		file = f
		return f, err
	}
	defer func() {
		if r := recover(); r != nil {
			if file != nil {
				// The mapping outlives the file, and would keep the lock.
				_ = syscall.Flock(int(file.Fd()), syscall.LOCK_UN)
				_ = file.Close()
			}
			db, file, err = nil, nil, fmt.Errorf("%w: %v", ErrDamaged, r)
		}
	}()
	for {
		db, err := bolt.Open(path, 0o600, o)
		if err != nil {
			if info, statErr := os.Stat(path); statErr == nil && 0 < info.Size() && info.Size() < int64(2*os.Getpagesize()) {
				err = fmt.Errorf("%w: %w", ErrDamaged, err) // bbolt has no name for this
			}
			return nil, nil, openError(err)
		}
		named, err1 := os.Stat(path)
		held, err2 := file.Stat()
		if err := errors.Join(err1, err2); err != nil {
			return nil, nil, errors.Join(err, db.Close())
		}
		if os.SameFile(named, held) {
			if err := notCut(db, held.Size()); err != nil {
				return nil, nil, errors.Join(err, db.Close())
			}
			return db, file, nil
		}
		if err := db.Close(); err != nil {
			return nil, nil, err
		}
	}
}
