package config

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"stepgate/rules"
)

// The names in a clinic's folder.
const (
	settingsFile     = "stepgate.yaml"
	programFolder    = "programs"
	enrollmentsFile  = "enrollments.yaml"
	enrollmentFolder = "enrollments"
)

// Folders are the folders that a clinic's files lie in, the clinic's own first.
// The others need not be there.
func Folders(dir string) []string {
	return []string{dir, filepath.Join(dir, programFolder), filepath.Join(dir, enrollmentFolder)}
}

// Hashes are the hashes of a clinic's files by their path, to tell whether any
// changed. A file or folder that can't be read has none ("").
func Hashes(dir string) map[string]string {
	l, ok := newLoader(dir, nil)
	if !ok {
		return nil
	}
	l.lean = true
	hashes := map[string]string{}
	for _, f := range l.readFolder() {
		hashes[f.Path] = f.Hash
	}
	for name := range l.broken {
		hashes[name] = ""
	}
	return hashes
}

// readFolder reads the files of a clinic's folder and marks those it can't
// read as broken, so that nothing else is blamed for their absence.
func (l *loader) readFolder() []File {
	var files []File
	take := func(name string) {
		if l.kept != nil && isPatients(name) {
			files = append(files, File{Path: name, at: l.at(name)}) // see [keeping.read]
			return
		}
		data, err := readPlain(l.at(name))
		if err != nil {
			l.broken[name] = true
			l.unreadFile(name, err)
			return
		}
		f := NewFile(name, data)
		if l.lean {
			f.Data = nil
		}
		files = append(files, f)
	}
	for _, name := range []string{settingsFile, enrollmentsFile} {
		if _, err := os.Lstat(filepath.Join(l.clinic.Dir, name)); !errors.Is(err, fs.ErrNotExist) {
			take(name)
		}
	}
	for _, folder := range []string{programFolder, enrollmentFolder} {
		entries, err := os.ReadDir(filepath.Join(l.clinic.Dir, folder))
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			l.broken[folder] = true
			l.wrong(rules.Pos{File: folder}, "the folder can't be read: "+plainError(err).Error(), "make it a folder that the daemon may read")
		}
		for _, e := range entries {
			name := path.Join(folder, e.Name())
			switch {
			case wanted(name):
				take(name)
			case strings.HasSuffix(name, ".yml") && !strings.HasPrefix(e.Name(), "."):
				l.warn(rules.Pos{File: name}, "the file is not read", "let its name end in .yaml")
			}
		}
	}
	return files
}

// at is where a file lies on this machine.
func (l *loader) at(name string) string {
	return filepath.Join(l.clinic.Dir, filepath.FromSlash(name))
}

// unreadFile notes a file that can't be read.
func (n *notes) unreadFile(name string, err error) {
	n.wrong(rules.Pos{File: name}, "the file can't be read: "+err.Error(), "make it a plain file that the daemon may read")
}

// isPatients tells a file of enrollments.
func isPatients(name string) bool {
	return name == enrollmentsFile || strings.HasPrefix(name, enrollmentFolder+"/")
}

// NewFile makes a file of its path, relative to the clinic's folder and with
// slashes, and what is in it.
func NewFile(name string, data []byte) File {
	sum := sha256.Sum256(data)
	return File{Path: name, Hash: hex.EncodeToString(sum[:]), Data: data}
}

// wanted tells whether a file is one of the clinic's: hidden files, what
// editors leave behind (name~, #name#) and rule cases are not.
func wanted(name string) bool {
	folder, base := path.Split(name)
	if isCases(name) {
		return false
	}
	switch folder {
	case "":
		return base == settingsFile || base == enrollmentsFile
	case programFolder + "/", enrollmentFolder + "/":
		return strings.HasSuffix(base, ".yaml") && !strings.HasPrefix(base, ".") && !strings.HasPrefix(base, "#")
	}
	return false
}

// readPlain reads a plain file, and a little more than the most it may hold
// so that a longer one shows. Its errors name no path.
func readPlain(file string) ([]byte, error) {
	info, err := os.Stat(file) // first: opening a pipe would wait for its writer
	if err != nil {
		return nil, plainError(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("it is not a plain file")
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, plainError(err)
	}
	defer f.Close()
	// Room for all of it at once, and for what tells that no more follows.
	data := bytes.NewBuffer(make([]byte, 0, min(info.Size(), maxFile)+bytes.MinRead))
	if _, err := data.ReadFrom(io.LimitReader(f, maxFile+1)); err != nil {
		return nil, plainError(err)
	}
	return data.Bytes(), nil
}
