package config

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
)

// keptName is the file in the data folder that holds what reading the files of
// enrollments gave, so that a start need not read them all again. Nothing in it
// counts for a file whose bytes are not those it was made of. It may be deleted
// at any time.
const keptName = "enrollments.kept"

// keptNew is the same while it is being written.
const keptNew = keptName + ".new"

// keptMagic is how it begins; the number is that of the file's own order, which
// is: this line; the length of the table in 8 bytes; the table; its SHA-256; the
// parts one after the other. The table is the key of 32 bytes (see [keptKey]), a
// count, and for every part the length of its path, the path, the SHA-256 of the
// file it was made of, its length and its own SHA-256. Numbers in it are varints.
const keptMagic = "stepgate enrollments kept, 1\n"

// keptPart is what reading one file gave.
type keptPart struct {
	path   string
	hash   [sha256.Size]byte // of the file's bytes
	sum    [sha256.Size]byte // of the packed bytes
	size   int
	from   int64  // where in the kept file it lies, if packed is nil
	packed []byte // not on the disk yet
}

// keptFile is one that is open.
type keptFile struct {
	f     *os.File
	parts map[string]keptPart // by path
}

// Why what was kept is not used.
var (
	errKeptNone    = errors.New("there is none")
	errKeptDamaged = errors.New("it is damaged")
	errKeptOther   = errors.New("it is of another version of the program, or the clinic's zone or language was another")
	errKeptOpen    = errors.New("other users of this machine may get at it")
)

// openKept opens what is kept in a data folder, if it has the key.
func openKept(data string, key [sha256.Size]byte) (*keptFile, error) {
	f, err := os.Open(filepath.Join(data, keptName))
	if err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return nil, errKeptNone
		}
		return nil, plainError(err)
	}
	k, err := readKept(f, key)
	if err != nil {
		_ = f.Close() // read only
		return nil, err
	}
	return k, nil
}

func readKept(f *os.File, key [sha256.Size]byte) (*keptFile, error) {
	info, err := f.Stat()
	switch {
	case err != nil:
		return nil, plainError(err)
	case !info.Mode().IsRegular():
		return nil, errKeptDamaged
	case info.Mode().Perm()&0o077 != 0:
		return nil, errKeptOpen
	}
	lead := make([]byte, len(keptMagic)+8)
	if _, err := io.ReadFull(f, lead); err != nil {
		return nil, errKeptDamaged
	}
	if string(lead[:len(keptMagic)]) != keptMagic {
		return nil, errKeptOther
	}
	size := binary.BigEndian.Uint64(lead[len(keptMagic):])
	if size > uint64(info.Size()) {
		return nil, errKeptDamaged
	}
	table := make([]byte, size+sha256.Size)
	if _, err := io.ReadFull(f, table); err != nil {
		return nil, errKeptDamaged
	}
	table, sum := table[:size], table[size:]
	if own := sha256.Sum256(table); !bytes.Equal(own[:], sum) || len(table) < len(key) {
		return nil, errKeptDamaged
	}
	if !bytes.Equal(table[:len(key)], key[:]) {
		return nil, errKeptOther
	}
	k := &keptFile{f: f, parts: map[string]keptPart{}}
	return k, k.readTable(table[len(key):], int64(len(lead))+int64(size)+sha256.Size, info.Size())
}

// readTable reads the table of the parts, which lie from a place on and fill
// the file.
func (k *keptFile) readTable(table []byte, from, end int64) error {
	bad := false
	number := func() int {
		n, size := binary.Uvarint(table)
		if size <= 0 || n > 1<<32 {
			bad = true
			return 0
		}
		table = table[size:]
		return int(n)
	}
	take := func(n int) (out []byte) {
		if bad = bad || n > len(table); !bad {
			out, table = table[:n], table[n:]
		}
		return out
	}
	for left := number(); left > 0 && !bad; left-- {
		p := keptPart{path: string(take(number())), from: from}
		copy(p.hash[:], take(len(p.hash)))
		p.size = number()
		copy(p.sum[:], take(len(p.sum)))
		from += int64(p.size)
		k.parts[p.path] = p
	}
	if bad || len(table) > 0 || from != end {
		return errKeptDamaged
	}
	return nil
}

// bytes are those of a part, if they are what was written.
func (k *keptFile) bytes(p keptPart) ([]byte, error) {
	if p.packed != nil {
		return p.packed, nil
	}
	b := make([]byte, p.size)
	if _, err := k.f.ReadAt(b, p.from); err != nil || sha256.Sum256(b) != p.sum {
		return nil, errKeptDamaged
	}
	return b, nil
}

func (k *keptFile) close() {
	if k != nil {
		_ = k.f.Close() // read only
	}
}

// write puts a new kept file into a data folder, of these parts. The one before
// stays until it is whole and on the disk.
func (k *keptFile) write(data string, key [sha256.Size]byte, parts []keptPart) (err error) {
	table := binary.AppendUvarint(key[:], uint64(len(parts)))
	for _, p := range parts {
		table = append(binary.AppendUvarint(table, uint64(len(p.path))), p.path...)
		table = binary.AppendUvarint(append(table, p.hash[:]...), uint64(p.size))
		table = append(table, p.sum[:]...)
	}
	sum := sha256.Sum256(table)
	aside := filepath.Join(data, keptNew)
	if err := remove(aside); err != nil { // of one who was killed here
		return err
	}
	f, err := os.OpenFile(aside, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(aside) // also on a full disk, where it takes the room
		}
	}()
	lead := append(binary.BigEndian.AppendUint64([]byte(keptMagic), uint64(len(table))), table...)
	_, err = f.Write(append(lead, sum[:]...))
	for _, p := range parts {
		var b []byte
		if err == nil {
			b, err = k.bytes(p)
		}
		if err == nil {
			_, err = f.Write(b)
		}
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err := os.Rename(aside, filepath.Join(data, keptName)); err != nil {
		return err
	}
	return syncFolder(data)
}

func remove(path string) error {
	if err := os.Remove(path); !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// keptKey is what the reading of a file depends on besides its bytes: this very
// program, and the clinic's language and zone.
func keptKey(language, zone string) ([sha256.Size]byte, error) {
	program, err := programHash()
	if err != nil {
		return program, err
	}
	return sha256.Sum256(fmt.Appendf(nil, "%d\x00%x\x00%s\x00%s", packVersion, program, language, zone)), nil
}

// programHash is the hash of the program that runs. A version alone would not
// tell two builds of a tree that is being worked on apart.
var programHash = sync.OnceValues(func() (sum [sha256.Size]byte, err error) {
	f, err := os.Open("/proc/self/exe") // the one that runs, also after another took its place
	if err != nil {
		path, perr := os.Executable()
		if perr != nil {
			return sum, perr
		}
		if f, err = os.Open(path); err != nil {
			return sum, err
		}
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return sum, err
	}
	return [sha256.Size]byte(h.Sum(nil)), nil
})
