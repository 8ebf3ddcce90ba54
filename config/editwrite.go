package config

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// Write puts the edit into its file: a new file beside it, synced and then
// renamed over it, with the same mode and owner. A link stays one. The error
// is [ErrChanged] if the file is not what it was before any more; the file is
// left alone then, and on any other error that does not say it is written. Of
// several programs that write in a folder at once each waits for the others, so
// that none takes back what another wrote.
func (e *Edit) Write() error {
	if err := e.write(); err != nil {
		return fmt.Errorf("edit %s: %w", filepath.Base(e.Path), err)
	}
	return nil
}

func (e *Edit) write() error {
	if e.New {
		err := createFile(e.Path, e.After, e.like)
		if errors.Is(err, fs.ErrExist) {
			return ErrChanged
		}
		return err
	}
	path, err := filepath.EvalSymlinks(e.Path)
	if err != nil {
		return plainError(err)
	}
	unlock, err := lockFolder(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer unlock()
	info, err := writable(path)
	if err != nil {
		return fmt.Errorf("the file is not writable: %w", err)
	}
	aside, err := e.aside(filepath.Dir(path), info)
	if err != nil {
		return fmt.Errorf("no file can be written beside it: %w", bare(err))
	}
	err = e.unchanged(path) // as late as can be: an editor knows of no lock
	if err == nil {
		if err = os.Rename(aside, path); err != nil {
			err = fmt.Errorf("the file is not writable: %w", bare(err))
		}
	}
	if err != nil {
		os.Remove(aside)
		return err
	}
	if err := syncFolder(filepath.Dir(path)); err != nil {
		return fmt.Errorf("the file is written, but may not outlast a power cut: %w", bare(err))
	}
	return nil
}

// writable looks whether a file is one that may be written. A rename would
// not ask.
func writable(path string) (fs.FileInfo, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, plainError(err)
	case !info.Mode().IsRegular():
		return nil, errors.New("it is not a plain file")
	case info.Mode().Perm()&0o222 == 0:
		return nil, errors.New("it is write-protected")
	}
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return nil, plainError(err)
	}
	return info, f.Close()
}

// unchanged looks whether a file is still what it was before the edit.
func (e *Edit) unchanged(path string) error {
	now, err := os.ReadFile(path)
	if err != nil {
		return plainError(err)
	}
	if !bytes.Equal(now, e.Before) {
		return ErrChanged
	}
	return nil
}

// aside writes the new file beside the old one. Its name is none that is read
// as one of the clinic's.
func (e *Edit) aside(dir string, like fs.FileInfo) (path string, err error) {
	f, err := os.CreateTemp(dir, ".stepgate-*.tmp")
	if err != nil {
		return "", err
	}
	defer func() {
		err = errors.Join(err, f.Close())
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	if _, err := f.Write(e.After); err != nil {
		return "", err
	}
	if err := sameOwner(f, like); err != nil {
		return "", err
	}
	if err := f.Chmod(like.Mode().Perm()); err != nil { // last: a change of owner may take rights away
		return "", err
	}
	return f.Name(), f.Sync()
}

// sameOwner gives a file the owner and group of another. The owner may be
// lost where the group may write: whoever could edit the file still can.
func sameOwner(f *os.File, like fs.FileInfo) error {
	was, ok := like.Sys().(*syscall.Stat_t)
	if !ok {
		return nil
	}
	err := f.Chown(int(was.Uid), int(was.Gid))
	if err != nil && like.Mode().Perm()&0o020 != 0 {
		err = f.Chown(-1, int(was.Gid))
	}
	if err != nil {
		return errors.New("its owner can't be kept")
	}
	return nil
}

// bare is an error without the paths it names.
func bare(err error) error {
	if pe, ok := errors.AsType[*fs.PathError](err); ok {
		return pe.Err
	}
	if le, ok := errors.AsType[*os.LinkError](err); ok {
		return le.Err
	}
	return err
}

// syncFolder makes a rename in a folder last.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	return d.Sync()
}
