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

// createFile writes a file that is not there yet, whole or not at all. The
// error is fs.ErrExist if there is one.
func createFile(path string, data []byte, mode fs.FileMode) error {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return plainError(err)
	}
	f, err := os.CreateTemp(dir, ".stepgate-*.tmp")
	if err != nil {
		return bare(err)
	}
	defer os.Remove(f.Name())
	_, err = f.Write(data)
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
