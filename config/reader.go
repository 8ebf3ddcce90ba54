package config

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
)

// keptLeast is how many patients a clinic has before what reading gave is kept:
// fewer are read in a quarter of a second, and their names need not lie in one
// more file. Ours.
const keptLeast = 5000

// Reader reads a clinic's folder as a service does, which starts again with many
// patients and few changes: it keeps in the data folder what reading the files of
// enrollments gave, and reads only those whose bytes are others. It gives what
// [Load] gives, but that the files of enrollments have no Data: see [File.Read].
type Reader struct {
	Dir    string
	Getenv func(string) string
	Least  int // patients from which on something is kept; 0: the usual

	mu   sync.Mutex
	last *keeping // of the reading that was not kept yet; nil: none
}

// Kept says of a reading where its patients come from.
type Kept struct {
	Used, Read int    // files of enrollments: taken from what was kept, and read
	Why        string // what was kept is not used; "": it is, or there is none
}

// Load reads the folder.
func (r *Reader) Load() (*Clinic, Problems, Kept) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.last.close()
	r.last = nil
	l, ok := newLoader(r.Dir, r.Getenv)
	if !ok {
		return nil, l.sorted(), Kept{}
	}
	if !l.thereIs(r.Dir) {
		return nil, l.sorted(), Kept{}
	}
	k := &keeping{next: map[string]keptPart{}}
	l.kept = k
	c, problems := l.load(l.readFolder())
	if c == nil {
		k.close()
	} else {
		k.files, k.patients, k.language, k.zone = c.Files, c.Enrollments.Len(), c.Language, c.Zone.String()
		r.last = k
	}
	return c, problems, k.news
}

// Keep keeps what the last reading gave, which was accepted. A clinic that comes
// from elsewhere is none of its business.
func (r *Reader) Keep(c *Clinic) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.last == nil || len(c.Files) == 0 || &c.Files[0] != &r.last.files[0] {
		return nil
	}
	err := r.last.keep(cmp.Or(r.Least, keptLeast))
	r.last.close()
	r.last = nil
	if err != nil {
		return fmt.Errorf("keep what was read: %w", bare(err))
	}
	return nil
}

// Forget takes away what is kept in a data folder unless every part of it is of
// one of these files: those who are in none of them are then not in it either.
// With no files it always goes.
func Forget(data string, files []File) error {
	err := remove(filepath.Join(data, keptNew))
	path := filepath.Join(data, keptName)
	if !keptOf(path, files) {
		err = errors.Join(err, remove(path))
	}
	if err != nil {
		return fmt.Errorf("forget what was read: %w", err)
	}
	return nil
}

// keptOf tells whether what is kept is of these files alone.
func keptOf(path string, files []File) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	key := make([]byte, sha256.Size)
	_, err = f.ReadAt(key, int64(len(keptMagic)+8))
	if err != nil {
		return false
	}
	k, err := readKept(f, [sha256.Size]byte(key)) // whichever program's it is
	if err != nil {
		return false
	}
	for _, p := range k.parts {
		if !slices.ContainsFunc(files, func(f File) bool { return f.Path == p.path && f.Hash == hex.EncodeToString(p.hash[:]) }) {
			return false
		}
	}
	return true
}

// Read gives what is in the file, from the disk where it was left there. The
// error is [ErrChanged] if it is no longer what was read.
func (f File) Read() ([]byte, error) {
	if f.at == "" {
		return f.Data, nil
	}
	data, err := readPlain(f.at)
	if err != nil {
		return nil, err
	}
	if NewFile(f.Path, data).Hash != f.Hash {
		return nil, ErrChanged
	}
	return data, nil
}

// keeping is what one reading of a folder takes from an earlier one, and gathers
// for the next.
type keeping struct {
	data string
	key  [sha256.Size]byte

	// Of the clinic that was read, which itself may be refused and is then let go of.
	files          []File
	patients       int
	language, zone string

	mu   sync.Mutex
	old  *keptFile // nil: none, or not to be used
	next map[string]keptPart
	news Kept
}

// open opens what is kept, once the settings are known.
func (k *keeping) open(l *loader) {
	if l.settingsBad || l.clinic.Data == "" {
		return
	}
	k.data = l.clinic.Data
	if _, err := os.Lstat(filepath.Join(k.data, keptName)); errors.Is(err, os.ErrNotExist) {
		return
	}
	var err error
	if k.key, err = keptKey(l.language, l.zone.String()); err == nil {
		k.old, err = openKept(k.data, k.key)
	}
	if err != nil && !errors.Is(err, errKeptNone) {
		k.news.Why = err.Error()
	}
}

func (k *keeping) close() {
	if k != nil {
		k.old.close()
	}
}

// read reads one file, or takes what reading these very bytes gave before. What
// is in the file is let go of again: a clinic may have very many.
func (k *keeping) read(r *reading, f *File) {
	data, err := readPlain(f.at)
	if err != nil {
		r.broken = f.Path
		r.unreadFile(f.Path, err)
		return
	}
	hash := sha256.Sum256(data)
	f.Hash = hex.EncodeToString(hash[:])
	if k.take(r, f.Path, hash) {
		return
	}
	whole := *r
	whole.file(File{Path: f.Path, Hash: f.Hash, Data: data})
	var packed []byte
	if len(whole.list.Errors()) == 0 {
		packed = whole.pack(f.Path)
	}
	k.count(func() { k.news.Read++ })
	if packed == nil || r.unpack(f.Path, packed) != nil {
		*r = whole
		return
	}
	// Packed and unpacked again, they are what the next start will have.
	k.count(func() {
		k.next[f.Path] = keptPart{path: f.Path, hash: hash, sum: sha256.Sum256(packed), size: len(packed), packed: packed}
	})
}

// take takes what was kept of a file.
func (k *keeping) take(r *reading, path string, hash [sha256.Size]byte) bool {
	if k.old == nil {
		return false
	}
	p, there := k.old.parts[path]
	if !there || p.hash != hash {
		return false
	}
	packed, err := k.old.bytes(p)
	was := *r
	if err == nil {
		err = r.unpack(path, packed)
	}
	if err != nil {
		*r = was
		k.count(func() { k.news.Why = errKeptDamaged.Error() })
		return false
	}
	k.count(func() {
		k.news.Used++
		k.next[path] = p
	})
	return true
}

func (k *keeping) count(fn func()) {
	k.mu.Lock()
	defer k.mu.Unlock()
	fn()
}

// keep writes what was gathered, if there is something new in it.
func (k *keeping) keep(least int) error {
	if k.patients < least {
		return Forget(k.data, nil)
	}
	if err := remove(filepath.Join(k.data, keptNew)); err != nil {
		return err
	}
	same := k.old != nil && len(k.old.parts) == len(k.next)
	parts := make([]keptPart, 0, len(k.next))
	for _, p := range k.next {
		same = same && p.packed == nil
		parts = append(parts, p)
	}
	if same {
		return nil
	}
	if k.old == nil {
		var err error
		if k.key, err = keptKey(k.language, k.zone); err != nil {
			return err
		}
	}
	slices.SortFunc(parts, func(a, b keptPart) int { return cmp.Compare(a.path, b.path) })
	return k.old.write(k.data, k.key, parts)
}
