package config

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// schemaFolder is where a clinic's folder keeps the schemas for editors.
const schemaFolder = "schemas"

// modeline is the line that shows editors a file's schema; "" where the folder
// has none.
func modeline(dir, file, kind string) string {
	if _, err := os.Stat(filepath.Join(dir, schemaFolder, kind+".json")); err != nil {
		return ""
	}
	return schemaLine(file, kind)
}

// schemaLine is the same, wherever the schema is.
func schemaLine(file, kind string) string {
	up := strings.Repeat("../", strings.Count(file, "/"))
	return "# yaml-language-server: $schema=" + up + schemaFolder + "/" + kind + ".json\n\n"
}

// neighbor is a file of the clinic's that a new one of enrollments is to be
// like: whoever reads the others is to read it too, and nobody else. It is one
// of enrollments where there is one, or else the settings; nil for none.
func (c *Clinic) neighbor() fs.FileInfo {
	like := settingsFile
	for _, f := range c.Files {
		if f.Path == enrollmentsFile || strings.HasPrefix(f.Path, enrollmentFolder+"/") {
			like = f.Path
		}
	}
	info, err := os.Stat(filepath.Join(c.Dir, filepath.FromSlash(like)))
	if err != nil {
		return nil
	}
	return info
}

// createFile writes a file that is not there yet, whole or not at all. The
// error is fs.ErrExist if there is one. It holds names and numbers of people: only
// the owner can read it and a folder made for it, or, with like, whoever can read
// that file.
func createFile(path string, data []byte, like fs.FileInfo) error {
	dir := filepath.Dir(path)
	if err := newFolder(dir, like); err != nil {
		return plainError(err)
	}
	f, err := os.CreateTemp(dir, ".stepgate-*.tmp") // mode 0600
	if err != nil {
		return bare(err)
	}
	defer os.Remove(f.Name())
	_, err = f.Write(data)
	mode := fs.FileMode(0o600)
	if like != nil {
		mode = like.Mode().Perm()
		err = errors.Join(err, sameOwner(f, like))
	}
	if err = errors.Join(err, f.Chmod(mode), f.Sync(), f.Close()); err != nil {
		return bare(err)
	}
	// A link, not a rename, which would go over a file that is there.
	if err := os.Link(f.Name(), path); err != nil {
		if _, there := os.Lstat(path); there == nil {
			return fs.ErrExist
		}
		if err := createPlainly(path, data, mode); err != nil { // a disk without links
			return err
		}
	}
	return syncFolder(dir)
}

// newFolder makes the folder of a new file, where it is not there. Whoever can
// read the file it is to be like can look into it.
func newFolder(dir string, like fs.FileInfo) error {
	if _, err := os.Stat(dir); err == nil || like == nil {
		return os.MkdirAll(dir, 0o700)
	}
	mode := like.Mode().Perm() | 0o700
	mode |= mode & 0o044 >> 2
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(sameOwner(d, like), d.Chmod(mode), d.Close())
}

// createPlainly writes a new file in place.
func createPlainly(path string, data []byte, mode fs.FileMode) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return bare(err)
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		os.Remove(path)
		return bare(err)
	}
	return nil
}
