package journal

import (
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterr "go.etcd.io/bbolt/errors"
)

// What a caller may branch on; always wrapped with what was tried.
var (
	ErrLocked   = errors.New("journal is in use by another process")
	ErrKeyTaken = errors.New("key is taken")                        // a message key or an incoming id that is there already
	ErrInvalid  = errors.New("event does not fit what went before") // or lacks what its kind needs
	ErrFormat   = errors.New("journal format is not known")         // a newer version, or no journal at all
	ErrClosed   = errors.New("journal is closed")
	ErrDamaged  = errors.New("journal is damaged")
	// ErrUnsure: the disk failed at the very end of a commit. What was written
	// is there and is built upon, but a crash of the machine may undo it.
	ErrUnsure = errors.New("not known to be on disk")
)

var (
	errReadOnly = errors.New("a view cannot write; use an update")
	errEnded    = errors.New("an update ended the writer's goroutine") // such as t.Fatal inside one
)

// Options say how a journal is opened.
type Options struct {
	// NoSync leaves commits to the system's mercy: a crash of the machine may
	// lose or spoil the file. For made-up calendars only.
	NoSync bool
	// Timeout is how long to wait for the file's lock; 0: a second.
	Timeout time.Duration
}

// Journal is an open journal file. Its methods may be called from any
// goroutine.
type Journal struct {
	db   *bolt.DB
	file *os.File // db's, for reading
	path string

	mu      sync.Mutex
	more    *sync.Cond // queue or closing changed
	queue   []*job
	closing bool
	stopped chan struct{} // closed when the writer is done

	closeOnce sync.Once
	closeErr  error
}

// Open opens the journal at path, making it (mode 0600) if it is not there.
// The folder must exist. One process can have it open; another waits for
// Options.Timeout and gets [ErrLocked].
func Open(path string, o Options) (j *Journal, err error) {
	if o.Timeout <= 0 {
		o.Timeout = time.Second // bbolt takes 0 for "wait for ever"
	}
	defer func() {
		if err != nil {
			j, err = nil, fmt.Errorf("open journal %s: %w", path, err)
		}
	}()
	defer caught(&err)()
	_, statErr := os.Stat(path)
	db, file, err := openBolt(path, &bolt.Options{
		Timeout:      o.Timeout,
		NoSync:       o.NoSync,
		FreelistType: bolt.FreelistMapType,
	})
	if err != nil {
		return nil, err
	}
	defer func() {
		if j == nil {
			err = errors.Join(err, db.Close())
		}
	}()
	if err := initialize(db); err != nil {
		return nil, err
	}
	if errors.Is(statErr, fs.ErrNotExist) && !o.NoSync {
		// Without this a power loss could take the whole new file away.
		if err := syncDir(filepath.Dir(path)); err != nil {
			return nil, err
		}
	}
	db.AllocSize = growBy
	j = &Journal{db: db, file: file, path: path, stopped: make(chan struct{})}
	j.more = sync.NewCond(&j.mu)
	go j.write()
	return j, nil
}

// openError names bbolt's errors in ours.
func openError(err error) error {
	switch {
	case errors.Is(err, bolterr.ErrTimeout):
		return ErrLocked
	case errors.Is(err, bolterr.ErrInvalid), errors.Is(err, bolterr.ErrVersionMismatch),
		errors.Is(err, bolterr.ErrChecksum), errors.Is(err, bolterr.ErrInvalidMapping):
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	return err
}

// initialize lays out an empty file and refuses a format that is not ours. A
// process killed in between leaves a file without buckets, which is empty.
func initialize(db *bolt.DB) error {
	empty, err := false, error(nil)
	err = db.View(func(btx *bolt.Tx) error {
		if k, _ := btx.Cursor().First(); k == nil {
			empty = true
			return nil
		}
		return checkFormat(btx)
	})
	if err != nil {
		return err
	}
	if !empty {
		return upgrade(db)
	}
	clinic, err := newSubject()
	if err != nil {
		return err
	}
	contactKey := make([]byte, 32)
	rand.Read(contactKey)
	return db.Update(func(btx *bolt.Tx) error {
		for _, name := range bucketNames {
			if _, err := btx.CreateBucket(name); err != nil {
				return fmt.Errorf("make bucket %s: %w", name, err)
			}
		}
		meta := btx.Bucket(bucketNames[inMeta])
		return errors.Join(
			meta.Put(keyFormat, binary.BigEndian.AppendUint32(nil, formatVersion)),
			meta.Put(keyHead, head{}.marshal()),
			meta.Put(keyContact, contactKey),
			btx.Bucket(bucketNames[inSubjects]).Put([]byte(keyClinic), clinic.fresh),
		)
	})
}

func checkFormat(btx *bolt.Tx) error {
	meta := btx.Bucket(bucketNames[inMeta])
	if meta == nil {
		return fmt.Errorf("%w: no journal in this file", ErrFormat)
	}
	v := meta.Get(keyFormat)
	if len(v) != 4 {
		return fmt.Errorf("%w: no format version in this file", ErrFormat)
	}
	n := formatOf(btx)
	if n < oldestFormat || n > formatVersion {
		return fmt.Errorf("%w: version %d, this program reads %d to %d", ErrFormat, n, oldestFormat, formatVersion)
	}
	for id, name := range bucketNames {
		if btx.Bucket(name) == nil && (n == formatVersion || bucketID(id) < firstDerived) {
			return fmt.Errorf("%w: bucket %s is missing", ErrDamaged, name)
		}
	}
	return nil
}

// formatOf is the version of a file whose meta has one.
func formatOf(btx *bolt.Tx) uint32 {
	return binary.BigEndian.Uint32(btx.Bucket(bucketNames[inMeta]).Get(keyFormat))
}

// upgrade takes over a file of an older version: the events stay as they are,
// and everything derived is made anew from them. One commit: a process that is
// killed meanwhile leaves the old file.
func upgrade(db *bolt.DB) error {
	old := false
	err := db.View(func(btx *bolt.Tx) error {
		old = formatOf(btx) != formatVersion
		return nil
	})
	if err != nil || !old {
		return err
	}
	return db.Update(func(btx *bolt.Tx) error {
		c := newCore(btx)
		if err := c.rebuild(filepath.Dir(db.Path())); err != nil {
			return fmt.Errorf("upgrade: %w", err)
		}
		return c.in(inMeta).Put(keyFormat, binary.BigEndian.AppendUint32(nil, formatVersion))
	})
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("sync folder: %w", err)
	}
	if err := errors.Join(d.Sync(), d.Close()); err != nil {
		return fmt.Errorf("sync folder: %w", err)
	}
	return nil
}

// Close waits for the updates in the queue and closes the file. Later calls
// return what the first did. It must not be called inside an update or view.
func (j *Journal) Close() error {
	j.closeOnce.Do(func() {
		j.mu.Lock()
		j.closing = true
		j.mu.Unlock()
		j.more.Broadcast()
		<-j.stopped
		if err := j.db.Close(); err != nil {
			j.closeErr = fmt.Errorf("close journal: %w", err)
		}
	})
	return j.closeErr
}

// View runs fn over the journal as it is now; updates go on meanwhile. A view
// inside an update, or one that stays open long, holds up the file's growth:
// copy out what is needed and return.
func (j *Journal) View(fn func(*Tx) error) error {
	err := j.db.View(func(btx *bolt.Tx) error {
		return fn(&Tx{c: newCore(btx)})
	})
	if errors.Is(err, bolterr.ErrDatabaseNotOpen) {
		return fmt.Errorf("view: %w", ErrClosed)
	}
	return err
}
